//! Every page, looked at by everyone.

use quietbeam_schema::access::{Role, Scope};
use quietbeam_schema::ids::CentreCode;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::sample;
use quietbeam_tests::server::{Sends, Served};
use quietbeam_tests::visitor::Visitor;
use serde_json::json;

use crate::routes::{PAGES, Route, Who};

/// A case of centre S07 with a question that waits.
pub(crate) fn case_with_question(served: &Served<'_>) -> String {
    let centre = served.registry.centre("S07");
    let coordinator = served.member("sender", Role::Coordinator, &[centre]);
    let sent = coordinator.post("/cases", &sample::zero_fluoroscopy_case()).expect(201).json();
    let code = sent["code"].as_str().unwrap().to_owned();
    let question = json!({ "case_code": code, "field": "/bmi", "sentence": "Is the weight right?" });
    served.member("asker", Role::Monitor, &[]).post("/queries", &question).expect(201);
    code
}

pub(crate) fn visitor_of<'s>(served: &'s Served<'s>, role: Role, centre: CentreCode) -> Visitor<'s> {
    let centres: &[CentreCode] = if role.belongs_to_centres() { &[centre] } else { &[] };
    Visitor::member(served, &format!("{role}.{centre}"), role, centres)
}

pub(crate) fn allowed(route: &Route, role: Role) -> bool {
    match route.who {
        Who::Everyone => true,
        Who::May(action) => role.scope(action) != Scope::No,
    }
}

on_both_stores! {
    fn signed_out_every_page_leads_to_the_sign_in_and_back(registry) {
        let served = Served::new(registry);
        let code = case_with_question(&served);
        let nobody = Visitor::new(&served);
        for route in PAGES {
            let address = route.of(&code);
            let answer = nobody.get(&address);
            if route.who == Who::Everyone {
                answer.expect(200);
                continue;
            }
            let encoded = address.replace('/', "%2F");
            assert_eq!(answer.expect(303).header("location"), Some(format!("/sign-in?to={encoded}").as_str()));
        }
        let wanted = nobody.get("/cases?period=2026Q3").expect(303);
        assert_eq!(wanted.header("location"), Some("/sign-in?to=%2Fcases%3Fperiod%3D2026Q3"));
    }

    fn each_role_sees_what_the_policy_gives_it_and_nothing_else(registry) {
        let served = Served::new(registry);
        let code = case_with_question(&served);
        for role in Role::ALL {
            let visitor = visitor_of(&served, role, "S07".parse().unwrap());
            for route in PAGES {
                let answer = visitor.get(&route.of(&code));
                match (allowed(route, role), route.template) {
                    // Whoever is signed in has no business there.
                    (_, "/" | "/sign-in") => assert_eq!(answer.expect(303).header("location"), Some("/desk")),
                    (true, _) => {
                        let page = answer.expect(200).text();
                        assert!(page.contains("Sign out"), "{} as {role}", route.template);
                    }
                    (false, _) => {
                        let page = answer.expect(403).text();
                        assert!(page.contains("Your role may not do this"), "{} as {role}: {page}", route.template);
                    }
                }
            }
        }
    }

    fn the_navigation_leads_nowhere_that_is_closed(registry) {
        let served = Served::new(registry);
        served.registry.centre("S07");
        for role in Role::ALL {
            let visitor = visitor_of(&served, role, "S07".parse().unwrap());
            for address in links(&visitor.get("/desk").expect(200).text()) {
                if address.starts_with('#') {
                    continue;
                }
                let target = visitor.get(&address);
                assert!(target.status < 400, "{role} is led to {address}: {}", target.status);
            }
        }
    }

    /// What belongs to another centre is like what never was.
    fn another_centres_case_is_not_there(registry) {
        let served = Served::new(registry);
        let code = case_with_question(&served);
        let never = quietbeam_schema::ids::CaseCode::from_random([77; 16]).to_string();
        let elsewhere = served.registry.centre("S08");
        for role in [Role::Coordinator, Role::CentreLead] {
            let visitor = visitor_of(&served, role, elsewhere);
            for route in PAGES.iter().filter(|route| route.of_centre) {
                let theirs = visitor.get(&route.of(&code)).expect(404).text();
                assert_eq!(theirs, visitor.get(&route.of(&never)).expect(404).text(), "{}", route.template);
                visitor.get(&route.of("nonsense")).expect(404);
            }
            for page in ["/cases", "/cases?centre=S07", "/desk", "/screening-log"] {
                let seen = visitor.get(page).expect(200).text();
                assert!(!seen.contains(&code) && !seen.contains("Hospital S07"), "{page}");
            }
            let answer = visitor.post(&format!("/cases/{code}"), &[("query", &query_of(&served)), ("answer", "Yes, it is.")]);
            answer.expect(404);
        }
    }
}

fn links(page: &str) -> Vec<String> {
    page.split("href=\"").skip(1).map(|rest| rest.split('"').next().unwrap().to_owned()).collect()
}

fn query_of(served: &Served<'_>) -> String {
    let list = served.sign_in("asker").get("/queries").expect(200).json();
    list["items"][0]["id"].as_str().unwrap().to_owned()
}
