//! Centres, their rooms and their sheets of case codes.

use crate::network::{central, coordinator, other};
use quietbeam_schema::access::Role;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::server::{Answer, Asked, Sends, Served};
use serde_json::json;

on_both_stores! {
    fn a_centre_is_created_read_and_changed(registry) {
        let served = Served::new(registry);
        let administrator = central(&served, Role::Administrator);
        let body = json!({ "code": "S21", "name": "Northern Heart Hospital", "region": "North", "kind": "academic", "annual_volume": "200_499" });
        let created = administrator.post("/centres", &body).expect(201);
        let read = administrator.get("/centres/S21").expect(200);
        assert_eq!(read.json(), created.json());
        assert_eq!(read.etag(), created.etag());
        administrator.post("/centres", &body).problem(409, "taken");
        let new = json!({ "name": "Northern Heart Hospital", "region": "North", "kind": "community", "annual_volume": "500_999" });
        administrator.send(&Asked::new("PUT", "/centres/S21").json(&new)).problem(428, "if_match_required");
        administrator.put("/centres/S21", "\"other\"", &new).problem(412, "stale");
        let changed = administrator.put("/centres/S21", &read.etag(), &new).expect(200);
        assert_eq!(changed.json()["kind"], "community");
        administrator.put("/centres/S21", &read.etag(), &new).problem(412, "stale");
        administrator.put("/centres/S99", &read.etag(), &new).problem(404, "not_found");
    }

    fn each_wrong_field_of_a_centre_is_named(registry) {
        let served = Served::new(registry);
        let administrator = central(&served, Role::Administrator);
        let good = json!({ "code": "S21", "name": "Northern Heart Hospital", "region": null, "kind": "academic", "annual_volume": "200_499" });
        for (field, value) in [
            ("code", json!("Hospital 7")),
            ("name", json!(" ")),
            ("name", json!("ask jane@example.org")),
            ("region", json!("")),
            ("kind", json!("private")),
            ("annual_volume", json!(350)),
            ("secret", json!(1)),
        ] {
            let mut body = good.clone();
            body[field] = value;
            let problem = administrator.post("/centres", &body).problem(422, "must_be_mended");
            assert_eq!(Answer::mends(&problem)[0].0, format!("/{field}"), "{problem}");
        }
    }

    fn rooms_are_entered_and_changed_with_their_version(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let administrator = central(&served, Role::Administrator);
        let room = json!({ "kap_unit": "uGy.m2", "air_kerma_shown": true, "dose_correction": 1.1, "pulse_rate": 4 });
        let enter = |body| administrator.send(&Asked::new("PUT", "/centres/S07/rooms/R1").json(body));
        enter(&room).expect(200);
        enter(&room).problem(428, "if_match_required");
        let listed = member.get("/centres/S07/rooms").expect(200).json();
        let etag = listed["items"][0]["etag"].as_str().unwrap().to_owned();
        let mut wrong = room.clone();
        wrong["dose_correction"] = json!(3);
        let problem = administrator.put("/centres/S07/rooms/R1", &etag, &wrong).problem(422, "must_be_mended");
        assert_eq!(Answer::mends(&problem)[0].0, "/dose_correction");
        let mut new = room;
        new["pulse_rate"] = json!(7.5);
        administrator.put("/centres/S07/rooms/R1", &etag, &new).expect(200);
        administrator.put("/centres/S07/rooms/R1", &etag, &new).problem(412, "stale");
        administrator.put("/centres/S07/rooms/R0", &etag, &new).problem(404, "not_found");
    }

    fn a_centre_sees_itself_alone(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        other(&served);
        let seen = member.get("/centres").expect(200).json();
        assert_eq!(seen["items"].as_array().unwrap().len(), 1);
        for path in ["/centres/S08", "/centres/S08/rooms", "/centres/S99", "/centres/nowhere"] {
            member.get(path).problem(404, "not_found");
        }
        member.post("/centres/S08/case-codes", &json!({ "number": 1 })).problem(404, "not_found");
        let monitor = central(&served, Role::Monitor);
        assert_eq!(monitor.get("/centres").expect(200).json()["items"].as_array().unwrap().len(), 2);
    }

    fn case_codes_are_random_and_bounded(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let issue = |number: i64| member.post("/centres/S07/case-codes", &json!({ "number": number }));
        let codes = issue(5).expect(201).json()["codes"].as_array().unwrap().clone();
        assert_eq!(codes.len(), 5);
        for wrong in [0, -1, 100_000] {
            let problem = issue(wrong).problem(422, "must_be_mended");
            assert_eq!(Answer::mends(&problem)[0].0, "/number", "{problem}");
        }
    }
}
