//! For those who gave the data: what was published, with the own centre's figures beside it and
//! nothing of any other centre.

use quietbeam_schema::access::Role;
use quietbeam_schema::vocabulary::{Coded, Strategy};
use quietbeam_tests::on_both_stores;
use quietbeam_tests::sample;
use quietbeam_tests::server::{Sends, Served};
use quietbeam_tests::visitor::Visitor;
use serde_json::json;

use crate::releases::{freeze, publish};

/// Each centre with its number of cases and its dose: no two have a number in common, nor has the
/// network.
const CASES: [(&str, usize, u32); 3] = [("S01", 14, 61), ("S02", 37, 173), ("S03", 23, 419)];

fn send(served: &Served<'_>) {
    for (name, cases, dose) in CASES {
        let centre = served.registry.centre(name);
        let sender = served.member(&format!("sender.{}", name.to_lowercase()), Role::Coordinator, &[centre]);
        let with_x_ray = json!({ "air_kerma": dose, "kap": 9 * dose });
        for at in 0..cases {
            let case = match at {
                0..12 => sample::zero_fluoroscopy_case(),
                _ => sample::with(sample::conventional_case(), with_x_ray.clone()),
            };
            sender.post("/cases", &case).expect(201);
        }
    }
}

/// The cells of the own line of a row, of the first table.
fn ours(page: &str, label: &str) -> Vec<String> {
    let (_, row) = page.split_once(&format!(">{label}</th>")).unwrap_or_else(|| panic!("no {label}: {page}"));
    let (_, own) = row.split_once("<tr class=\"own\">").unwrap();
    let own = own.split("</tr>").next().unwrap();
    own.split("<td class=\"number\">")
        .skip(1)
        .map(|cell| cell.split('<').next().unwrap().to_owned())
        .collect()
}

on_both_stores! {
    fn each_centre_reads_its_own_figures_and_no_other_ones(registry) {
        let served = Served::new(registry);
        send(&served);
        let cut = freeze(&served, "spring");
        let publishing = |fields: &[(&str, &str)]| publish(&served, &cut, fields);
        publishing(&[("tables", "year"), ("tables", "dose"), ("tables", "completeness")]);
        // What came after the cut is in neither line.
        served.sign_in("sender.s01").post("/cases", &sample::zero_fluoroscopy_case()).expect(201);

        for (name, cases, _) in CASES {
            let centre = name.parse().unwrap();
            for role in [Role::Coordinator, Role::CentreLead] {
                let visitor = Visitor::member(&served, &format!("{role}.{}", name.to_lowercase()), role, &[centre]);
                let page = visitor.get("/our-picture/published").expect(200).text();
                assert_eq!(ours(&page, "All procedures, All strategies")[0], cases.to_string());
                assert_eq!(ours(&page, &format!("All procedures, {}", Strategy::Zero.label()))[0], "12");
                // Two doses say nothing; of twenty-five and eleven the median is the one there is.
                let dose = ["–", "170", "420"][CASES.iter().position(|of| of.0 == name).unwrap()];
                assert_eq!(ours(&page, &format!("Air kerma, mGy: {}", Strategy::Conventional.label()))[2], dose);
                let told = page.split("<main").nth(1).unwrap();
                for (other, others, _) in CASES.into_iter().filter(|of| of.0 != name) {
                    assert!(!told.contains(other), "{name} reads of {other}");
                    for planted in [others, others - 12].map(|count| [format!(">{count}<"), format!(">{count} (")]).concat() {
                        assert!(!told.contains(&planted), "{name} reads {planted} of {other}: {told}");
                    }
                }
                for there in CASES.map(|of| of.0).into_iter().filter(|other| *other != name) {
                    let refused = visitor.get(&format!("/our-picture/published?centre={there}")).expect(404).text();
                    assert_eq!(refused, visitor.get("/our-picture/published?centre=S99").expect(404).text());
                }
                assert!(visitor.get("/our-picture").expect(200).text().contains("href=\"/our-picture/published\""));
            }
        }
        let monitor = Visitor::member(&served, "another.monitor", Role::Monitor, &[]);
        let page = monitor.get("/our-picture/published?centre=S02&summary=1").expect(200).text();
        assert_eq!(ours(&page, "All procedures, All strategies")[0], "37");
        for asked in ["summary=2", "summary=0", "summary=x", "summary=01", "centre=%3Cscript%3E"] {
            monitor.get(&format!("/our-picture/published?{asked}")).expect(404);
        }
        for role in [Role::Adjudicator, Role::Investigator, Role::Society, Role::Administrator] {
            Visitor::member(&served, role.name(), role, &[]).get("/our-picture/published").expect(403);
        }
    }

    fn without_a_summary_in_force_nothing_stands_beside(registry) {
        let served = Served::new(registry);
        send(&served);
        let lead = Visitor::member(&served, "lead", Role::CentreLead, &["S01".parse().unwrap()]);
        let says = |what: &str| {
            let page = lead.get("/our-picture/published").expect(200).text();
            assert!(page.contains(what), "{page}");
        };
        says("No safety summary is in force");
        let cut = freeze(&served, "spring");
        let address = publish(&served, &cut, &[]);
        says("safety summary 1");
        let society = Visitor::member(&served, "withdraws", Role::Society, &[]);
        society.post(&address, &[("do", "withdraw"), ("reason", "a column was mislabelled"), ("corrected_by", "")]).expect(303);
        says("No safety summary is in force");
        lead.get("/our-picture/published?summary=1").expect(404);
    }
}
