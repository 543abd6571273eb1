//! Entering a case: as a form without script, on both stores.

use quietbeam_schema::access::{Role, Scope};
use quietbeam_schema::audit::Deed;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::sample;
use quietbeam_tests::server::{Asked, Sends, Served};
use quietbeam_tests::visitor::{Visitor, form};
use serde_json::Value;

use crate::access::visitor_of;
use crate::assets::without_own_scripts;

/// A case as the form sends it.
pub(crate) fn fields_of(case: &Value) -> Vec<(String, String)> {
    let mut fields = Vec::new();
    put(&mut fields, "", case);
    fields
}

fn put(fields: &mut Vec<(String, String)>, before: &str, value: &Value) {
    for (key, value) in value.as_object().unwrap() {
        let name = format!("{before}{key}");
        match value {
            Value::Object(_) => put(fields, &format!("{name}-"), value),
            Value::Array(items) if key == "complications" => {
                fields.push(("complications-count".to_owned(), items.len().to_string()));
                for (at, item) in items.iter().enumerate() {
                    put(fields, &format!("complications-{at}-"), item);
                }
            }
            Value::Array(items) => {
                fields.extend(items.iter().map(|item| (name.clone(), item.as_str().unwrap().to_owned())));
            }
            Value::String(text) => fields.push((name, text.clone())),
            number => fields.push((name, number.to_string())),
        }
    }
}

/// A draft of the visitor's centre: its address.
pub(crate) fn begun(visitor: &Visitor<'_>, strategy: &str) -> String {
    let answer = visitor.post("/cases/new", &[("strategy_intended", strategy)]).expect(303);
    let location = answer.header("location").unwrap();
    location.split('#').next().unwrap().to_owned()
}

pub(crate) fn send(
    visitor: &Visitor<'_>,
    draft: &str,
    version: u32,
    ask: &str,
    case: &Value,
) -> quietbeam_tests::server::Answer {
    let mut fields = fields_of(case);
    fields.push(("version".to_owned(), version.to_string()));
    fields.push(("do".to_owned(), ask.to_owned()));
    let fields: Vec<(&str, &str)> =
        fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    visitor.post(draft, &fields)
}

/// A draft of centre S07 with a complication, a problem and a question: its address.
pub(crate) fn draft_with_everything(served: &Served<'_>) -> String {
    let visitor = Visitor::member(served, "enterer", Role::Coordinator, &["S07".parse().unwrap()]);
    let draft = begun(&visitor, "conventional");
    let tamponade = sample::case_with_tamponade()["complications"].clone();
    // 226.8 Gy·cm² beside 25.2 mGy would be a field of 9,000 cm².
    let case = serde_json::json!({
        "kap_unit": "Gy.cm2", "bmi": 60, "no_complication_confirmed": "no", "complications": tamponade,
        "because-unusual_value/bmi": "Measured twice.",
    });
    send(&visitor, &draft, 1, "submit", &sample::with(sample::conventional_case(), case)).expect(422);
    draft
}

on_both_stores! {
    fn a_case_is_begun_saved_opened_again_and_sent_in(registry) {
        let served = Served::new(registry);
        let centre = served.registry.centre("S07");
        let visitor = visitor_of(&served, Role::Coordinator, centre);
        for case in [sample::zero_fluoroscopy_case(), sample::conventional_case(), sample::case_with_tamponade()] {
            let draft = begun(&visitor, case["strategy_intended"].as_str().unwrap());
            assert!(visitor.get("/desk").expect(200).text().contains(&format!("href=\"{draft}#")));
            assert_eq!(send(&visitor, &draft, 1, "save", &case).expect(303).header("location"), Some(draft.as_str()));
            let page = visitor.get(&draft).expect(200).text();
            assert!(page.contains("name=\"bmi\" value=\"27.4\""), "{page}");
            let sent = send(&visitor, &draft, 2, "submit", &case).expect(303);
            let code = sent.header("location").unwrap().rsplit('/').next().unwrap().to_owned();
            let kept = served.sign_in("coordinator.S07").get(&format!("/cases/{code}")).expect(200).json();
            let direct = served.sign_in("coordinator.S07").post("/cases", &case).expect(201).json();
            let direct = served.sign_in("coordinator.S07").get(&format!("/cases/{}", direct["code"].as_str().unwrap()));
            assert_eq!(kept["record"], direct.expect(200).json()["record"]);
            visitor.get(&draft).expect(404);
        }
        assert!(!visitor.get("/desk").expect(200).text().contains("/drafts/"));
        let deeds: Vec<Deed> = registry.audit().into_iter().map(|row| row.event.deed).collect();
        for deed in [Deed::DraftBegun, Deed::DraftSubmitted] {
            assert_eq!(deeds.iter().filter(|known| **known == deed).count(), 3, "{deed:?}");
        }
    }

    fn what_must_be_mended_is_listed_with_the_way_to_its_field(registry) {
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::CentreLead, served.registry.centre("S07"));
        let draft = begun(&visitor, "zero");
        let blank = serde_json::json!({ "strategy_intended": "zero" });
        let page = send(&visitor, &draft, 1, "submit", &blank).expect(422).text();
        assert!(page.contains("must be mended before this case can be submitted"));
        // What is refused because nothing stands there is not called filled.
        assert!(page.contains("<b>1</b> of "), "{page}");
        for field in ["period", "proc_primary", "fluoro_used"] {
            assert!(page.contains(&format!("href=\"#{field}\"")) && page.contains(&format!("id=\"{field}\"")), "{field}");
        }
        // A query does not stop the case.
        let unusual = sample::with(sample::zero_fluoroscopy_case(), serde_json::json!({ "bmi": 60 }));
        send(&visitor, &draft, 2, "submit", &unusual).expect(303);
    }

    fn minutes_typed_as_dose_are_asked_about_while_the_rest_is_still_empty(registry) {
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::Coordinator, served.registry.centre("S07"));
        let draft = begun(&visitor, "conventional");
        let begun_only = serde_json::json!({
            "strategy_intended": "conventional", "fluoro_used": "planned_used",
            "fluoro_time": 12.5, "fluoro_time_unit": "min", "air_kerma": 12.5, "air_kerma_unit": "mGy",
        });
        send(&visitor, &draft, 1, "save", &begun_only).expect(303);
        let page = visitor.get(&draft).expect(200).text();
        assert!(page.contains("which is also the fluoroscopy time in minutes"), "{page}");
        let as_read = sample::with(begun_only, serde_json::json!({ "air_kerma": 25.2, "kap": 50, "kap_unit": "Gy.cm2" }));
        // A field of 1,984 cm²: it must be mended, and is kept until then.
        send(&visitor, &draft, 2, "save", &as_read).expect(303);
        let page = visitor.get(&draft).expect(200).text();
        assert!(page.contains("Must be mended.") && page.contains("outside 3 to 1,500 impossible"), "{page}");
        assert!(page.contains("name=\"kap\" value=\"50\"") && !page.contains("fluoroscopy time in minutes"), "{page}");
    }

    fn a_name_in_a_box_is_shown_back_and_never_kept(registry) {
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::Coordinator, served.registry.centre("S07"));
        let draft = begun(&visitor, "zero");
        let hostile = sample::with(sample::zero_fluoroscopy_case(), serde_json::json!({
            "bmi": "\"><script>alert(1)</script>", "period": "1950-04-12", "comment": "seen with Dr Grimaldi",
        }));
        let page = send(&visitor, &draft, 1, "save", &hostile).expect(422).text();
        let (page, _) = without_own_scripts(&page);
        assert!(page.contains("&lt;script&gt;") && !page.contains("<script"), "{page}");
        let kept = registry.raw().texts("SELECT entries FROM case_draft").join("");
        for planted in ["script", "1950", "Grimaldi"] {
            assert!(!kept.contains(planted), "{planted} in {kept}");
        }
        assert!(kept.contains("af_parox_first"));
    }

    fn two_editors_see_both_values_and_nothing_is_overwritten(registry) {
        let served = Served::new(registry);
        let centre = served.registry.centre("S07");
        let (one, other) = (visitor_of(&served, Role::Coordinator, centre), visitor_of(&served, Role::CentreLead, centre));
        let draft = begun(&one, "zero");
        let case = |bmi: f64| sample::with(sample::zero_fluoroscopy_case(), serde_json::json!({ "bmi": bmi }));
        send(&one, &draft, 1, "save", &case(27.4)).expect(303);
        let page = send(&other, &draft, 1, "save", &case(31.5)).expect(422).text();
        assert!(page.contains("name=\"merge-bmi\"") && !page.contains("name=\"merge-lvef\""), "{page}");
        assert!(page.contains("name=\"version\" value=\"1\"") && page.contains("name=\"theirs\" value=\"2\""));
        // Whoever does not choose is asked again, whatever the page looked like.
        let mut chosen = case(31.5);
        chosen["lvef"] = Value::from(40);
        chosen["theirs"] = Value::from(2);
        chosen["merge-bmi"] = Value::from("there");
        let page = send(&other, &draft, 1, "save", &chosen).expect(422).text();
        assert!(page.contains("name=\"merge-lvef\"") && page.contains("value=\"there\" checked"), "{page}");
        assert!(one.get(&draft).expect(200).text().contains("value=\"27.4\""));
        chosen["merge-lvef"] = Value::from("here");
        send(&other, &draft, 1, "save", &chosen).expect(303);
        let page = one.get(&draft).expect(200).text();
        assert!(page.contains("value=\"27.4\"") && page.contains("name=\"lvef\" value=\"40\""), "{page}");
        // What was chosen over the second version says nothing about the third.
        chosen["bmi"] = Value::from(31.5);
        chosen["merge-bmi"] = Value::from("here");
        send(&other, &draft, 1, "save", &chosen).expect(422);
        assert!(one.get(&draft).expect(200).text().contains("value=\"27.4\""));
        chosen["theirs"] = Value::from(3);
        send(&other, &draft, 1, "save", &chosen).expect(303);
        assert!(one.get(&draft).expect(200).text().contains("value=\"31.5\""));
    }

    fn what_is_done_is_folded_and_what_is_not_stays_open(registry) {
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::Coordinator, served.registry.centre("S07"));
        let draft = begun(&visitor, "zero");
        let case = sample::with(sample::zero_fluoroscopy_case(), serde_json::json!({ "mapping": null }));
        send(&visitor, &draft, 1, "save", &case).expect(303);
        let page = visitor.get(&draft).expect(200).text();
        let open = |section: &str| {
            let before = page.split(&format!("<div id=\"{section}\">")).next().unwrap();
            before.rsplit("<details").next().unwrap().starts_with(" open")
        };
        let folded = ["before", "patient", "x_ray", "result"];
        assert!(folded.iter().all(|section| !open(section)), "{page}");
        assert!(open("procedure") && open("complications") && page.contains("href=\"#mapping\""));
        assert!(page.contains("no X-ray used: every dose is 0") && page.contains("still empty"));
        // Folded or not, every field is sent with the form.
        assert!(page.contains("name=\"bmi\" value=\"27.4\""));
        let unusual = sample::with(case, serde_json::json!({ "bmi": 60 }));
        send(&visitor, &draft, 2, "save", &unusual).expect(303);
        assert!(visitor.get(&draft).expect(200).text().contains("<details open><summary class=\"section-head\"><span class=\"ordinal\">2"));
    }

    fn a_complication_is_read_with_its_tier_and_its_lead(registry) {
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::Coordinator, served.registry.centre("S07"));
        let draft = begun(&visitor, "zero");
        send(&visitor, &draft, 1, "save", &sample::case_with_tamponade()).expect(303);
        let page = visitor.get(&draft).expect(200).text();
        // Seen at 27 min, circulation affected at 34 min: the sample's own times.
        assert!(page.contains(">Major<") && page.contains("Seen 7 min before circulation was affected"), "{page}");
        let mut seen_only = sample::case_with_tamponade();
        let event = &mut seen_only["complications"][0];
        for (key, value) in [("ae_code", "effusion"), ("haemo_change", "no"), ("symptomatic", "no"), ("intervention", "observe"), ("drained_ml", ""), ("haemo_change_min", "")] {
            event[key] = Value::from(value);
        }
        event["effusion_mm_max"] = Value::from(6);
        event["los_extra_days"] = Value::from(0);
        send(&visitor, &draft, 2, "save", &seen_only).expect(303);
        let page = visitor.get(&draft).expect(200).text();
        assert!(page.contains("Seen because someone looked; not counted as harm."), "{page}");
        seen_only["complications"][0]["outcome"] = Value::from("");
        send(&visitor, &draft, 3, "save", &seen_only).expect(303);
        assert!(visitor.get(&draft).expect(200).text().contains("its tier follows from what is entered"));
    }

    fn the_consoles_unit_is_offered_and_alone_is_no_value(registry) {
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::Coordinator, served.registry.centre("S07"));
        let administrator = served.member("administrator", Role::Administrator, &[]);
        let enter = |room: &str, unit: &str| {
            let room = Asked::new("PUT", format!("/centres/S07/rooms/{room}"));
            administrator.send(&room.json(&serde_json::json!({ "kap_unit": unit, "air_kerma_shown": false }))).expect(200)
        };
        // As printed on the console; it comes back in UCUM notation.
        assert_eq!(enter("R1", "cGy·cm²").json()["kap_unit"], "cGy.cm2");
        let draft = begun(&visitor, "conventional");
        let offered = "<option value=\"cGy.cm2\" selected>";
        let case = sample::with(sample::conventional_case(), serde_json::json!({ "kap": "", "kap_unit": "cGy.cm2" }));
        send(&visitor, &draft, 1, "save", &case).expect(303);
        let page = visitor.get(&draft).expect(200).text();
        assert!(page.contains(offered) && page.contains("The room's console shows <b>cGy·cm²</b>"), "{page}");
        assert!(page.contains("The room's console shows no air kerma."));
        assert!(!registry.raw().texts("SELECT entries FROM case_draft").concat().contains("kap"));
        send(&visitor, &draft, 2, "submit", &case).expect(422);
        enter("R2", "Gy.cm2");
        let page = visitor.get(&draft).expect(200).text();
        assert!(!page.contains(offered) && !page.contains("console shows <b>"), "{page}");
        // Once the case says in which room it was, that room's console speaks.
        assert!(page.contains("R1 · cGy·cm²") && page.contains("R2 · Gy·cm²"), "{page}");
        let in_room = |room: &str| sample::with(case.clone(), serde_json::json!({ "kap_unit": "", "room_code": room }));
        send(&visitor, &draft, 3, "save", &in_room("R2")).expect(303);
        let page = visitor.get(&draft).expect(200).text();
        assert!(page.contains("<option value=\"Gy.cm2\" selected>"), "{page}");
        assert!(page.contains("The room's console shows <b>Gy·cm²</b>"), "{page}");
        // A room that nobody wrote down is kept, and nothing is offered for it.
        send(&visitor, &draft, 4, "save", &in_room("R9")).expect(303);
        let page = visitor.get(&draft).expect(200).text();
        assert!(page.contains("R9, not among the centre's rooms") && !page.contains("console shows <b>"), "{page}");
        // What was entered is never replaced by an offer.
        send(&visitor, &draft, 5, "save", &sample::conventional_case()).expect(303);
        assert!(visitor.get(&draft).expect(200).text().contains("<option value=\"uGy.m2\" selected>"));
    }

    fn why_a_value_is_right_waits_in_the_draft_and_answers_the_question(registry) {
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::Coordinator, served.registry.centre("S07"));
        let draft = begun(&visitor, "zero");
        let mut case = sample::with(sample::zero_fluoroscopy_case(), serde_json::json!({ "bmi": 60, "skin_to_skin_min": 620 }));
        case["because-unusual_value/bmi"] = Value::from("Measured twice with Dr Grimaldi");
        let page = send(&visitor, &draft, 1, "save", &case).expect(422).text();
        assert!(page.contains("Why it is right: ") && page.contains("Measured twice with Dr Grimaldi</textarea>"), "{page}");
        assert!(!registry.raw().everything().contains("Grimaldi"));
        case["because-unusual_value/bmi"] = Value::from(" Measured twice,\nweight in the notes. ");
        case["because-unusual_value/nowhere"] = Value::from("About nothing.");
        send(&visitor, &draft, 2, "save", &case).expect(303);
        assert!(visitor.get(&draft).expect(200).text().contains("Measured twice, weight in the notes.</textarea>"));
        let sent = send(&visitor, &draft, 3, "submit", &case).expect(303);
        let page = visitor.get(sent.header("location").unwrap()).expect(200).text();
        assert!(page.contains("Measured twice, weight in the notes.") && page.contains("answered by the centre"), "{page}");
        let queries = served.sign_in("coordinator.S07").get("/queries").expect(200).json();
        for query in queries["items"].as_array().unwrap() {
            let expected = if query["field"] == "/bmi" { "answered" } else { "open" };
            assert_eq!(query["stage"]["state"], expected, "{query}");
        }
        let answered = registry.audit().iter().filter(|row| row.event.deed == Deed::QueryAnswered).count();
        assert_eq!(answered, 1);
    }

    fn the_time_of_the_declared_strategy_is_kept(registry) {
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::Coordinator, served.registry.centre("S07"));
        let moment = |page: &str, before: &str| page.split(before).nth(1).unwrap().trim_start_matches("<b>")[..16].to_owned();
        let draft = begun(&visitor, "zero");
        let first = moment(&visitor.get(&draft).expect(200).text(), "Entered in the registry ");
        registry.hand.advance(600);
        let case = sample::zero_fluoroscopy_case();
        send(&visitor, &draft, 1, "save", &case).expect(303);
        assert_eq!(moment(&visitor.get(&draft).expect(200).text(), "Entered in the registry "), first);
        let sent = send(&visitor, &draft, 2, "submit", &case).expect(303);
        let history = visitor.get(&format!("{}/history", sent.header("location").unwrap())).expect(200).text();
        assert_eq!(moment(&history, "entered in the registry "), first);
        // Another strategy is another declaration.
        let draft = begun(&visitor, "conventional");
        registry.hand.advance(600);
        send(&visitor, &draft, 1, "save", &case).expect(303);
        assert_ne!(moment(&visitor.get(&draft).expect(200).text(), "Entered in the registry "), first);
    }

    /// What the page's script sends: an answer may be lost on its way and the same is sent again.
    fn the_same_save_again_is_no_conflict_and_another_one_is(registry) {
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::Coordinator, served.registry.centre("S07"));
        let draft = begun(&visitor, "zero");
        let token = visitor.form_token();
        let save = |cookie: &str, version: &str, quarter: &str| {
            let fields = [("form_token", token.as_str()), ("version", version), ("period", quarter), ("strategy_intended", "zero")];
            let asked = form(&format!("/{draft}"), &fields).header("accept", "application/json");
            served.stranger().send(&asked.header("cookie", cookie).header("sec-fetch-site", "same-origin"))
        };
        let cookie = visitor.cookie();
        for _ in 0..2 {
            let saved = save(&cookie, "1", "2026Q3").expect(200).json();
            assert_eq!(saved["version"], 2);
            assert!(saved["page"].as_str().unwrap().contains("value=\"2026Q3\""), "{saved}");
        }
        save(&cookie, "1", "2026Q2").problem(412, "stale");
        assert!(visitor.get(&draft).expect(200).text().contains("value=\"2026Q3\""));
        save("quietbeam=none", "2", "2026Q2").problem(401, "signed_out");
    }

    fn complications_are_added_and_removed_without_script(registry) {
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::Coordinator, served.registry.centre("S07"));
        let draft = begun(&visitor, "zero");
        let case = sample::case_with_tamponade();
        let added = send(&visitor, &draft, 1, "add", &case).expect(303);
        assert_eq!(added.header("location"), Some(format!("{draft}#complications-1-ae_code").as_str()));
        assert!(visitor.get(&draft).expect(200).text().contains("id=\"complications-1-ae_code\""));
        send(&visitor, &draft, 2, "remove-0", &case).expect(303);
        assert!(!visitor.get(&draft).expect(200).text().contains("complications-0-ae_code"));
        send(&visitor, &draft, 3, "discard", &case).expect(303);
        visitor.get(&draft).expect(404);
        assert!(registry.audit().iter().any(|row| row.event.deed == Deed::DraftDiscarded));
    }

    fn a_draft_is_its_centres_and_of_who_may_submit(registry) {
        let served = Served::new(registry);
        let visitor = visitor_of(&served, Role::Coordinator, served.registry.centre("S07"));
        let draft = begun(&visitor, "zero");
        let elsewhere = served.registry.centre("S08");
        let nobody = Visitor::new(&served);
        assert!(nobody.get(&draft).expect(303).header("location").unwrap().starts_with("/sign-in?to="));
        for role in Role::ALL {
            let stranger = visitor_of(&served, role, elsewhere);
            let expected = if role.scope(quietbeam_schema::access::Action::SubmitCase) == Scope::No { 403 } else { 404 };
            stranger.get(&draft).expect(expected);
            for ask in ["save", "submit", "discard"] {
                send(&stranger, &draft, 1, ask, &sample::zero_fluoroscopy_case()).expect(expected);
            }
            assert!(!stranger.get("/desk").expect(200).text().contains(&draft), "{role}");
        }
        visitor.submit(&draft, &[("do", "discard")]).expect(403);
        visitor.get(&draft).expect(200);
    }
}
