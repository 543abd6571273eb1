//! Cases and rows taken out on the command line, on both stores. Whoever can open the database
//! is its operator, so no right is asked for; what is taken out stands in the trail as theirs.

use std::fs;
use std::io::Read;
use std::sync::OnceLock;

use quietbeam::access::Permit;
use quietbeam::access::action::{ReadAudit, SubmitCase};
use quietbeam::cli::{Failure, run_words};
use quietbeam::clock::{Clock, Randomness};
use quietbeam::registry::cases;
use quietbeam::store::{Address, AuditFilter, AuditRow, PageRequest, Store, StoreSettings};
use quietbeam_schema::audit::{Actor, Deed};
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::ids::CentreCode;
use quietbeam_tests::postgres::Server;
use quietbeam_tests::sample;
use serde_json::{Value, json};

use crate::said;

/// A registry with one centre, as the command line opens it.
struct Place {
    folder: tempfile::TempDir,
    database: String,
    centre: CentreCode,
}

/// A server that keeps what it confirms: the command line takes no other.
fn server() -> &'static Server {
    static SERVER: OnceLock<Server> = OnceLock::new();
    SERVER.get_or_init(|| Server::start(""))
}

impl Place {
    fn sqlite() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let database = folder.path().join("registry.sqlite").to_str().unwrap().to_owned();
        Self::opened(folder, database)
    }

    fn postgres() -> Self {
        Self::opened(tempfile::tempdir().unwrap(), server().url(&server().empty_database()))
    }

    fn opened(folder: tempfile::TempDir, database: String) -> Self {
        let mut place = Self { folder, database, centre: "S01".parse().unwrap() };
        place.centre = said::centre_added(|words| place.said(words)).parse().unwrap();
        place
    }

    fn path(&self, name: &str) -> String {
        self.folder.path().join(name).to_str().unwrap().to_owned()
    }

    fn all<'w>(&'w self, words: &[&'w str], data: &'w str) -> Vec<&'w str> {
        let own = ["--data", data, "--database", self.database.as_str()];
        words.iter().copied().chain(own).collect()
    }

    fn said(&self, words: &[&str]) -> String {
        said::said(&self.all(words, &self.path("data")))
    }

    fn refused(&self, words: &[&str]) -> String {
        said::refused(&self.all(words, &self.path("data")))
    }

    fn store(&self) -> Store {
        let address = Address::parse(&self.database).unwrap();
        let settings = StoreSettings { address, connections: 2, unsafe_durability: false };
        Store::open(settings, Clock::system(), Randomness::system()).unwrap()
    }

    /// Submits a case, as often as said.
    fn submit(&self, case: &Value, times: usize) {
        let (store, centre) = (self.store(), self.centre);
        for _ in 0..times {
            let form = CaseForm::from_json(serde_json::from_value(case.clone()).unwrap());
            let permit = Permit::<SubmitCase>::for_operator("test");
            let submitted = store
                .write_blocking(permit, move |session| cases::submit(session, &form, Some(centre)).map(drop));
            submitted.unwrap();
        }
    }

    /// What the trail says of files that were taken out.
    fn noted(&self, deed: Deed) -> Vec<AuditRow> {
        let permit = Permit::<ReadAudit>::for_operator("test");
        let page = PageRequest { after: None, limit: 200 };
        let read = self
            .store()
            .read_blocking(permit, move |session| session.list_audit(&AuditFilter::default(), page));
        let rows: Result<_, quietbeam::store::StoreError> = read;
        rows.unwrap().rows.into_iter().filter(|row| row.event.deed == deed).collect()
    }

    /// Takes a file out of an archive.
    fn unpack(&self, archive: &str, name: &str) -> String {
        let mut archive = zip::ZipArchive::new(fs::File::open(archive).unwrap()).unwrap();
        let mut text = String::new();
        archive.by_name(name).unwrap().read_to_string(&mut text).unwrap();
        text
    }

    fn export(&self, format: &str, more: &[&str]) -> (String, String) {
        let (centre, path) = (self.centre.to_string(), self.path(&format!("cases.{format}")));
        let words = ["export", "--centre", &centre, "--format", format, "--output", &path];
        let said = self.said(&words.iter().chain(more).copied().collect::<Vec<_>>());
        (path, said)
    }
}

macro_rules! on_both_stores {
    ($(fn $name:ident($place:ident) $body:block)+) => {$(
        mod $name {
            use super::*;

            fn on($place: &Place) $body

            #[test]
            fn sqlite() {
                on(&Place::sqlite());
            }

            #[test]
            fn postgres() {
                on(&Place::postgres());
            }
        }
    )+};
}

on_both_stores! {
    fn cases_come_out_in_each_format_and_go_in_again_unchanged(place) {
        let remark = json!({ "comment": "=1; \"quoted\",\nand more" });
        place.submit(&sample::with(sample::case_with_seen_effusion(), remark), 1);
        place.submit(&sample::conventional_case(), 2);
        let centre = place.centre.to_string();
        let unchanged = "Nothing to store: 0 new cases, 0 changed; 3 unchanged;";

        let (archive, said) = place.export("delimited", &[]);
        assert!(said.starts_with(&format!("3 cases of {centre} in {archive}.\n")), "{said}");
        assert!(said.contains("for the centre alone"), "{said}");
        let mut words = vec!["import".to_owned(), "--dry-run".to_owned(), "--centre".to_owned(), centre.clone()];
        for (option, name) in [("--cases", "cases.csv"), ("--complications", "complications.csv"), ("--follow-ups", "follow_ups.csv")] {
            fs::write(place.path(name), place.unpack(&archive, name)).unwrap();
            words.extend([option.to_owned(), place.path(name)]);
        }
        assert!(place.unpack(&archive, "codebook.csv").contains("air_kerma"));
        let again = place.said(&words.iter().map(String::as_str).collect::<Vec<_>>());
        assert!(again.contains(unchanged), "{again}");

        let (workbook, _) = place.export("workbook", &[]);
        let again = place.said(&["import", "--dry-run", "--centre", &centre, "--workbook", &workbook]);
        assert!(again.contains(unchanged), "{again}");

        let (json, _) = place.export("json", &[]);
        let json: Value = serde_json::from_str(&fs::read_to_string(json).unwrap()).unwrap();
        assert_eq!(json["items"].as_array().unwrap().len(), 3, "{json}");

        let noted = place.noted(Deed::CasesExported);
        assert_eq!(noted.len(), 3);
        for row in noted {
            assert_eq!((row.actor, row.event.centre), (Actor::Operator, Some(place.centre)));
        }
    }

    fn only_the_cases_that_were_asked_for_come_out(place) {
        place.submit(&sample::zero_fluoroscopy_case(), 2);
        place.submit(&sample::conventional_case(), 1);
        let (file, said) = place.export("json", &["--strategy-intended", "conventional", "--period", "2025Q3"]);
        assert!(said.starts_with("1 cases of "), "{said}");
        let text = fs::read_to_string(&file).unwrap();
        assert!(text.contains("planned_used") && !text.contains("\"strategy_intended\":\"zero\""), "{text}");
        fs::remove_file(&file).unwrap();
        let (_, said) = place.export("json", &["--period", "2011Q1"]);
        assert!(said.starts_with("0 cases of "), "{said}");
    }

    fn an_export_that_cannot_be_made_leaves_nothing_behind(place) {
        place.submit(&sample::zero_fluoroscopy_case(), 1);
        let (centre, path) = (place.centre.to_string(), place.path("out.zip"));
        let export = |centre: &str, more: &[&str]| -> String {
            let words = ["export", "--centre", centre, "--output", &path];
            place.refused(&words.iter().chain(more).copied().collect::<Vec<_>>())
        };
        // The code of the centre was drawn by lot.
        let unknown = if centre == "S98" { "S97" } else { "S98" };
        assert_eq!(export(unknown, &[]), "there is no such centre");
        assert!(export("Nowhere", &[]).contains("--centre"));
        assert!(export(&centre, &["--format", "parquet"]).contains("delimited"));
        assert!(export(&centre, &["--procedure", "dance"]).contains("--procedure"));
        assert!(!fs::exists(&path).unwrap(), "a file of nothing stands in the way of the next try");
        assert_eq!(place.noted(Deed::CasesExported).len(), 0);

        fs::write(&path, "somebody's own").unwrap();
        assert_eq!(export(&centre, &[]), format!("{path} is there already; name another file"));
        assert_eq!(fs::read_to_string(&path).unwrap(), "somebody's own");
        let (nowhere, data) = (place.path("no/such/folder.zip"), place.path("data"));
        let words = place.all(&["export", "--centre", &centre, "--output", &nowhere], &data);
        let broken = run_words(&words, &mut Vec::new());
        assert!(matches!(&broken, Err(Failure::Broken(sentence)) if sentence.contains("no/such/folder.zip")), "{broken:?}");
        assert_eq!(place.noted(Deed::CasesExported).len(), 0);
    }

    fn rows_of_a_cut_come_out_de_identified(place) {
        place.submit(&sample::with(sample::case_with_seen_effusion(), json!({ "comment": "words of its own" })), 11);
        place.submit(&sample::with(sample::conventional_case(), json!({ "age_band": "18_29" })), 2);
        place.said(&["cut", "take", "--name", "spring"]);
        let rows = |profile: &str, name: &str, more: &[&str]| -> (String, String) {
            let path = place.path(name);
            let words = ["cut", "rows", "--cut", "spring", "--profile", profile, "--output", &path];
            let said = place.said(&words.iter().chain(more).copied().collect::<Vec<_>>());
            (path, said)
        };
        let (archive, said) = rows("year_only", "year.zip", &[]);
        assert!(said.starts_with("11 rows, year_only, at least 11 alike.\n"), "{said}");
        assert!(said.contains("Withheld: fewer than 11.") && said.contains("privacy officer"), "{said}");
        let cases = place.unpack(&archive, "cases.csv");
        assert_eq!(cases.lines().count(), 12, "{cases}");
        assert!(!cases.contains("2025Q3") && !cases.contains("op_code"), "{cases}");
        for name in ["cases.csv", "complications.csv", "follow_ups.csv"] {
            assert!(!place.unpack(&archive, name).contains("words of its own"), "{name}");
        }
        let (archive, _) = rows("pseudonymised", "inside.zip", &["--operators"]);
        let cases = place.unpack(&archive, "cases.csv");
        assert!(cases.contains("2025Q3") && cases.contains("op_code"), "{cases}");
        let operator = sample::zero_fluoroscopy_case()["op_code"].as_str().unwrap().to_owned();
        assert!(!cases.contains(&format!(",{operator},")), "{cases}");
        let noted = place.noted(Deed::RowsExported);
        assert_eq!(noted.len(), 2);
        assert!(noted.iter().all(|row| row.actor == Actor::Operator));
    }

    fn rows_that_cannot_be_made_leave_nothing_behind(place) {
        place.submit(&sample::zero_fluoroscopy_case(), 1);
        let path = place.path("rows.zip");
        let rows = |words: &[&str]| -> String {
            let begin = ["cut", "rows", "--output", &path];
            place.refused(&begin.iter().chain(words).copied().collect::<Vec<_>>())
        };
        let spring = ["--cut", "spring", "--profile", "year_only"];
        assert_eq!(
            rows(&["--cut", "latest", "--profile", "year_only"]),
            "there is no data cut yet; take one with: quietbeam cut take --name NAME"
        );
        assert_eq!(rows(&spring), "there is no such data cut; list them with: quietbeam cut list");
        assert!(rows(&["--cut", "spring"]).contains("--profile"));
        assert!(rows(&["--cut", "spring", "--profile", "everything"]).contains("year_only"));
        assert!(!fs::exists(&path).unwrap(), "a file of nothing stands in the way of the next try");
        place.said(&["cut", "take", "--name", "spring"]);
        fs::write(&path, "somebody's own").unwrap();
        assert_eq!(rows(&spring), format!("{path} is there already; name another file"));
        assert_eq!(fs::read_to_string(&path).unwrap(), "somebody's own");
        assert_eq!(place.noted(Deed::RowsExported).len(), 0);
    }
}
