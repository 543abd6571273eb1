//! Changes name the version that was read, so that nobody's change is lost.

use crate::network::{at_once, central, change, coordinator, other, submitted};
use quietbeam_schema::access::Role;
use quietbeam_tests::server::{Asked, Sends, Served};
use quietbeam_tests::{on_both_stores, sample};
use serde_json::{Value, json};

fn with_weight(weight: f64) -> Value {
    change(&sample::with(sample::zero_fluoroscopy_case(), json!({ "bmi": weight })), "weighed again")
}

on_both_stores! {
    fn a_change_without_the_version_read_is_not_made(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let administrator = central(&served, Role::Administrator);
        let target = served.desk.member("target", Role::Monitor, &[]);
        let code = submitted(&member);
        let centre = json!({ "name": "House", "kind": "academic", "annual_volume": "200_499" });
        let seen = sample::zero_fluoroscopy_case()["follow_up"].clone();
        for (person, path, body) in [
            (&member, format!("/cases/{code}"), with_weight(25.0)),
            (&member, format!("/cases/{code}/follow-up"), json!({ "follow_up": seen, "reason": "seen again" })),
            (&administrator, "/centres/S07".to_owned(), centre),
            (&administrator, format!("/members/{target}/enabled"), json!({ "enabled": false })),
            (&administrator, format!("/members/{target}/membership"), json!({ "role": "society" })),
        ] {
            person.send(&Asked::new("PUT", path.clone()).json(&body)).problem(428, "if_match_required");
            for stale in ["\"r0\"", "\"r2\"", "W/\"r1\"", "*", "\"0000\", \"r9\""] {
                person.put(&path, stale, &body).problem(412, "stale");
            }
            for broken in ["r1", "\"r1", "\"\"", "'r1'", ""] {
                person.put(&path, broken, &body).problem(400, "bad_header");
            }
        }
        assert_eq!(member.get(&format!("/cases/{code}")).expect(200).etag(), "\"r1\"");
    }

    fn another_centres_case_is_absent_whatever_version_is_named(registry) {
        let served = Served::new(registry);
        let (member, outsider) = (coordinator(&served), other(&served));
        let path = format!("/cases/{}", submitted(&member));
        for tag in ["\"r1\"", "\"r9\""] {
            outsider.put(&path, tag, &with_weight(25.0)).problem(404, "not_found");
            outsider.put(&path, tag, &json!({ "case": {}, "reason": "" })).problem(404, "not_found");
        }
        let follow_up = json!({ "follow_up": {}, "reason": "" });
        outsider.put(&format!("{path}/follow-up"), "\"r1\"", &follow_up).problem(404, "not_found");
    }

    fn of_two_editors_at_once_exactly_one_wins(registry) {
        let served = Served::new(registry);
        let member = coordinator(&served);
        let path = format!("/cases/{}", submitted(&member));
        for round in 1..=3 {
            let tag = format!("\"r{round}\"");
            let answers = at_once(6, |editor| {
                member.put(&path, &tag, &with_weight(20.0 + (round * 10 + editor) as f64 / 10.0)).status
            });
            assert_eq!(answers, [200, 412, 412, 412, 412, 412]);
        }
        let history = member.get(&format!("{path}/history")).expect(200).json();
        assert_eq!(history["revisions"].as_array().unwrap().len(), 4);
        assert_eq!(member.get(&path).expect(200).etag(), "\"r4\"");
    }

    fn each_version_has_its_own_mark(registry) {
        let served = Served::new(registry);
        let administrator = central(&served, Role::Administrator);
        registry.centre("S07");
        let first = administrator.get("/centres/S07").expect(200).etag();
        let renamed = |name: &str| json!({ "name": name, "kind": "academic", "annual_volume": "200_499" });
        let second = administrator.put("/centres/S07", &first, &renamed("House on the hill")).expect(200).etag();
        assert_ne!(first, second);
        assert_eq!(administrator.get("/centres/S07").expect(200).etag(), second);
        administrator.put("/centres/S07", &first, &renamed("House by the sea")).problem(412, "stale");
        assert_eq!(administrator.get("/centres/S07").expect(200).json()["name"], "House on the hill");
    }

    /// What has no revisions is compared by its content: that too must hold until it is changed.
    fn of_administrators_at_once_exactly_one_wins(registry) {
        let served = Served::new(registry);
        let administrator = central(&served, Role::Administrator);
        registry.centre("S07");
        let target = served.desk.member("target", Role::Monitor, &[]);
        let room = json!({ "kap_unit": "uGy.m2", "air_kerma_shown": true });
        administrator.send(&Asked::new("PUT", "/centres/S07/rooms/R1").json(&room)).expect(200);
        let room_tag = administrator.get("/centres/S07/rooms").expect(200).json()["items"][0]["etag"].clone();
        let room_tag = room_tag.as_str().unwrap().to_owned();
        let centre_tag = administrator.get("/centres/S07").expect(200).etag();
        let member_tag = administrator.get(&format!("/members/{target}")).expect(200).etag();
        let renamed = |number: usize| json!({ "name": format!("House {number}"), "kind": "academic", "annual_volume": "200_499" });
        let faster = |number: usize| json!({ "kap_unit": "uGy.m2", "air_kerma_shown": true, "pulse_rate": number as f64 + 1.5 });
        let roles = ["society", "investigator", "adjudicator", "administrator"];
        let moved = |number: usize| json!({ "role": (roles[number]) });
        let (rooms, membership) = ("/centres/S07/rooms/R1".to_owned(), format!("/members/{target}/membership"));
        type Body<'b> = &'b (dyn Fn(usize) -> Value + Sync);
        let changes: [(String, String, Body<'_>); 3] =
            [("/centres/S07".to_owned(), centre_tag, &renamed), (rooms, room_tag, &faster), (membership, member_tag, &moved)];
        for (path, tag, body) in changes {
            let answers = at_once(4, |number| administrator.put(&path, &tag, &body(number)).status);
            assert_eq!(answers, [200, 412, 412, 412], "{path}");
        }
    }
}
