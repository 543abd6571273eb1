//! Every route of the API, called by everyone: signed out, in each role, from another
//! centre. A route that is missing from the table fails, and so does a row without a route.

use std::collections::BTreeSet;

use quietbeam::api::document::PUBLIC;
use quietbeam_schema::access::{Action, Role, Scope};
use quietbeam_schema::ids::CentreCode;
use quietbeam_tests::fit::misfit;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::sample;
use quietbeam_tests::server::{Answer, Asked, Sends, Served, SignedIn};
use serde_json::{Value, json};

use crate::routes::{ROUTES, Route, Things, Who, approval_body, cases};

/// What answers without standing in the document of the API.
const BESIDE: [&str; 8] =
    ["//livez", "//readyz", "//", "//summaries", "//sign-in", "//help", "//api/v1/", "//api/v1/openapi.json"];

fn central(role: Role) -> bool {
    !role.belongs_to_centres()
}

/// One member of each role at the own centre, and the same two centre roles at another.
struct People<'s> {
    served: &'s Served<'s>,
    own: Vec<(Role, SignedIn<'s>)>,
    elsewhere: Vec<(Role, SignedIn<'s>)>,
}

impl<'s> People<'s> {
    fn new(served: &'s Served<'s>) -> Self {
        let (here, there) = (served.registry.centre("S07"), served.registry.centre("S08"));
        let member = |role: Role, centre: CentreCode| {
            let centres: &[CentreCode] = if central(role) { &[] } else { &[centre] };
            (role, served.member(&format!("{role}.{centre}"), role, centres))
        };
        let own = Role::ALL.into_iter().map(|role| member(role, here)).collect();
        let elsewhere = Role::ALL.into_iter().filter(|role| !central(*role));
        Self { served, own, elsewhere: elsewhere.map(|role| member(role, there)).collect() }
    }

    fn of(&self, role: Role) -> &SignedIn<'s> {
        &self.own.iter().find(|(known, _)| *known == role).unwrap().1
    }

    /// Things of the own centre and of the network, each as it is after its creation.
    fn things(&self) -> Things {
        let text = |answer: &Answer, key: &str| answer.json()[key].as_str().unwrap().to_owned();
        let coordinator = self.of(Role::Coordinator);
        let case = coordinator.post("/cases", &sample::zero_fluoroscopy_case()).expect(201);
        let code = text(&case, "code");
        let question = json!({ "case_code": code, "sentence": "Is the weight right?" });
        let query = self.of(Role::Monitor).post("/queries", &question).expect(201);
        let log = "/centres/S07/screening-log/2026Q3/svt";
        let counts = json!({ "counts": { "performed": 8, "eligible": 8, "submitted": 8 } });
        coordinator.send(&Asked::new("PUT", log).json(&counts)).expect(200);
        coordinator.post("/cases", &sample::case_with_tamponade()).expect(201);
        let docket = self.of(Role::Adjudicator).get("/adjudication/events").expect(200).json();
        let plan = quietbeam_tests::plan::plan();
        let plan = self.of(Role::Investigator).post("/plans", &plan).expect(201);
        let cut = self.of(Role::Investigator).post("/data-cuts", &json!({ "name": "first" })).expect(201);
        let cut = text(&cut, "id");
        let path = format!("/data-cuts/{cut}/comparisons");
        let asked = json!({ "plan": text(&plan, "id") });
        let comparison = self.of(Role::Investigator).post(&path, &asked).expect(201);
        // Whoever composed a summary may not publish it.
        let author = self.served.member("author", Role::Society, &[]);
        let drafted = author.post("/summary-drafts", &json!({ "data_cut": cut })).expect(201);
        let administrator = self.of(Role::Administrator);
        let approval = administrator.post("/centres/S07/approvals", &approval_body()).expect(201);
        let brought = || {
            coordinator
                .send(&Asked::new("POST", "/import-jobs").new_key().files(&[("cases", &cases())]))
                .expect(201)
        };
        let (job, to_drop) = (text(&brought(), "id"), text(&brought(), "id"));
        let target = self.served.desk.member("target", Role::Society, &[]).to_string();
        Things {
            centre: "S07".to_owned(),
            centre_etag: administrator.get("/centres/S07").expect(200).etag(),
            member_etag: administrator.get(&format!("/members/{target}")).expect(200).etag(),
            member: target,
            code,
            query: text(&query, "id"),
            event: docket["items"][0]["event"].as_str().unwrap().to_owned(),
            plan: text(&plan, "id"),
            approval: text(&approval, "id"),
            cut,
            comparison: text(&comparison, "id"),
            summary_etag: drafted.etag(),
            summary: text(&drafted, "id"),
            import_job_etag: coordinator.get(&format!("/import-jobs/{job}")).expect(200).etag(),
            import_job: job,
            import_job_to_drop: to_drop,
            refresh_token: author.refresh_token,
        }
    }
}

fn without_instance(problem: Value) -> Value {
    let mut problem = problem;
    assert!(problem.as_object_mut().unwrap().remove("instance").is_some());
    problem
}

fn allowed(route: &Route, role: Role) -> bool {
    match route.who {
        Who::Everyone => true,
        Who::May(action) => role.scope(action) != Scope::No,
    }
}

/// Nothing leaves the registry that the document does not describe: neither a status nor
/// a field.
fn check_described(document: &Value, route: &Route, answer: &Answer) {
    let operation = &document["paths"][format!("/api/v1{}", route.template)][route.method.to_lowercase()];
    let place = format!("{} {}", route.method, route.template);
    let described = &operation["responses"][answer.status.to_string()];
    let described = if answer.status < 300 { described } else { &operation["responses"]["default"] };
    assert!(described.is_object(), "{place} answers {} and the document does not say so", answer.status);
    let kind = if answer.status < 300 { "application/json" } else { "application/problem+json" };
    match described["content"].get(kind) {
        Some(content) => assert_eq!(misfit(document, &content["schema"], &answer.json()), None, "{place}"),
        // A file of another kind is told by its media type alone.
        None if described["content"].is_object() => {
            let sent = answer.header("content-type").unwrap_or_default();
            assert!(described["content"].get(sent).is_some(), "{place} answers {sent}");
        }
        None => assert_eq!(answer.text(), "", "{place}"),
    }
}

/// One call in a role; who ends the own sign-in gets another for the next call.
fn call(people: &People<'_>, route: &Route, role: Role, things: &Things) -> Answer {
    let asked = (route.call)(things);
    if !route.ends_sign_in {
        return people.of(role).send(&asked);
    }
    let centre = if central(role) { "S07" } else { "S08" };
    people.served.sign_in(&format!("{role}.{centre}")).send(&asked)
}

on_both_stores! {
    fn the_table_names_every_route_and_no_other(registry) {
        let served = Served::new(registry);
        let document = served.stranger().get("/openapi.json").expect(200).json();
        let mut documented = BTreeSet::new();
        let mut open = BTreeSet::new();
        for (path, item) in document["paths"].as_object().unwrap() {
            for (method, operation) in item.as_object().unwrap() {
                documented.insert((method.to_uppercase(), path.clone()));
                if operation["security"] == json!([]) {
                    open.insert((path.clone(), method.clone()));
                }
            }
        }
        let listed: BTreeSet<(String, String)> =
            ROUTES.iter().map(|route| (route.method.to_owned(), format!("/api/v1{}", route.template))).collect();
        assert_eq!(listed, documented);
        let everyone: BTreeSet<(String, String)> = ROUTES
            .iter()
            .filter(|route| route.who == Who::Everyone)
            .map(|route| (format!("/api/v1{}", route.template), route.method.to_lowercase()))
            .collect();
        let public = PUBLIC.iter().map(|(path, method)| ((*path).to_owned(), (*method).to_owned())).collect();
        assert_eq!(everyone, public);
        assert_eq!(everyone, open);
    }

    fn signed_out_nothing_but_the_public_answers(registry) {
        let served = Served::new(registry);
        let things = People::new(&served).things();
        let stranger = served.stranger();
        for route in ROUTES {
            let answer = stranger.send(&(route.call)(&things));
            if route.who == Who::Everyone {
                assert_ne!(answer.status, 403, "{} {}", route.method, route.template);
                continue;
            }
            assert_eq!(answer.header("www-authenticate"), Some("Bearer"), "{} {}", route.method, route.template);
            answer.problem(401, "signed_out");
        }
        for path in BESIDE {
            stranger.get(path).expect(200);
        }
    }

    fn each_role_reaches_what_the_policy_gives_it_and_nothing_else(registry) {
        let served = Served::new(registry);
        let people = People::new(&served);
        let things = people.things();
        let document = served.stranger().get("/openapi.json").expect(200).json();
        let mut barren = Vec::new();
        for route in ROUTES {
            for role in Role::ALL.into_iter().filter(|role| !allowed(route, *role)) {
                let problem = people.of(role).send(&(route.call)(&things)).problem(403, "not_allowed");
                let Who::May(action) = route.who else { panic!("a public route refused {role}") };
                assert!(problem["detail"].as_str().unwrap().contains(action.name()), "{problem}");
            }
        }
        for route in ROUTES {
            let mut succeeded = false;
            for role in Role::ALL.into_iter().filter(|role| allowed(route, *role)) {
                let answer = call(&people, route, role, &things);
                let status = answer.status;
                let gone = route.takes_away && succeeded && status == 404;
                assert!(![401, 403, 404, 405, 415].contains(&status) || route.who == Who::Everyone || gone,
                    "{} {} as {role}: {status}", route.method, route.template);
                succeeded |= status < 400;
                check_described(&document, route, &answer);
            }
            if !succeeded {
                barren.push(format!("{} {}", route.method, route.template));
            }
        }
        // A request that nobody can make succeed would show nothing about the others.
        assert_eq!(barren, [""; 0]);
    }

    /// Whatever is wrong with the request: what belongs to another centre is not there.
    fn another_centres_things_are_like_things_that_never_were(registry) {
        let served = Served::new(registry);
        let people = People::new(&served);
        let things = people.things();
        let nothing = Things::nowhere();
        for (role, outsider) in &people.elsewhere {
            for route in ROUTES.iter().filter(|route| route.of_centre && allowed(route, *role)) {
                let theirs = outsider.send(&(route.call)(&things)).problem(404, "not_found");
                let never = outsider.send(&(route.call)(&nothing)).problem(404, "not_found");
                assert_eq!(without_instance(theirs), without_instance(never), "{}", route.template);
            }
            for list in ["/cases", "/queries", "/imports", "/import-jobs", "/exports/cases?format=json", "/screening-log", "/centres", "/audit"] {
                let seen = outsider.get(list).expect(200).text();
                assert!(!seen.contains("S07") && !seen.contains(&things.code), "{list}: {seen}");
            }
            for list in ["/cases", "/queries"] {
                let seen = outsider.get(&format!("{list}?centre=S07")).expect(200).json();
                assert_eq!(seen, json!({ "items": [], "next": null }), "{list}");
            }
        }
        let case = people.of(Role::Coordinator).get(&format!("/cases/{}", things.code)).expect(200);
        assert_eq!(case.etag(), "\"r1\"");
    }

    /// What only the server decides cannot be sent in with anything.
    fn no_body_takes_what_only_the_server_decides(registry) {
        let served = Served::new(registry);
        let people = People::new(&served);
        let things = people.things();
        let mut tried = 0;
        for route in ROUTES {
            let asked = (route.call)(&things);
            let Some(body) = asked.json_body() else { continue };
            let role = Role::ALL.into_iter().find(|role| allowed(route, *role)).unwrap();
            for (field, value) in [
                ("role_of_sender", json!("administrator")),
                ("created_at", json!("2026-11-25T09:00:00Z")),
                ("actor", json!("operator")),
                ("signed_by", json!(true)),
                ("revision", json!(7)),
            ] {
                let mut body = body.clone();
                body[field] = value;
                let asked = asked.clone().replacing(&body);
                let answer = people.of(role).send(&asked);
                let place = format!("{} {} {field}", route.method, route.template);
                if route.template == "/cases/check" {
                    assert_eq!(answer.expect(200).json()["acceptable"], false, "{place}");
                } else {
                    let problem = answer.problem(422, "must_be_mended");
                    let mends = Answer::mends(&problem);
                    assert_eq!(mends, [(format!("/{field}"), "unknown_field".to_owned())], "{place}: {problem}");
                }
                tried += 1;
            }
        }
        assert!(tried >= 75, "{tried}");
        let wrong = json!({ "present": PASSWORD, "new": PASSWORD, "role": { "role": "administrator" } });
        people.of(Role::Monitor).send(&Asked::new("PUT", "/me/password").json(&wrong)).problem(422, "must_be_mended");
    }
}

#[test]
fn every_action_of_the_policy_opens_some_route() {
    // What a page alone opens is tested with the pages.
    const BY_A_PAGE: [Action; 2] = [Action::ReadOwnPicture, Action::WatchSafety];
    let used: BTreeSet<Action> = ROUTES
        .iter()
        .filter_map(|route| match route.who {
            Who::May(action) => Some(action),
            Who::Everyone => None,
        })
        .chain(BY_A_PAGE)
        .collect();
    assert_eq!(used.into_iter().collect::<Vec<_>>(), Action::ALL);
}
