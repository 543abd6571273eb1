//! The administrator's pages of members, centres and rooms.

use quietbeam_schema::access::{Action, Role, Scope};
use quietbeam_schema::audit::Deed;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::registry::Registry;
use quietbeam_tests::server::{Sends, Served};
use quietbeam_tests::visitor::Visitor;

use crate::access::{case_with_question, visitor_of};

const HOSTILE: &str = "<script>alert(1)</script>";

fn deeds(registry: &Registry, deed: Deed) -> usize {
    registry.audit().iter().filter(|row| row.event.deed == deed).count()
}

fn administrator<'s>(served: &'s Served<'s>) -> Visitor<'s> {
    Visitor::member(served, "admin", Role::Administrator, &[])
}

/// The version that the page's first form was made from.
fn read(page: &str) -> String {
    let (_, rest) =
        page.split_once("name=\"read\" value=\"").unwrap_or_else(|| panic!("no version in {page}"));
    rest.split('"').next().unwrap().replace("&quot;", "\"")
}

/// A coordinator of S07, added by page: its address.
fn added(admin: &Visitor<'_>, name: &str) -> String {
    let answer = admin.post(
        "/members/new",
        &[
            ("sign_in_name", name),
            ("printed_name", "C. O'Ordinator"),
            ("role", "coordinator"),
            ("centres", "S07"),
            ("password", PASSWORD),
        ],
    );
    let location = answer.expect(303).header("location").unwrap().to_owned();
    location.strip_suffix("?done=saved").unwrap().to_owned()
}

on_both_stores! {
    fn only_the_administrator_sees_members_centres_and_rooms(registry) {
        let served = Served::new(registry);
        registry.centre("S07");
        let admin = administrator(&served);
        let member = added(&admin, "coordinator.one");
        admin.post("/centres/S07/new-room", &[("code", "R1"), ("kap_unit", "uGy.m2"), ("air_kerma_shown", "yes")]).expect(303);
        let addresses = ["/members", "/members/new", &member, "/centres", "/centres/new", "/centres/S07", "/centres/S07/new-room", "/centres/S07/rooms/R1"];
        for address in addresses {
            admin.get(address).expect(200);
        }
        for role in Role::ALL.into_iter().filter(|role| role.scope(Action::ManageMembers) == Scope::No) {
            let visitor = visitor_of(&served, role, "S07".parse().unwrap());
            for address in addresses {
                visitor.get(address).expect(403);
                if !["/members", "/centres"].contains(&address) {
                    visitor.post(address, &[("read", "\"x\"")]).expect(403);
                }
            }
        }
        for never in ["/members/01930000-0000-7000-8000-000000000000", "/members/nonsense", "/centres/S99", "/centres/S99/new-room", "/centres/S07/rooms/R9", "/centres/S07/rooms/x"] {
            admin.get(never).expect(404);
        }
        admin.post("/centres/S99/new-room", &[("code", "")]).expect(404);
    }

    fn a_member_is_added_with_a_first_password_and_signs_in(registry) {
        let served = Served::new(registry);
        registry.centre("S07");
        let admin = administrator(&served);
        let wrong = admin.post("/members/new", &[
            ("sign_in_name", "a"), ("printed_name", ""), ("role", "coordinator"), ("password", "short"),
        ]);
        let page = wrong.expect(422).text();
        for part in ["href=\"#sign_in_name\"", "href=\"#printed_name\"", "href=\"#centres\"", "href=\"#password\"", "Four things must be mended"] {
            assert!(page.contains(part), "{part}: {page}");
        }
        assert!(!page.contains("value=\"short\""), "the password comes back");
        let hostile = [("sign_in_name", "hostile.name"), ("printed_name", HOSTILE), ("role", HOSTILE), ("centres", HOSTILE), ("password", PASSWORD)];
        let page = admin.post("/members/new", &hostile).expect(422).text();
        assert!(page.contains("&lt;script&gt;") && !page.contains(HOSTILE), "{page}");
        let named = [("sign_in_name", "hostile.name"), ("printed_name", HOSTILE), ("role", "monitor"), ("password", PASSWORD)];
        let location = admin.post("/members/new", &named).expect(303).header("location").unwrap().to_owned();
        for address in ["/members", &location] {
            let page = admin.get(address).expect(200).text();
            assert!(page.contains("&lt;script&gt;") && !page.contains(HOSTILE), "{page}");
        }
        added(&admin, "coordinator.one");
        let taken = admin.post("/members/new", &[
            ("sign_in_name", "Coordinator.One"), ("printed_name", "Other"), ("role", "monitor"), ("password", PASSWORD),
        ]);
        assert!(taken.expect(422).text().contains("Another member signs in with this name"));
        let newcomer = Visitor::new(&served);
        newcomer.sign_in("coordinator.one", PASSWORD, "").expect(303);
        newcomer.get("/cases").expect(200);
        assert_eq!(deeds(registry, Deed::MemberCreated), 3);
    }

    fn a_changed_or_closed_account_is_out_at_once_and_no_change_is_lost(registry) {
        let served = Served::new(registry);
        registry.centre("S07");
        let (admin, second) = (administrator(&served), Visitor::member(&served, "second", Role::Administrator, &[]));
        let address = added(&admin, "coordinator.one");
        let member = Visitor::new(&served);
        member.sign_in("coordinator.one", PASSWORD, "").expect(303);
        let page = admin.get(&address).expect(200).text();
        let before = read(&page);
        let place = |read: &str, role: &str| vec![("do", "membership".to_owned()), ("read", read.to_owned()), ("role", role.to_owned())];
        let send = |who: &Visitor<'_>, fields: &[(&str, String)]| {
            let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
            who.post(&address, &fields)
        };
        send(&second, &place(&before, "monitor")).expect(303);
        member.get("/desk").expect(303);
        // The first administrator had read the coordinator; what was chosen comes back.
        let page = send(&admin, &place(&before, "investigator")).expect(422).text();
        assert!(page.contains("Somebody else changed this member") && page.contains("Monitor"), "{page}");
        assert!(page.contains("value=\"investigator\" selected"), "{page}");
        send(&admin, &place(&read(&page), "investigator")).expect(303);
        send(&admin, &place("nonsense", "investigator")).expect(400);
        let page = admin.get(&address).expect(200).text();
        assert!(page.contains("Investigator"), "{page}");
        member.sign_in("coordinator.one", PASSWORD, "").expect(303);
        send(&admin, &[("do", "close".to_owned()), ("read", read(&page))]).expect(303);
        member.get("/desk").expect(303);
        member.sign_in("coordinator.one", PASSWORD, "").expect(422);
        let page = admin.get(&address).expect(200).text();
        assert!(page.contains("account closed") && page.contains("Open the account again"), "{page}");
        send(&admin, &[("do", "open".to_owned()), ("read", read(&page))]).expect(303);
        member.sign_in("coordinator.one", PASSWORD, "").expect(303);
        assert_eq!(deeds(registry, Deed::MemberChanged), 2);
    }

    fn nobody_changes_the_own_role_and_an_administrator_stays(registry) {
        let served = Served::new(registry);
        let admin = administrator(&served);
        let own = format!("/members/{}", served.sign_in("admin").get("/me").expect(200).json()["id"].as_str().unwrap());
        let page = admin.get(&own).expect(200).text();
        assert!(page.contains("This is you.") && !page.contains("name=\"read\""), "{page}");
        let etag = served.sign_in("admin").get(&own).expect(200).etag();
        for fields in [
            [("do", "membership"), ("read", etag.as_str()), ("role", "monitor")],
            [("do", "close"), ("read", etag.as_str()), ("role", "")],
        ] {
            let page = admin.post(&own, &fields).expect(422).text();
            assert!(page.contains("Nobody changes the own role"), "{page}");
        }
        admin.get("/members").expect(200);
    }

    fn a_centre_joins_under_a_random_code_and_its_rooms_keep_their_unit(registry) {
        let served = Served::new(registry);
        let admin = administrator(&served);
        let page = admin.post("/centres/new", &[("name", ""), ("zero_fluoroscopy_since", "last year")]).expect(422).text();
        for part in ["href=\"#kind\"", "href=\"#annual_volume\"", "href=\"#zero_fluoroscopy_since\"", "value=\"last year\""] {
            assert!(page.contains(part), "{part}: {page}");
        }
        let centre = |name: &'static str| vec![("name", name), ("kind", "academic"), ("annual_volume", "200_499"), ("region", "North")];
        assert!(admin.post("/centres/new", &centre(" ")).expect(422).text().contains("href=\"#name\""));
        let location = admin.post("/centres/new", &centre(HOSTILE)).expect(303).header("location").unwrap().to_owned();
        let address = location.strip_suffix("?done=saved").unwrap().to_owned();
        let page = admin.get(&location).expect(200).text();
        assert!(page.contains("&lt;script&gt;") && !page.contains(HOSTILE) && page.contains("No room is entered yet"), "{page}");

        let before = read(&page);
        let change = |read: &str, name: &'static str| {
            let mut fields = centre(name);
            fields.push(("read", read));
            admin.post(&address, &fields)
        };
        change(&before, "Harbour Rhythm Unit").expect(303);
        let page = change(&before, "Another Name").expect(422).text();
        assert!(page.contains("Somebody else changed this") && page.contains("Harbour Rhythm Unit") && page.contains("value=\"Another Name\""), "{page}");

        let room = format!("{address}/new-room");
        let page = admin.post(&room, &[("code", "seven"), ("dose_correction", "much")]).expect(422).text();
        for part in ["href=\"#code\"", "href=\"#kap_unit\"", "href=\"#air_kerma_shown\"", "href=\"#dose_correction\"", "value=\"seven\""] {
            assert!(page.contains(part), "{part}: {page}");
        }
        let fields = |factor: &'static str| [("code", "R2"), ("kap_unit", "uGy.m2"), ("air_kerma_shown", "no"), ("dose_correction", factor)];
        assert!(admin.post(&room, &fields("3")).expect(422).text().contains("outside 0.5 to 2"));
        // One and a bit, or more than a thousand: nobody knows.
        assert!(admin.post(&room, &fields("1,234")).expect(422).text().contains("href=\"#dose_correction\""));
        admin.post(&room, &fields("1,1")).expect(303);
        assert!(admin.post(&room, &fields("1")).expect(422).text().contains("R2 is entered already"));
        let page = admin.get(&format!("{address}/rooms/R2")).expect(200).text();
        assert!(page.contains("µGy·m²") && page.contains("value=\"1.1\""), "{page}");
        let was = read(&page);
        let change = |read: &str, unit: &str| {
            admin.post(&format!("{address}/rooms/R2"), &[("read", read), ("kap_unit", unit), ("air_kerma_shown", "yes")])
        };
        change(&was, "Gy.cm2").expect(303);
        assert!(change(&was, "mGy.cm2").expect(422).text().contains("Somebody else changed this"));
        assert!(admin.get(&address).expect(200).text().contains("Gy·cm²"));
        assert_eq!(deeds(registry, Deed::RoomRecorded), 2);
    }

    fn nothing_clinical_stands_on_the_administrators_pages(registry) {
        let served = Served::new(registry);
        let code = case_with_question(&served);
        let admin = visitor_of(&served, Role::Administrator, "S07".parse().unwrap());
        for address in ["/desk", "/members", "/centres", "/centres/S07", "/account"] {
            let page = admin.get(address).expect(200).text();
            assert!(!page.contains(&code) && !page.contains("/cases"), "{address}: {page}");
        }
        for clinical in ["/cases", "/screening-log", "/follow-up", &format!("/cases/{code}")] {
            admin.get(clinical).expect(403);
        }
    }
}
