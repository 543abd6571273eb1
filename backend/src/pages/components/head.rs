//! The head of every page: the mark, the place, who is signed in, and the words that lead
//! elsewhere. A word stands there for whoever may read what it leads to, and for nobody else.

use maud::{Markup, Render, html};
use quietbeam_schema::access::{Action, Role, Scope};

use crate::pages::frame::Waiting;

/// A page that the navigation leads to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Word {
    /// What waits today.
    Desk,
    /// The cases.
    Cases,
    /// The 30-day contacts.
    FollowUp,
    /// The questions about cases.
    DataQueries,
    /// The denominators.
    ScreeningLog,
    /// What the centre's own data say.
    OurPicture,
    /// Harm beside what is expected.
    Watching,
    /// Events before their judges.
    Adjudication,
    /// What was fixed before the comparison.
    Plans,
    /// Frozen data.
    DataCuts,
    /// What came out.
    Comparisons,
    /// Safety summaries on their way to the public.
    Releases,
    /// Who belongs to the network.
    Members,
    /// Where it works.
    Centres,
}

impl Word {
    /// All words in the order of the work.
    pub(crate) const ALL: [Word; 14] = [
        Word::Desk,
        Word::Cases,
        Word::FollowUp,
        Word::DataQueries,
        Word::ScreeningLog,
        Word::OurPicture,
        Word::Watching,
        Word::Adjudication,
        Word::Plans,
        Word::DataCuts,
        Word::Comparisons,
        Word::Releases,
        Word::Members,
        Word::Centres,
    ];

    /// As read.
    fn label(self) -> &'static str {
        match self {
            Word::Desk => "Desk",
            Word::Cases => "Cases",
            Word::FollowUp => "Follow-up",
            Word::DataQueries => "Data queries",
            Word::ScreeningLog => "Screening log",
            Word::OurPicture => "Our picture",
            Word::Watching => "Watching",
            Word::Adjudication => "Events to judge",
            Word::Plans => "Plans",
            Word::DataCuts => "Data cuts",
            Word::Comparisons => "Comparisons",
            Word::Releases => "Releases",
            Word::Members => "Members",
            Word::Centres => "Centres",
        }
    }

    /// Where it leads.
    fn address(self) -> &'static str {
        match self {
            Word::Desk => "/desk",
            Word::Cases => "/cases",
            Word::FollowUp => "/follow-up",
            Word::DataQueries => "/queries",
            Word::ScreeningLog => "/screening-log",
            Word::OurPicture => "/our-picture",
            Word::Watching => "/watching",
            Word::Adjudication => "/adjudication",
            Word::Plans => "/plans",
            Word::DataCuts => "/data-cuts",
            Word::Comparisons => "/comparisons",
            Word::Releases => "/releases",
            Word::Members => "/members",
            Word::Centres => "/centres",
        }
    }

    /// What somebody must be allowed to do to be led there.
    fn needs(self) -> Action {
        match self {
            Word::Desk => Action::KeepOwnAccount,
            Word::Cases => Action::ReadCase,
            Word::FollowUp => Action::RecordFollowUp,
            Word::DataQueries => Action::ListQueries,
            Word::ScreeningLog => Action::ReadScreeningLog,
            Word::OurPicture => Action::ReadOwnPicture,
            Word::Watching => Action::WatchSafety,
            Word::Adjudication => Action::JudgeEvents,
            Word::Plans => Action::ReadPlans,
            Word::DataCuts => Action::ReadDataCuts,
            Word::Comparisons => Action::ReadComparisons,
            Word::Releases => Action::ReadSummaryDrafts,
            Word::Members => Action::ManageMembers,
            Word::Centres => Action::ManageCentres,
        }
    }

    /// How many things wait behind it.
    fn waiting(self, waiting: Waiting) -> usize {
        match self {
            Word::DataQueries => waiting.queries,
            Word::Desk
            | Word::Cases
            | Word::FollowUp
            | Word::ScreeningLog
            | Word::OurPicture
            | Word::Watching
            | Word::Adjudication
            | Word::Plans
            | Word::DataCuts
            | Word::Comparisons
            | Word::Releases
            | Word::Members
            | Word::Centres => 0,
        }
    }

    /// The words of a role.
    fn of(role: Role) -> impl Iterator<Item = Word> {
        Word::ALL.into_iter().filter(move |word| role.scope(word.needs()) != Scope::No)
    }
}

/// Who is signed in, and where.
pub(crate) struct Head<'a> {
    /// The role.
    pub(crate) role: Role,
    /// The centre's name, or how many centres.
    pub(crate) place: &'a str,
    /// The value that every form carries.
    pub(crate) form_token: &'a str,
    /// What waits.
    pub(crate) waiting: Waiting,
    /// The word of this page.
    pub(crate) current: Option<Word>,
}

/// A role as people say it.
pub(crate) fn role_word(role: Role) -> &'static str {
    match role {
        Role::Coordinator => "Coordinator",
        Role::CentreLead => "Centre lead",
        Role::Monitor => "Monitor",
        Role::Adjudicator => "Adjudicator",
        Role::Investigator => "Investigator",
        Role::Society => "Society",
        Role::Administrator => "Administrator",
    }
}

/// The head of a page that needs no sign-in.
pub(crate) fn public_head(place: &str) -> Markup {
    html! {
        header.head.plain-rule {
            div.column.bar { (brand("/")) span.place { (place) } div.account { (help()) } }
        }
    }
}

impl Render for Head<'_> {
    fn render(&self) -> Markup {
        html! {
            header.head {
                div.column.bar {
                    (brand("/desk"))
                    span.place { (self.place) }
                    div.account {
                        span.quiet { (role_word(self.role)) }
                        a href="/account" { "Account" }
                        (help())
                        form method="post" action="/sign-out" {
                            input type="hidden" name="form_token" value=(self.form_token);
                            button.as-link type="submit" { "Sign out" }
                        }
                    }
                }
            }
            nav.words aria-label="Pages" { div.column { ul { (self.words()) } } }
        }
    }
}

/// How many words a phone shows before the rest goes behind "More"; the narrowest shows one
/// less.
const ON_A_PHONE: usize = 4;

impl Head<'_> {
    fn words(&self) -> Markup {
        let words: Vec<Word> = Word::of(self.role).collect();
        html! {
            @for (at, word) in words.iter().enumerate() {
                li.late[at >= ON_A_PHONE].narrow-late[at + 1 == ON_A_PHONE && words.len() > ON_A_PHONE] { (self.word(*word)) }
            }
            @if words.len() > ON_A_PHONE {
                li.more {
                    details {
                        summary { "More" }
                        ul { @for (at, word) in words[ON_A_PHONE - 1..].iter().enumerate() {
                            li.only-narrow[at == 0] { (self.word(*word)) }
                        } }
                    }
                }
            }
        }
    }

    fn word(&self, word: Word) -> Markup {
        let current = self.current == Some(word);
        let waiting = word.waiting(self.waiting);
        html! {
            a href=(word.address()) aria-current=[current.then_some("page")] {
                (word.label())
                @if waiting > 0 { span.waiting { (waiting) span.unseen { " waiting" } } }
            }
            @if current { (beat()) }
        }
    }
}

fn help() -> Markup {
    html! { a href="/help" { "Help" } }
}

/// The mark is an interval with an open ring as its estimate.
pub(crate) fn brand(to: &str) -> Markup {
    html! {
        a.brand href=(to) {
            svg viewBox="0 0 40 18" width="40" height="18" aria-hidden="true" {
                path d="M1.5 4v10M1.5 9h11.5M27 9h11.5M38.5 4v10" fill="none" stroke="currentColor" stroke-width="2.2" {}
                circle cx="20" cy="9" r="6.4" fill="none" stroke="currentColor" stroke-width="2.6" {}
            }
            "Quietbeam"
        }
    }
}

/// One heartbeat on the rule under the current word.
fn beat() -> Markup {
    html! {
        svg.beat viewBox="0 0 56 22" width="56" height="22" aria-hidden="true" {
            path d="M0 12.5H56" stroke="var(--sheet)" stroke-width="1.4" {}
            path d="M0 12.5h14l4-3.5 4 3.5h3l2 3 3-14 3 18 2-7h4l4-4 4 4h9" fill="none" stroke="currentColor"
                stroke-width="1.5" stroke-linejoin="round" {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_role_sees_the_words_it_may_follow() {
        let labels = |role| Word::of(role).map(Word::label).collect::<Vec<_>>();
        assert_eq!(
            labels(Role::Coordinator),
            ["Desk", "Cases", "Follow-up", "Data queries", "Screening log", "Our picture"]
        );
        assert_eq!(labels(Role::Adjudicator), ["Desk", "Events to judge"]);
        assert_eq!(labels(Role::Administrator), ["Desk", "Members", "Centres"]);
        assert_eq!(labels(Role::Society), ["Desk", "Plans", "Data cuts", "Releases"]);
        assert_eq!(
            labels(Role::Investigator),
            ["Desk", "Cases", "Screening log", "Plans", "Data cuts", "Comparisons"]
        );
    }
}
