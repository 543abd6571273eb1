//! Every address of a page: who may look at it, and one that exists.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use quietbeam_schema::access::Action;

/// Who may look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Who {
    /// Also who has not signed in.
    Everyone,
    /// Whoever the policy gives this action to.
    May(Action),
}

/// A page.
pub(crate) struct Route {
    pub(crate) template: &'static str,
    pub(crate) who: Who,
    /// What it shows belongs to a centre.
    pub(crate) of_centre: bool,
}

impl Route {
    /// The address for a case.
    pub(crate) fn of(&self, code: &str) -> String {
        self.template
            .replace("{code}", code)
            .replace("{number}", "1")
            .replace("{id}", NO_DRAFT)
            .replace("{centre}", "S07")
    }
}

const fn page(template: &'static str, who: Who) -> Route {
    Route { template, who, of_centre: false }
}

const fn of_centre(template: &'static str, action: Action) -> Route {
    Route { template, who: Who::May(action), of_centre: true }
}

use Who::{Everyone, May};

/// A draft, or a question, that never was.
const NO_DRAFT: &str = "01930000-0000-7000-8000-000000000000";

/// What is read.
pub(crate) const PAGES: &[Route] = &[
    page("/", Everyone),
    page("/sign-in", Everyone),
    page("/summaries", Everyone),
    page("/help", Everyone),
    page("/desk", May(Action::KeepOwnAccount)),
    page("/account", May(Action::KeepOwnAccount)),
    page("/cases", May(Action::ReadCase)),
    page("/cases/new", May(Action::SubmitCase)),
    of_centre("/cases/{code}", Action::ReadCase),
    of_centre("/cases/{code}/history", Action::ReadHistory),
    page("/queries", May(Action::ListQueries)),
    of_centre("/cases/{code}/change", Action::ChangeCase),
    page("/follow-up", May(Action::RecordFollowUp)),
    page("/screening-log", May(Action::ReadScreeningLog)),
    page("/our-picture", May(Action::ReadOwnPicture)),
    page("/our-picture/published", May(Action::ReadOwnPicture)),
    page("/watching", May(Action::WatchSafety)),
    page("/adjudication", May(Action::JudgeEvents)),
    page("/adjudication/progress", May(Action::ReadJudgements)),
    page("/plans", May(Action::ReadPlans)),
    page("/plans/new", May(Action::RegisterPlan)),
    page("/plans/outlook", May(Action::RegisterPlan)),
    page("/data-cuts", May(Action::ReadDataCuts)),
    page("/releases", May(Action::ReadSummaryDrafts)),
    page("/releases/new", May(Action::DraftSummary)),
    page("/comparisons", May(Action::ReadComparisons)),
    page("/members", May(Action::ManageMembers)),
    page("/members/new", May(Action::ManageMembers)),
    page("/centres", May(Action::ManageCentres)),
    page("/centres/new", May(Action::ManageCentres)),
    page("/centres/{centre}", May(Action::ManageCentres)),
    page("/centres/{centre}/new-room", May(Action::ManageCentres)),
    of_centre("/centres/{centre}/approvals", Action::ReadCentres),
    page("/imports", May(Action::ImportFiles)),
    page("/case-codes", May(Action::IssueCaseCodes)),
];

/// Forms, and what their page needs.
pub(crate) const FORMS: &[Route] = &[
    page("/sign-in", Everyone),
    page("/sign-out", Everyone),
    page("/account", May(Action::KeepOwnAccount)),
    of_centre("/cases/{code}", Action::AnswerQuery),
    page("/cases/{code}/ask", May(Action::RaiseQuery)),
    page("/queries", May(Action::ListQueries)),
    of_centre("/queries/{id}", Action::ListQueries),
    of_centre("/cases/{code}/change", Action::ChangeCase),
    page("/cases/new", May(Action::SubmitCase)),
    page("/cases/take-out", May(Action::ExportCases)),
    of_centre("/drafts/{id}", Action::SubmitCase),
    of_centre("/screening-log/{centre}/{period}", Action::WriteScreeningLog),
    of_centre("/screening-log/{centre}/{period}/signature", Action::SignScreeningLog),
    page("/follow-up", May(Action::RecordFollowUp)),
    page("/members/new", May(Action::ManageMembers)),
    page("/members/{member}", May(Action::ManageMembers)),
    page("/centres/new", May(Action::ManageCentres)),
    page("/centres/{centre}", May(Action::ManageCentres)),
    page("/centres/{centre}/new-room", May(Action::ManageCentres)),
    page("/centres/{centre}/rooms/{room}", May(Action::ManageCentres)),
    page("/adjudication/{event}", May(Action::JudgeEvents)),
    page("/plans/new", May(Action::RegisterPlan)),
    page("/plans/{id}/amend", May(Action::RegisterPlan)),
    page("/data-cuts", May(Action::TakeDataCut)),
    page("/releases/new", May(Action::DraftSummary)),
    page("/releases/{id}", May(Action::ReadSummaryDrafts)),
    page("/comparisons", May(Action::RunComparison)),
    page("/comparisons/{id}", May(Action::WriteReport)),
    page("/centres/{centre}/approvals", May(Action::ManageCentres)),
    page("/imports", May(Action::ImportFiles)),
    of_centre("/imports/{id}", Action::ImportFiles),
    page("/case-codes", May(Action::IssueCaseCodes)),
];

/// What answers beside pages and forms: it is tested where its content is.
const BESIDE: [&str; 26] = [
    "/adjudication/{event}",
    "/cases/{code}/ask",
    "/assets/{version}/{name}",
    "/summaries/{number}",
    "/summaries/feed.xml",
    "/summaries/{number}/{file}",
    "/drafts/{id}",
    "/queries/{id}",
    "/screening-log/{centre}/{period}",
    "/screening-log/{centre}/{period}/signature",
    "/members/{member}",
    "/centres/{centre}/rooms/{room}",
    "/plans/{id}",
    "/plans/{id}/amend",
    "/data-cuts/{id}",
    "/releases/{id}",
    "/comparisons/{id}",
    "/comparisons/{id}/report.json",
    "/comparisons/{id}/report.pdf",
    "/comparisons/{id}/recheck.zip",
    "/imports/{id}",
    "/imports/{id}/marked/{kind}",
    "/imports/receipts/{id}",
    "/imports/receipts/{id}/codes.csv",
    "/templates/{name}",
    "/case-codes.csv",
];

/// The addresses in the code, so that none is missing from the tables above.
fn declared(method: &str) -> BTreeSet<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../backend/src/pages");
    let marker = format!("#[{method}(\"");
    let mut found = BTreeSet::new();
    let mut folders = vec![folder];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                let text = fs::read_to_string(path).unwrap();
                found.extend(
                    text.split(&marker).skip(1).map(|rest| rest.split('"').next().unwrap().to_owned()),
                );
            }
        }
    }
    found
}

#[test]
fn the_tables_name_every_page_and_every_form() {
    let listed =
        |routes: &[Route]| routes.iter().map(|route| route.template.to_owned()).collect::<BTreeSet<_>>();
    let mut pages = listed(PAGES);
    pages.extend(BESIDE.map(str::to_owned));
    assert_eq!(pages, declared("get"));
    assert_eq!(listed(FORMS), declared("post"));
    for method in ["put", "patch", "delete"] {
        assert!(declared(method).is_empty(), "a page without script sends forms only");
    }
}
