//! Where the roles without a desk begin: what they can do now, and where.

use maud::html;
use quietbeam_schema::access::{Action, Role, Scope};

use super::components::{Link, Word, role_word};
use super::frame::Page;

/// What can be done, in the words of the work.
struct Task {
    needs: Action,
    title: &'static str,
    how: &'static str,
    address: &'static str,
}

const fn task(needs: Action, title: &'static str, how: &'static str, address: &'static str) -> Task {
    Task { needs, title, how, address }
}

const TASKS: &[Task] = &[
    task(Action::ReadCase, "Read cases", "Each with its questions and what its rules derive.", "/cases"),
    task(
        Action::ReadScreeningLog,
        "Read the screening log",
        "How many were performed, eligible and sent in, by quarter.",
        "/screening-log",
    ),
    task(
        Action::JudgeEvents,
        "Judge events",
        "How grave each was, without knowing how the case was guided.",
        "/adjudication",
    ),
    task(
        Action::ReadJudgements,
        "See how events were judged",
        "By two people each, and a third where they differ.",
        "/adjudication/progress",
    ),
    task(Action::RegisterPlan, "Write a plan down", "Before anyone looks.", "/plans"),
    task(Action::TakeDataCut, "Freeze a data cut", "What is compared later is fixed first.", "/data-cuts"),
    task(
        Action::RunComparison,
        "Compare on a data cut",
        "With margins that were fixed beforehand.",
        "/comparisons",
    ),
    task(
        Action::DraftSummary,
        "Compose a safety summary",
        "From a data cut; small counts are hidden.",
        "/releases/new",
    ),
    task(
        Action::ApproveSummary,
        "Approve a safety summary",
        "What it says, and what could be learnt from it; another member publishes it.",
        "/releases",
    ),
    task(Action::PublishSummary, "Publish a safety summary", "Once a monitor has approved it.", "/releases"),
    task(
        Action::ManageMembers,
        "Members",
        "Who belongs to the network, in which role, and who may sign in.",
        "/members",
    ),
    task(Action::ManageCentres, "Centres and rooms", "With the unit that each console shows.", "/centres"),
];

/// The starting page of a role.
pub(super) fn starting(role: Role) -> Page {
    let tasks: Vec<&Task> = TASKS.iter().filter(|task| role.scope(task.needs) != Scope::No).collect();
    let content = html! {
        div.title { h1 { "What you can do" } }
        p.lead { "You are signed in as " (article(role)) ". No patient's name, date or number stands anywhere in this registry." }
        ul.can-do {
            @for task in tasks { li { (Link::new(task.address, task.title)) span { (task.how) } } }
            li { a href="/summaries" { "Published safety summaries" } span { "As everyone sees them." } }
        }
    };
    Page { title: "What you can do".to_owned(), word: Some(Word::Desk), content }
}

fn article(role: Role) -> String {
    let word = role_word(role).to_lowercase();
    match role {
        Role::Society => "a member of the society".to_owned(),
        Role::Adjudicator | Role::Investigator | Role::Administrator => format!("an {word}"),
        _ => format!("a {word}"),
    }
}
