//! Bringing in files: looked through, mended in place, stored; by a form without script, on
//! both stores.

use quietbeam::intake::{FileKind, header};
use quietbeam_schema::access::Role;
use quietbeam_tests::server::{Answer, Asked, Sends, Served};
use quietbeam_tests::visitor::Visitor;
use quietbeam_tests::{on_both_stores, open_document, sample};
use serde_json::{Value, json};

/// A file of cases as a program of another country writes it.
pub(crate) struct Messy {
    pub(crate) columns: Vec<String>,
    pub(crate) rows: Vec<Vec<String>>,
}

impl Messy {
    /// Rows under the dictionary's own header, all but the last column.
    pub(crate) fn of(rows: &[Value]) -> Self {
        let columns = header(FileKind::Cases);
        let cell = |value: &Value| match value {
            Value::Null => String::new(),
            Value::String(text) => text.clone(),
            Value::Array(codes) => {
                codes.iter().map(|code| code.as_str().unwrap()).collect::<Vec<_>>().join(";")
            }
            other => other.to_string(),
        };
        let rows = rows.iter().map(|row| columns.iter().map(|column| cell(&row[column])).collect()).collect();
        Self { columns, rows }
    }

    pub(crate) fn put(&mut self, row: usize, column: &str, text: &str) {
        let place = self.columns.iter().position(|known| known == column).unwrap();
        self.rows[row][place] = text.to_owned();
    }

    pub(crate) fn add(&mut self, column: &str, cells: &[&str]) {
        self.columns.push(column.to_owned());
        for (row, cell) in self.rows.iter_mut().zip(cells) {
            row.push((*cell).to_owned());
        }
    }

    fn without(&mut self, column: &str) {
        let place = self.columns.iter().position(|known| known == column).unwrap();
        self.columns.remove(place);
        self.rows.iter_mut().for_each(|row| drop(row.remove(place)));
    }

    /// Commas, as a program of this country writes it.
    fn delimited(&self) -> Vec<u8> {
        let mut out = csv::Writer::from_writer(Vec::new());
        out.write_record(&self.columns).unwrap();
        self.rows.iter().for_each(|row| out.write_record(row).unwrap());
        out.into_inner().unwrap()
    }

    /// Semicolons, two empty columns at the right, one byte a letter.
    pub(crate) fn bytes(&self) -> Vec<u8> {
        let line = |cells: &[String]| {
            let quoted = cells.iter().map(|cell| match cell.contains([';', '"', '\n']) {
                true => format!("\"{}\"", cell.replace('"', "\"\"")),
                false => cell.clone(),
            });
            format!("{};;\r\n", quoted.collect::<Vec<_>>().join(";"))
        };
        let text: String =
            std::iter::once(line(&self.columns)).chain(self.rows.iter().map(|row| line(row))).collect();
        encoding_of_one_byte(&text)
    }
}

/// The letters used here stand at the same number in Unicode and in Windows-1252 (WHATWG
/// encoding standard, index windows-1252).
fn encoding_of_one_byte(text: &str) -> Vec<u8> {
    text.chars().map(|c| u8::try_from(u32::from(c)).expect("a letter of one byte")).collect()
}

/// Three cases: one that is right, one with a code that is none and no unit of the area, one
/// with words that could point to a person.
pub(crate) fn messy() -> Messy {
    let case = |changes: Value| sample::with(sample::conventional_case(), changes);
    let mut file = Messy::of(&[
        case(json!({ "skin_to_skin_min": 101 })),
        case(json!({ "skin_to_skin_min": 102, "sex": "q" })),
        case(json!({ "skin_to_skin_min": 103 })),
    ]);
    let place = file.columns.iter().position(|column| column == "sex").unwrap();
    file.columns[place] = "Sex".to_owned();
    file.put(0, "Sex", "Female");
    for row in 0..3 {
        file.put(row, "bmi", "27,4");
        file.put(row, "kap", ["226,8", "230,1", "219,5"][row]);
    }
    file.without("kap_unit");
    file.put(2, "change_reason", "typed by Dr. Example on 02.07.2026");
    file.add("Größe µ", &["=HYPERLINK(\"x\")", "Erna Example", "<script>"]);
    file
}

pub(crate) fn bring(visitor: &Visitor<'_>, files: &[(&str, &[u8])]) -> Answer {
    let address = format!("/imports?form_token={}", visitor.form_token());
    visitor.send(&Asked::new("POST", address).files(files).header("sec-fetch-site", "same-origin"))
}

/// Brings in files that can be looked through; the address of the import.
pub(crate) fn brought(visitor: &Visitor<'_>, files: &[(&str, &[u8])]) -> String {
    bring(visitor, files).expect(303).header("location").unwrap().to_owned()
}

fn coordinator<'s>(served: &'s Served<'_>) -> Visitor<'s> {
    Visitor::member(served, "coordinator", Role::Coordinator, &[served.registry.centre("S07")])
}

/// The name of the control with this label.
fn control(page: &str, label: &str) -> String {
    let tags: Vec<&str> =
        page.split('<').filter(|tag| tag.contains(&format!("aria-label=\"{label}\""))).collect();
    let [tag] = tags.as_slice() else { panic!("{} controls with the label {label}: {page}", tags.len()) };
    tag.split("name=\"").nth(1).unwrap().split('"').next().unwrap().to_owned()
}

fn version(page: &str) -> String {
    page.split("name=\"version\" value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned()
}

on_both_stores! {
    fn a_messy_file_is_mended_in_place_and_stored(registry) {
        let served = Served::new(registry);
        let visitor = coordinator(&served);
        let address = brought(&visitor, &[("cases", &messy().bytes())]);
        let page = visitor.get(&address).expect(200).text();
        for said in [
            "Nothing is stored yet",
            "3 rows, ",
            "semicolon · Windows-1252",
            "In which unit is your column “kap”?",
            "219,5 to 230,1, with 226,8 in the middle",
            // 226.8 in each unit, by the factors of the metric system.
            "middle 2.268 Gy·cm²",
            "middle 226.8 Gy·cm², implausible",
            "27,4 is read as 27.4",
            "Größe µ",
            "Nothing of it was kept",
            "What stood here was not kept",
        ] {
            assert!(page.contains(said), "{said}: {page}");
        }
        let kept = registry.raw().everything();
        for never in ["Erna", "Dr. Example", "02.07.2026", "HYPERLINK", "&lt;script&gt;"] {
            assert!(!page.contains(never) && !kept.contains(never), "{never} was kept");
        }

        // Nothing is stored before the question is answered and the rows are mended.
        for ask in ["store", "store_good"] {
            let refused = visitor.post(&address, &[("version", &version(&page)), ("do", ask)]).expect(422).text();
            assert!(refused.contains("Say first in which unit the column is"), "{refused}");
        }
        let (sex, reason) = (control(&page, "Sex, row 2"), control(&page, "Reason for the change, row 3"));
        let fields = [
            ("version", version(&page)), ("unit", "uGy.m2".to_owned()), ("leave_out", "yes".to_owned()),
            ("do", "check".to_owned()),
        ];
        let mut fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
        fields.extend([(sex.as_str(), "m"), (reason.as_str(), "")]);
        visitor.post(&address, &fields).expect(303);
        let page = visitor.get(&address).expect(200).text();
        assert!(page.contains("Store 3 cases") && !page.contains("Check again first"), "{page}");
        assert_eq!(registry.raw().count("case_revision"), 0);

        // Whoever answers what they no longer see is told so.
        let stale = visitor.post(&address, &[("version", "1"), ("do", "store")]).expect(422).text();
        assert!(stale.contains("Somebody else answered meanwhile"), "{stale}");

        visitor.post(&address, &[("version", &version(&page)), ("do", "store")]).expect(303);
        let receipt = visitor.get(&address).expect(303).header("location").unwrap().to_owned();
        let page = visitor.get(&receipt).expect(200).text();
        assert!(page.contains("Three cases are stored"), "{page}");
        let codes = visitor.get(&format!("{}/codes.csv", receipt.split('?').next().unwrap())).expect(200).text();
        assert_eq!(codes.lines().count(), 4, "{codes}");
        assert_eq!(registry.raw().count("case_revision"), 3);
        assert_eq!(registry.raw().count("import_job_file"), 0);
        let stored = registry.raw().texts("SELECT record FROM case_revision ORDER BY seq");
        let second: Value = serde_json::from_str(&stored[1]).unwrap();
        assert_eq!((&second["sex"], &second["bmi"], &second["kap_unit"]), (&json!("m"), &json!(27.4), &json!("uGy.m2")));
        // The member stored them, not the server.
        let told = registry.audit();
        let stored = told.iter().find(|row| row.event.deed == quietbeam_schema::audit::Deed::FilesImported).unwrap();
        assert!(stored.actor.to_string().len() > 20, "{}", stored.actor);
    }

    fn an_open_document_workbook_is_looked_through_mended_and_stored(registry) {
        let served = Served::new(registry);
        let visitor = coordinator(&served);
        let cases = Messy::of(&[
            sample::zero_fluoroscopy_case(),
            sample::with(sample::conventional_case(), json!({ "sex": "q" })),
        ]);
        let rows = open_document::rows(&cases.delimited());
        let book = open_document::workbook(&[("notes", ""), ("Cases", &rows)]);
        let address = brought(&visitor, &[("cases", &book)]);
        let page = visitor.get(&address).expect(200).text();
        assert!(page.contains("2 rows, ") && !page.contains("Windows-1252"), "{page}");
        let sex = control(&page, "Sex, row 2");
        let version = version(&page);
        visitor.post(&address, &[("version", version.as_str()), ("do", "check"), (sex.as_str(), "f")]).expect(303);
        let version = self::version(&visitor.get(&address).expect(200).text());
        visitor.post(&address, &[("version", version.as_str()), ("do", "store")]).expect(303);
        assert_eq!(registry.raw().count("case_revision"), 2);
        let text = bring(&visitor, &[("cases", &open_document::of_content("<letter/>"))]).expect(422).text();
        assert!(text.contains("neither an .xlsx nor an .ods file"), "{text}");
    }

    fn the_same_file_again_changes_nothing(registry) {
        let served = Served::new(registry);
        let visitor = coordinator(&served);
        let file = Messy::of(&[sample::zero_fluoroscopy_case()]).bytes();
        let address = brought(&visitor, &[("cases", &file)]);
        let page = visitor.get(&address).expect(200).text();
        visitor.post(&address, &[("version", &version(&page)), ("do", "store")]).expect(303);
        let again = brought(&visitor, &[("cases", &file)]);
        let receipt = visitor.get(&again).expect(303).header("location").unwrap().to_owned();
        let page = visitor.get(&receipt).expect(200).text();
        assert!(page.contains("These very files were brought in before"), "{page}");
        assert_eq!(registry.raw().count("case_revision"), 1);
    }

    fn good_rows_are_stored_alone_and_the_others_are_given_back(registry) {
        let served = Served::new(registry);
        let visitor = coordinator(&served);
        let mut file = Messy::of(&[
            sample::with(sample::zero_fluoroscopy_case(), json!({ "skin_to_skin_min": 90 })),
            sample::with(sample::zero_fluoroscopy_case(), json!({ "sex": "q" })),
        ]);
        file.put(1, "change_reason", "=2+5");
        let address = brought(&visitor, &[("cases", &file.bytes())]);
        let page = visitor.get(&address).expect(200).text();
        assert!(page.contains("Store one case, leave 1 out"), "{page}");
        let whole = visitor.post(&address, &[("version", &version(&page)), ("do", "store")]).expect(422).text();
        assert!(whole.contains("Mend the rows first"), "{whole}");

        let marked = visitor.get(&format!("{address}/marked/cases")).expect(200);
        assert!(marked.header("content-disposition").unwrap().contains("cases-marked.csv"));
        let text = marked.text();
        assert_eq!(text.lines().count(), 3, "{text}");
        assert!(text.lines().next().unwrap().ends_with(";change_reason;to mend"), "{text}");
        assert!(text.lines().nth(2).unwrap().contains(";'=2+5;\"Sex is not a code of this list; use one of: f, m, x.\""), "{text}");
        let only = visitor.get(&format!("{address}/marked/cases?only_to_mend=true")).expect(200).text();
        assert_eq!(only.lines().count(), 2, "{only}");

        visitor.post(&address, &[("version", &version(&page)), ("do", "store_good")]).expect(303);
        let receipt = visitor.get(&address).expect(303).header("location").unwrap().to_owned();
        let page = visitor.get(&receipt).expect(200).text();
        assert!(page.contains("One case is stored") && page.contains("Left out."), "{page}");

        // The marked file comes back mended: its last column is read as if it were not there.
        let mended = only.replace(";q;", ";m;");
        let address = brought(&visitor, &[("cases", mended.as_bytes())]);
        let page = visitor.get(&address).expect(200).text();
        assert!(page.contains("Store one case") && !page.contains("no field"), "{page}");
    }

    fn another_centres_import_is_not_there(registry) {
        let served = Served::new(registry);
        let visitor = coordinator(&served);
        let address = brought(&visitor, &[("cases", &Messy::of(&[sample::zero_fluoroscopy_case()]).bytes())]);
        let page = visitor.get(&address).expect(200).text();
        let other = Visitor::member(&served, "other", Role::Coordinator, &[registry.centre("S08")]);
        let never = "/imports/01930000-0000-7000-8000-000000000000";
        let absent = other.get(never).expect(404).text();
        assert_eq!(other.get(&address).expect(404).text(), absent);
        other.get(&format!("{address}/marked/cases")).expect(404);
        for ask in ["check", "store", "store_good", "drop"] {
            other.post(&address, &[("version", &version(&page)), ("do", ask)]).expect(404);
        }
        assert!(!other.get("/imports").expect(200).text().contains(&address));
        visitor.post(&address, &[("version", &version(&page)), ("do", "store")]).expect(303);
        let receipt = visitor.get(&address).expect(303).header("location").unwrap().to_owned();
        let receipt = receipt.split('?').next().unwrap().to_owned();
        other.get(&receipt).expect(404);
        other.get(&format!("{receipt}/codes.csv")).expect(404);
        assert_eq!(registry.raw().count("case_revision"), 1);
    }

    fn what_is_no_table_is_refused_on_the_form(registry) {
        let served = Served::new(registry);
        let visitor = coordinator(&served);
        let good = Messy::of(&[sample::zero_fluoroscopy_case()]).bytes();
        for (files, said) in [
            (&[][..], "No file was chosen"),
            (&[("cases", &b""[..])][..], "The file is empty"),
            (&[("cases", &b"period,period\n"[..])][..], "stands twice in the header"),
            (&[("cases", &b"\xD0\xCF\x11\xE0rest"[..])][..], "locked with a password"),
            (&[("cases", &b"PK\x03\x04"[..]), ("follow_ups", &good)][..], "A workbook comes alone"),
        ] {
            let page = bring(&visitor, files).expect(422).text();
            assert!(page.contains(said), "{said}: {page}");
        }
        assert_eq!(registry.raw().count("import_job"), 0);
        let token = visitor.form_token();
        let foreign = Asked::new("POST", "/imports?form_token=x").files(&[("cases", &good)]);
        visitor.send(&foreign.header("sec-fetch-site", "same-origin")).expect(403);
        let elsewhere = Asked::new("POST", format!("/imports?form_token={token}")).files(&[("cases", &good)]);
        visitor.send(&elsewhere.header("sec-fetch-site", "cross-site")).expect(403);
    }

    fn a_day_later_it_is_gone(registry) {
        let served = Served::new(registry);
        let visitor = coordinator(&served);
        let address = brought(&visitor, &[("cases", &messy().bytes())]);
        registry.hand.advance(24 * 60 * 60 - 60);
        let visitor = Visitor::new(&served);
        visitor.sign_in("coordinator", quietbeam_tests::people::PASSWORD, "");
        visitor.get(&address).expect(200);
        registry.hand.advance(60);
        visitor.get(&address).expect(404);
        quietbeam::registry::imports::work::sweep(&registry.store).unwrap();
        assert_eq!((registry.raw().count("import_job"), registry.raw().count("import_job_file")), (0, 0));
    }

    fn codes_are_issued_ahead_and_listed_until_they_are_used(registry) {
        let served = Served::new(registry);
        let visitor = coordinator(&served);
        for number in ["0", "1001", "many"] {
            let page = visitor.post("/case-codes", &[("number", number)]).expect(422).text();
            assert!(page.contains("Ask for 1 to 1000 codes at once"), "{page}");
        }
        assert_eq!(visitor.post("/case-codes", &[("number", "3")]).expect(303).header("location"), Some("/case-codes#sheet"));
        assert!(visitor.get("/case-codes").expect(200).text().contains("Three case codes are not used yet"));
        let text = visitor.get("/case-codes.csv").expect(200).text();
        let first = text.lines().nth(1).unwrap().split(',').nth(1).unwrap().to_owned();
        let mut case = sample::zero_fluoroscopy_case();
        case["case_code"] = json!(first);
        served.sign_in("coordinator").post("/cases", &case).expect(201);
        let left = visitor.get("/case-codes.csv").expect(200).text();
        assert!(left.lines().count() == 3 && !left.contains(&first), "{left}");
        let other = Visitor::member(&served, "other", Role::Coordinator, &[registry.centre("S08")]);
        assert_eq!(other.get("/case-codes.csv").expect(200).text().lines().count(), 1);
        other.post("/case-codes", &[("number", "3"), ("centre", "S07")]).expect(404);
    }
}

#[test]
fn templates_are_given_to_everyone() {
    let registry = quietbeam_tests::registry::Registry::new(quietbeam_tests::registry::Engine::Sqlite);
    let served = Served::new(&registry);
    let nobody = Visitor::new(&served);
    for kind in FileKind::ALL {
        let text = nobody.get(&format!("/templates/{kind}.csv")).expect(200).text();
        assert_eq!(text.trim_end(), header(kind).join(","));
    }
    assert!(nobody.get("/templates/codebook.csv").expect(200).text().lines().count() > 50);
    assert!(
        nobody
            .get("/templates/cases.xlsx")
            .expect(200)
            .header("content-type")
            .unwrap()
            .contains("spreadsheetml")
    );
    nobody.get("/templates/other.csv").expect(404);
}
