//! Where the roles without a desk begin: what they can do now, and where.

use maud::{Markup, html};
use quietbeam_schema::access::{Action, Role, Scope};

use super::components::{Link, Word, role_word};
use super::frame::Page;

/// Where something is done today.
enum Where {
    /// On a page.
    Page(&'static str),
    /// At the command line of the server, or through the API.
    Command(&'static str),
}

/// What can be done, in the words of the work.
struct Task {
    needs: Action,
    title: &'static str,
    how: &'static str,
    place: Where,
}

const fn task(needs: Action, title: &'static str, how: &'static str, place: Where) -> Task {
    Task { needs, title, how, place }
}

use Where::{Command, Page as On};

const TASKS: &[Task] = &[
    task(Action::ReadCase, "Read cases", "Each with its questions and what its rules derive.", On("/cases")),
    task(
        Action::ReadScreeningLog,
        "Read the screening log",
        "How many were performed, eligible and sent in, by quarter.",
        On("/screening-log"),
    ),
    task(
        Action::TakeDataCut,
        "Freeze a data cut",
        "What is compared later is fixed first.",
        Command("quietbeam cut take"),
    ),
    task(
        Action::RunComparison,
        "Compare on a data cut",
        "With margins that were fixed beforehand.",
        Command("quietbeam compare"),
    ),
    task(
        Action::DraftSummary,
        "Compose a safety summary",
        "From a data cut; small counts are hidden.",
        Command("quietbeam summary draft"),
    ),
    task(
        Action::ApproveSummary,
        "Approve a safety summary",
        "Another member publishes it.",
        Command("quietbeam summary approve"),
    ),
    task(
        Action::PublishSummary,
        "Publish a safety summary",
        "Once a monitor has approved it.",
        Command("quietbeam summary publish"),
    ),
    task(
        Action::ManageMembers,
        "Members",
        "Who belongs to the network, in which role, and who may sign in.",
        On("/members"),
    ),
    task(
        Action::ManageCentres,
        "Centres and rooms",
        "With the unit that each console shows.",
        On("/centres"),
    ),
];

/// The starting page of a role.
pub(super) fn starting(role: Role) -> Page {
    let tasks: Vec<&Task> = TASKS.iter().filter(|task| role.scope(task.needs) != Scope::No).collect();
    let content = html! {
        div.title { h1 { "What you can do" } }
        p.lead { "You are signed in as " (article(role)) ". No patient's name, date or number stands anywhere in this registry." }
        ul.can-do {
            @for task in tasks { li { (title(task)) (how(task)) } }
            li { a href="/summaries" { "Published safety summaries" } span { "As everyone sees them." } }
        }
    };
    Page { title: "What you can do".to_owned(), word: Some(Word::Desk), content }
}

fn title(task: &Task) -> Markup {
    match task.place {
        On(address) => html! { (Link::new(address, task.title)) },
        Command(_) => html! { span { (task.title) } },
    }
}

fn how(task: &Task) -> Markup {
    html! {
        span {
            (task.how)
            @if let Command(command) = task.place {
                " At the command line: " code { (command) } ", or through " a href="/api/v1/" { "the API" } "."
            }
        }
    }
}

fn article(role: Role) -> String {
    let word = role_word(role).to_lowercase();
    match role {
        Role::Society => "a member of the society".to_owned(),
        Role::Adjudicator | Role::Investigator | Role::Administrator => format!("an {word}"),
        _ => format!("a {word}"),
    }
}
