//! What there is to look at: each address of `routes.rs` as the demo fills it, found by
//! following links as people do, and the states that no link leads to.

use std::collections::{BTreeMap, BTreeSet};

use quietbeam_schema::access::{Action, Role, Scope};
use quietbeam_tests::people::{DEMO_PASSWORD, PASSWORD};
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::server::Served;

use super::Judge;
use crate::access::{allowed, case_with_question};
use crate::routes::{FORMS, PAGES, Route, Who};

/// Who of the demo looks, in this order: each address is judged as the first sees it who may.
const PEOPLE: [(Role, &str); 7] = [
    (Role::Coordinator, "coordinator.s01"),
    (Role::CentreLead, "lead.s01"),
    (Role::Investigator, "investigator"),
    (Role::Monitor, "monitor"),
    (Role::Adjudicator, "judge.one"),
    (Role::Society, "society"),
    (Role::Administrator, "admin"),
];

/// Pages with an address of their own kind that `routes.rs` tests elsewhere.
const BESIDE: [Route; 10] = [
    Route { template: "/adjudication/{event}", who: Who::May(Action::JudgeEvents), of_centre: false },
    Route { template: "/plans/{id}", who: Who::May(Action::ReadPlans), of_centre: false },
    Route { template: "/plans/{id}/amend", who: Who::May(Action::RegisterPlan), of_centre: false },
    Route { template: "/releases/{id}", who: Who::May(Action::ReadSummaryDrafts), of_centre: false },
    Route { template: "/data-cuts/{id}", who: Who::May(Action::ReadDataCuts), of_centre: false },
    Route { template: "/comparisons/{id}", who: Who::May(Action::ReadComparisons), of_centre: false },
    Route { template: "/summaries/{number}", who: Who::Everyone, of_centre: false },
    Route { template: "/drafts/{id}", who: Who::May(Action::SubmitCase), of_centre: true },
    Route { template: "/members/{member}", who: Who::May(Action::ManageMembers), of_centre: false },
    Route {
        template: "/centres/{centre}/rooms/{room}",
        who: Who::May(Action::ManageCentres),
        of_centre: false,
    },
];

/// Every page, filled.
pub(super) fn of_the_demo(judge: &mut Judge) {
    let registry = Registry::demo(140);
    let served = Served::new(&registry);
    let mut walk = Walk::new(judge, &served);
    walk.everything(|route| route.who == Who::Everyone, "");
    for (role, account) in PEOPLE {
        walk.judge.browser.sign_in(&walk.address, account, DEMO_PASSWORD);
        if role == Role::Coordinator {
            walk.begin_draft();
        }
        walk.everything(|route| allowed(route, role), account);
        if role == Role::Investigator {
            walk.plan_ahead();
            walk.write_too_little();
        }
        if role == Role::Adjudicator {
            walk.judge_nothing();
        }
        walk.sign_out();
    }
    let missed: Vec<&str> =
        walk.routes().map(|route| route.template).filter(|one| !walk.seen.contains(one)).collect();
    assert_eq!(missed, [""; 0], "no link of the demo leads there; add the step that does");
}

/// Follows the links.
struct Walk<'j> {
    judge: &'j mut Judge,
    address: String,
    seen: BTreeSet<&'static str>,
    /// An address for each template, as a link had it.
    known: BTreeMap<&'static str, String>,
}

impl<'j> Walk<'j> {
    fn new(judge: &'j mut Judge, served: &Served<'_>) -> Self {
        Self { judge, address: served.address(), seen: BTreeSet::new(), known: BTreeMap::new() }
    }

    fn routes(&self) -> impl Iterator<Item = &'static Route> + use<> {
        PAGES.iter().chain(&BESIDE)
    }

    /// Looks at each page that was not seen yet and whose address is known, until nothing is
    /// left. The desk is another one for each role.
    fn everything(&mut self, may: impl Fn(&Route) -> bool, account: &str) {
        if !account.is_empty() {
            self.look("/desk", &format!("/desk as {account}"));
        }
        loop {
            let next = self.routes().find_map(|route| {
                let found = !self.seen.contains(route.template) && may(route);
                let address = self.known.get(route.template).cloned();
                let address =
                    address.or_else(|| (!route.template.contains('{')).then(|| route.template.to_owned()));
                address.filter(|_| found).map(|address| (route.template, address))
            });
            let Some((template, address)) = next else { break };
            self.seen.insert(template);
            self.look(&address, template);
        }
    }

    fn look(&mut self, address: &str, name: &str) {
        self.judge.browser.go(&format!("{}{address}", self.address));
        self.learn();
        self.judge.look(name);
    }

    /// Keeps the addresses that the page leads to.
    fn learn(&mut self) {
        let links = self.judge.browser.evaluate(
            "return [...document.querySelectorAll('main a, main form')].map((one) => one.getAttribute('href') ?? one.getAttribute('action') ?? '')",
        );
        for link in links.as_array().into_iter().flatten().filter_map(|link| link.as_str()) {
            let path = link.split(['?', '#']).next().unwrap_or_default();
            for route in self.routes().filter(|route| fits(route.template, path)) {
                self.known.entry(route.template).or_insert_with(|| path.to_owned());
            }
        }
    }

    fn begin_draft(&mut self) {
        self.judge.browser.go(&format!("{}/cases/new", self.address));
        self.judge.browser.send_form("main form", &[("strategy_intended", "zero")], None);
        self.learn();
    }

    /// The curves before a plan, and what is refused there.
    fn plan_ahead(&mut self) {
        let asked = "endpoint=acute_success&margin=3&expected=95&level=95";
        self.look(&format!("/plans/outlook?{asked}"), "/plans/outlook, drawn");
        let of_ratio = "endpoint=acute_success&scale=risk_ratio&margin=1.5&expected=95&level=95";
        self.look(&format!("/plans/outlook?{of_ratio}"), "/plans/outlook, drawn for a ratio");
        self.look("/plans/outlook?margin=three", "/plans/outlook, refused");
    }

    /// A ruling that says nothing.
    fn judge_nothing(&mut self) {
        let event = self.known["/adjudication/{event}"].clone();
        self.judge.browser.go(&format!("{}{event}", self.address));
        self.judge.browser.send_form("main form", &[], None);
        self.judge.look("/adjudication/{event}, refused");
    }

    /// A text into the report that says nothing.
    fn write_too_little(&mut self) {
        let report = self.known["/comparisons/{id}"].clone();
        self.judge.browser.go(&format!("{}{report}", self.address));
        self.judge.browser.send_form("#writing", &[("item-22", "short")], None);
        self.judge.look("/comparisons/{id}, text refused");
    }

    fn sign_out(&mut self) {
        self.judge.browser.send_form("form[action='/sign-out']", &[], None);
    }
}

/// Whether the path is one of the template, and no page without parameters.
fn fits(template: &str, path: &str) -> bool {
    let plain = PAGES.iter().chain(FORMS).any(|route| route.template == path);
    let (asked, found): (Vec<&str>, Vec<&str>) = (template.split('/').collect(), path.split('/').collect());
    template.contains('{')
        && !plain
        && asked.len() == found.len()
        && asked
            .iter()
            .zip(&found)
            .all(|(one, other)| one == other || one.starts_with('{') && !other.is_empty())
}

/// What a new registry shows, and what was refused.
pub(super) fn empty_and_refused(judge: &mut Judge) {
    let registry = Registry::new(Engine::Sqlite);
    let served = Served::new(&registry);
    let at = |path: &str| format!("{}{path}", served.address());
    judge.browser.go(&at("/summaries"));
    judge.look("/summaries, none");
    judge.browser.sign_in(&served.address(), "nobody", PASSWORD);
    judge.look("/sign-in, refused");

    let empty = registry.centre("S08");
    served.desk.member("newcomer", Role::CentreLead, &[empty]);
    judge.browser.sign_in(&served.address(), "newcomer", PASSWORD);
    for page in PAGES.iter().filter(|page| !page.template.contains('{') && allowed(page, Role::CentreLead)) {
        if page.who != Who::Everyone {
            judge.browser.go(&at(page.template));
            judge.look(&format!("{}, empty", page.template));
        }
    }
    for (name, path) in [("absent", "/cases/nothing"), ("no page", "/no-such-page")] {
        judge.browser.go(&at(path));
        judge.look(name);
    }
    judge.browser.go(&at("/cases/new"));
    judge.browser.send_form("main form", &[], None);
    judge.look("/cases/new, refused");
    judge.browser.go(&at("/cases/new"));
    judge.browser.send_form("main form", &[("strategy_intended", "conventional")], None);
    judge.browser.send_form(
        "main form",
        &[("age_years", "7"), ("air_kerma", "<b>"), ("bmi", "1")],
        Some("submit"),
    );
    judge.look("/drafts, refused");
    judge.browser.send_form("form[action='/sign-out']", &[], None);
    follow_up_refused(judge, &served);
    for role in Role::ALL.into_iter().filter(|role| role.scope(Action::ReadCase) == Scope::No) {
        served.desk.member(role.name(), role, &[]);
        judge.browser.sign_in(&served.address(), role.name(), PASSWORD);
        judge.look(&format!("/desk of {role}"));
        judge.browser.go(&at("/cases"));
        judge.look(&format!("not for {role}"));
        judge.browser.send_form("form[action='/sign-out']", &[], None);
    }
}

fn follow_up_refused(judge: &mut Judge, served: &Served<'_>) {
    let code = case_with_question(served);
    let due = crate::follow_up::case_without_follow_up(served);
    served.registry.hand.advance(50 * 24 * 60 * 60);
    judge.browser.sign_in(&served.address(), "sender", PASSWORD);
    judge.browser.go(&format!("{}/follow-up", served.address()));
    let day = format!("day-{due}");
    judge.browser.send_form("main form", &[(&day, "<script>")], None);
    judge.look("/follow-up, refused");
    judge.browser.go(&format!("{}/cases/{code}", served.address()));
    judge.browser.send_form("main form", &[("answer", "")], None);
    judge.look("/cases/{code}, answer refused");
    judge.browser.send_form("form[action='/sign-out']", &[], None);
}
