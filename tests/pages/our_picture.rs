//! A centre's own picture: its numbers counted again from the records, what is not shown,
//! who may look, and how it is drawn.

use std::collections::BTreeMap;
use std::path::PathBuf;

use quietbeam_schema::access::Role;
use quietbeam_schema::ids::CentreCode;
use quietbeam_tests::browser::{Browser, ENTER, TAB};
use quietbeam_tests::demo;
use quietbeam_tests::on_both_stores;
use quietbeam_tests::people::PASSWORD;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::sample;
use quietbeam_tests::server::{Sends, Served};
use quietbeam_tests::visitor::Visitor;
use serde_json::{Value, json};

/// The part of a page that one figure takes.
fn figure<'p>(page: &'p str, id: &str) -> &'p str {
    let (_, rest) = page.split_once(&format!("<figure class=\"figure\" id=\"{id}\">")).expect("the figure");
    rest.split("</figure>").next().unwrap()
}

/// The rows of the table of a figure as texts.
fn rows(page: &str, id: &str) -> Vec<Vec<String>> {
    let (_, body) = figure(page, id).split_once("<tbody>").expect("a table");
    let body = body.split("</tbody>").next().unwrap();
    let cells = |row: &str| {
        let cells = row.split("<td").flat_map(|part| part.split("<th")).skip(1);
        cells.map(|cell| text_of(&format!("<td{cell}"))).collect()
    };
    body.split("<tr>").skip(1).map(cells).collect()
}

fn text_of(html: &str) -> String {
    let parts = html.split('<').map(|part| part.split_once('>').map_or(part, |(_, text)| text));
    parts.collect::<String>().trim().to_owned()
}

/// The records of a centre as they are stored.
fn records(registry: &Registry, centre: &str) -> Vec<Value> {
    let query =
        format!("SELECT record FROM case_revision WHERE superseded_by_seq IS NULL AND centre = '{centre}'");
    registry.raw().texts(&query).iter().map(|record| serde_json::from_str(record).unwrap()).collect()
}

fn dark(case: &Value) -> bool {
    ["none", "standby_not_used"].contains(&case["fluoro_used"].as_str().unwrap())
}

/// Kerma-area product in Gy·cm² by the factors of the units themselves.
fn kap(case: &Value) -> Option<f64> {
    let factor = match case["kap_unit"].as_str()? {
        "Gy.cm2" => 1.0,
        "dGy.cm2" => 0.1,
        "cGy.cm2" | "uGy.m2" => 0.01,
        "mGy.cm2" => 0.001,
        other => panic!("another unit: {other}"),
    };
    Some(factor * case["kap"].as_f64()?)
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let n = values.len();
    (values[(n - 1) / 2] + values[n / 2]) / 2.0
}

/// A number of a cell: "2.3 (2.1 to 2.6)" is 2.3.
fn number(cell: &str) -> f64 {
    cell.split([' ', '%']).next().unwrap().replace(',', "").parse().unwrap()
}

/// Every number is counted a second time from the stored records, by other code.
#[test]
fn the_demo_network_is_told_as_its_records_say() {
    let registry = Registry::new(Engine::Sqlite);
    demo::take_in(&registry, 1, 1_400);
    let served = Served::new(&registry);
    let monitor = Visitor::member(&served, "monitor", Role::Monitor, &[]);
    for centre in ["S01", "S03", "S05"] {
        let page = monitor.get(&format!("/our-picture?centre={centre}")).expect(200).text();
        check_against_records(&page, &records(&registry, centre), centre);
    }
}

fn check_against_records(page: &str, cases: &[Value], centre: &str) {
    assert!(page.contains(&format!("Centre {centre}: {} cases, ", cases.len())), "{centre}");

    let mut quarters = BTreeMap::<String, Vec<&Value>>::new();
    for case in cases {
        quarters.entry(case["period"].as_str().unwrap().to_owned()).or_default().push(case);
    }
    let mut seen = 0;
    for row in rows(page, "x-ray") {
        let here = &quarters[&row[0]];
        assert_eq!(row[1], here.len().to_string(), "{centre} {}", row[0]);
        let zero: Vec<_> = here.iter().filter(|case| case["strategy_intended"] == "zero").collect();
        let conventional: Vec<_> =
            here.iter().filter(|case| case["strategy_intended"] == "conventional").collect();
        for (cell, own) in
            [(&row[2], here.iter().collect::<Vec<_>>()), (&row[3], zero), (&row[4], conventional)]
        {
            if own.len() < 11 {
                assert_eq!(cell, "not shown", "{centre} {}", row[0]);
                continue;
            }
            let share = 100.0 * own.iter().filter(|case| dark(case)).count() as f64 / own.len() as f64;
            assert!((number(cell) - share).abs() <= 0.5 + 1e-9, "{centre} {}: {cell}, {share}", row[0]);
            seen += 1;
        }
    }
    assert!(seen > 3, "{centre}: {seen} shares");
    check_beam(page, cases, centre);
    check_harm(page, cases, centre);
}

fn of<'c>(cases: &'c [Value], strategy: &str) -> Vec<&'c Value> {
    cases.iter().filter(|case| case["strategy_intended"] == strategy).collect()
}

fn check_beam(page: &str, cases: &[Value], centre: &str) {
    let crossed = of(cases, "zero").into_iter().filter(|case| !dark(case)).count();
    let said = format!(
        "X-ray was used after all in {crossed} of {} cases intended without",
        of(cases, "zero").len()
    );
    assert!(figure(page, "cross-overs").contains(&said), "{centre}: {said}");
    for row in rows(page, "cross-overs") {
        let reason = row[0].to_lowercase();
        assert!(!reason.contains("not shown") && row[1].parse::<usize>().unwrap() <= crossed, "{row:?}");
    }

    let exposed: Vec<&Value> = cases.iter().filter(|case| !dark(case)).collect();
    let areas: Vec<f64> = exposed.iter().filter_map(|case| kap(case)).collect();
    let all = rows(page, "dose").pop().unwrap();
    assert_eq!(
        (all[1].replace(',', ""), all[3].clone()),
        (cases.len().to_string(), exposed.len().to_string())
    );
    let expected = median(areas);
    assert!((number(&all[5]) / expected - 1.0).abs() < 0.05, "{centre}: {} against {expected}", all[5]);
}

fn check_harm(page: &str, cases: &[Value], centre: &str) {
    let within = |event: &Value| event["onset_day"].as_f64().is_none_or(|day| day <= 30.0);
    let events: Vec<&Value> = cases
        .iter()
        .flat_map(|case| case["complications"].as_array().unwrap())
        .filter(|event| within(event))
        .collect();
    let told: usize =
        rows(page, "detection").iter().rev().skip(3).map(|row| row[1].parse::<usize>().unwrap()).sum();
    assert_eq!(told, events.len(), "{centre}");
    let by_ice = events.iter().filter(|event| event["detect_method"] == "ice").count();
    let row = rows(page, "detection").into_iter().find(|row| row[0] == "Intracardiac echo");
    assert_eq!(row.map_or(0, |row| row[1].parse().unwrap()), by_ice, "{centre}");

    let mut operators = BTreeMap::<String, usize>::new();
    for case in of(cases, "zero") {
        *operators.entry(case["op_code"].as_str().unwrap().to_owned()).or_default() += 1;
    }
    let told: BTreeMap<String, usize> = rows(page, "learning")
        .iter()
        .map(|row| (row[0].clone(), row[1].replace(',', "").parse().unwrap()))
        .collect();
    assert_eq!(told, operators, "{centre}");
}

/// A case of a quarter in which X-ray was intended and used, with its own dose.
fn conventional(dose: f64, minutes: u32) -> Value {
    let changes = json!({ "air_kerma": dose, "kap": 9.0 * dose, "skin_to_skin_min": minutes });
    sample::with(sample::conventional_case(), changes)
}

fn send(served: &Served<'_>, cases: impl IntoIterator<Item = Value>) -> Vec<String> {
    let coordinator = served.sign_in("sender");
    let sent = cases.into_iter().map(|case| coordinator.post("/cases", &case).expect(201).json());
    sent.map(|sent| sent["code"].as_str().unwrap().to_owned()).collect()
}

on_both_stores! {
    /// Ten cases say nothing; the eleventh makes a share and a median.
    fn ten_cases_are_not_shown_and_eleven_are(registry) {
        let served = Served::new(registry);
        let centre = registry.centre("S07");
        served.desk.member("sender", Role::Coordinator, &[centre]);
        let visitor = Visitor::member(&served, "lead", Role::CentreLead, &[centre]);
        send(&served, (0..10).map(|at| conventional(20.0 + f64::from(at), 60 + at)));
        let page = visitor.get("/our-picture").expect(200).text();
        for id in ["x-ray", "dose", "levels", "digits", "cross-overs", "detection"] {
            let figure = figure(&page, id);
            assert!(figure.contains("not shown</text>") && figure.contains(">not shown</span>"), "{id}: {figure}");
            // What a table does not show no chart shows.
            let drawing = figure.split("<p class=\"words-of\">").next().unwrap();
            for shape in ["<circle class=\"ink-fill\"", "ink-fill\" x", "grey-bar", "open-bar", "grey-fill\" x"] {
                // The marks of the two arms stand in legends and heads.
                let legend = usize::from(["x-ray", "dose"].contains(&id) && shape == "ink-fill\" x") * 2
                    + usize::from(id == "x-ray" && shape.contains("circle")) * 2;
                assert_eq!(drawing.matches(shape).count(), legend, "{id} draws {shape}");
            }
        }
        assert!(page.contains("Where fewer than eleven cases stand behind"), "{page}");

        send(&served, [conventional(30.0, 70)]);
        let page = visitor.get("/our-picture").expect(200).text();
        let row = &rows(&page, "x-ray")[0];
        assert_eq!((row[1].as_str(), row[2].as_str()), ("11", "0 % (0 to 26 %)"), "{row:?}");
        // The median of 20, 21, … 30 by eye; the limits are the second and the tenth, as binomial
        // tables say for eleven values (R qbinom(0.025, 11, 0.5) is 2).
        assert_eq!(rows(&page, "dose").pop().unwrap()[4], "25 (21 to 29)");
    }

    fn a_unit_that_jumped_and_a_case_entered_twice_are_work_to_do(registry) {
        let served = Served::new(registry);
        let centre = registry.centre("S07");
        served.desk.member("sender", Role::Coordinator, &[centre]);
        let visitor = Visitor::member(&served, "lead", Role::CentreLead, &[centre]);
        let quarter = |period: &'static str, unit: &'static str, from: u32| {
            (0..11).map(move |at| {
                let fields = json!({ "period": period, "kap_unit": unit, "fluoro_time": 9.0 + f64::from(at) });
                sample::with(conventional(20.0 + f64::from(at), from + at), fields)
            })
        };
        // The second quarter's console shows the same numbers in another unit: a tenth.
        let first = send(&served, quarter("2026Q1", "uGy.m2", 60));
        send(&served, quarter("2026Q2", "mGy.cm2", 90));
        let again = send(&served, [quarter("2026Q1", "uGy.m2", 60).next().unwrap()]);
        let page = visitor.get("/our-picture").expect(200).text();
        assert!(page.contains("Kerma-area product became about one 10th: median 2.2 Gy·cm² in 2026Q1, 0.23 Gy·cm² in 2026Q2."), "{page}");
        assert!(page.contains("href=\"/cases?period=2026Q2&amp;centre=S07\""), "{page}");
        let repeats = format!("href=\"/cases/{}\"", again[0]);
        assert!(page.contains(&repeats) && page.contains(&format!("href=\"/cases/{}\"", first[0])), "{page}");
        assert_eq!(page.matches("May repeat").count(), 1, "{page}");
        visitor.get("/cases?period=2026Q2&centre=S07").expect(200);
    }

    /// Another centre is like one that never was, in every way of asking.
    fn nobody_sees_another_centres_picture(registry) {
        let served = Served::new(registry);
        let (own, other) = (registry.centre("S07"), registry.centre("S08"));
        served.desk.member("sender", Role::Coordinator, &[other]);
        let codes = send(&served, (0..12).map(|at| conventional(700.0 + f64::from(at), 60 + at)));
        for role in [Role::Coordinator, Role::CentreLead] {
            let visitor = Visitor::member(&served, &format!("{role}.own"), role, &[own]);
            let there = visitor.get("/our-picture?centre=S08").expect(404).text();
            assert_eq!(there, visitor.get("/our-picture?centre=S99").expect(404).text());
            assert_eq!(there, visitor.get("/our-picture?centre=nonsense").expect(404).text());
            let page = visitor.get("/our-picture").expect(200).text();
            assert!(page.contains("Centre S07: 0 cases."), "{page}");
            for theirs in ["S08", "70", codes[0].as_str()] {
                let said = page.split("<main").nth(1).unwrap();
                assert!(!text_of(said).contains(theirs), "{role} sees {theirs}");
            }
            assert_eq!(page, visitor.get("/our-picture?centre=S07").expect(200).text());
        }
        let monitor = Visitor::member(&served, "monitor", Role::Monitor, &[]);
        let page = monitor.get("/our-picture?centre=S08").expect(200).text();
        assert!(page.contains("Centre S08: 12 cases, 2025Q3."), "{page}");
        monitor.get("/our-picture?centre=S99").expect(404);
        for role in [Role::Adjudicator, Role::Investigator, Role::Society, Role::Administrator] {
            Visitor::member(&served, role.name(), role, &[]).get("/our-picture").expect(403);
        }
    }

    /// With four centres nothing of the network is shown, with five it is, the same for all.
    fn the_network_shows_with_five_centres_only(registry) {
        let served = Served::new(registry);
        let codes: Vec<CentreCode> = (1..=5).map(|at| registry.centre(&format!("S0{at}"))).collect();
        served.desk.member("sender", Role::Coordinator, &codes);
        let all = |centre: &str| {
            let coordinator = served.sign_in("sender");
            for at in 0..11 {
                let case = conventional(21.0 + f64::from(at), 60 + at);
                coordinator.post(&format!("/cases?centre={centre}"), &case).expect(201);
            }
        };
        let monitor = Visitor::member(&served, "monitor", Role::Monitor, &[]);
        let network = |centre: &str| {
            let page = monitor.get(&format!("/our-picture?centre={centre}")).expect(200).text();
            rows(&page, "levels")[1][1].clone()
        };
        ["S01", "S02", "S03", "S04"].iter().for_each(|centre| all(centre));
        assert_eq!(network("S01"), "not shown");
        all("S05");
        // The median of 21 · 9, 22 · 9, … µGy·m² is 26 · 9 / 100 = 2.34 Gy·cm², to two digits.
        assert_eq!([network("S01"), network("S05")], ["2.3", "2.3"]);
    }

    fn hostile_words_stay_words(registry) {
        let served = Served::new(registry);
        let centre = registry.centre("S07");
        let visitor = Visitor::member(&served, "lead", Role::CentreLead, &[centre]);
        for (asked, status) in [
            ("centre=%3Cscript%3Ealert(1)%3C/script%3E", 404),
            ("centre=S07%27%20OR%201=1--", 404),
            ("centre=%00", 404),
            ("centre=&centre=S07", 400),
            ("other=1", 400),
        ] {
            let answer = visitor.get(&format!("/our-picture?{asked}"));
            assert_eq!(answer.status, status, "{asked}");
            assert!(!answer.text().contains("<script>alert") && !answer.text().contains("OR 1=1"), "{asked}");
        }
        assert_eq!(visitor.get("/our-picture?centre=%20S07%20").expect(200).status, 200);
    }
}

/// In a real browser with the whole invented network: fits 320 px, and with
/// `QUIETBEAM_SCREENSHOTS` is drawn for people to judge, in grey as well.
#[test]
fn the_picture_fits_a_narrow_screen() {
    let registry = Registry::new(Engine::Sqlite);
    let pictures = std::env::var_os("QUIETBEAM_SCREENSHOTS").map(PathBuf::from);
    demo::take_in(&registry, 1, if pictures.is_some() { 4_300 } else { 700 });
    let served = Served::new(&registry);
    served.desk.member("monitor", Role::Monitor, &[]);
    let browser = Browser::open();
    browser.go(&format!("{}/sign-in", served.address()));
    browser.press("monitor");
    browser.press(TAB);
    browser.press(PASSWORD);
    browser.press(ENTER);
    for centre in ["S01", "S03", "S05", "S06"] {
        browser.resize(320, 700);
        browser.go(&format!("{}/our-picture?centre={centre}", served.address()));
        assert_eq!(browser.evaluate("return document.documentElement.scrollWidth"), 320, "{centre}");
        assert_eq!(browser.evaluate(WIDE_LETTERS), json!([]), "{centre}");
        let Some(folder) = &pictures else { continue };
        for (theme, width) in [("light", 1280), ("light", 390), ("dark", 1280), ("dark", 390)] {
            browser.prefer(theme);
            browser.resize(width, 800);
            browser.picture(&folder.join(format!("our-picture-{centre}-{theme}-{width}.png")));
        }
        browser.prefer("light");
        browser.resize(1280, 800);
        browser.evaluate("document.documentElement.style.filter = 'grayscale(1)'");
        browser.picture(&folder.join(format!("our-picture-{centre}-grey-1280.png")));
    }
    let refused = |line: &String| line.contains("Content Security Policy") || line.contains("404");
    assert_eq!(browser.complaints().into_iter().filter(refused).collect::<Vec<_>>(), [""; 0]);
}

/// Letters of a drawing that leave it.
const WIDE_LETTERS: &str = "
    return [...document.querySelectorAll('.figure svg text')]
        .filter((text) => text.getClientRects().length > 0)
        .filter((text) => {
            const inner = text.getBoundingClientRect(), outer = text.closest('.figure').getBoundingClientRect();
            return inner.left < outer.left - 1 || inner.right > outer.right + 1;
        })
        .map((text) => text.textContent);
";
