//! The registry at work, as the command line and a page have it done.

use crate::files::{CASES, COMPLICATIONS, FOLLOW_UPS};
use crate::measured::{Measured, timed};
use csv::ReaderBuilder;
use quietbeam::access::Permit;
use quietbeam::access::action::{ImportFiles, IssueCaseCodes, ManageCentres, ReadOwnPicture};
use quietbeam::clock::{Clock, Randomness};
use quietbeam::demo::Scenario;
use quietbeam::intake::{FileKind, Files, Source};
use quietbeam::registry::imports::{Request, Wanted, import};
use quietbeam::registry::own_picture;
use quietbeam::store::{Address, Store, StoreSettings};
use quietbeam_schema::ids::{CaseCode, CentreCode};
use std::path::Path;
use std::sync::Arc;

/// Issued codes are the same wherever they are issued, so that the files fit every database.
const SEED: u64 = 1;

fn open(address: &str, randomness: Randomness) -> Store {
    let address = Address::parse(address).expect("an address");
    let settings = StoreSettings { address, connections: 8, unsafe_durability: false };
    // After the last quarter of the scenario.
    let clock = Clock::fixed("2026-11-25T09:00:00.000Z".parse().expect("a time"));
    Store::open(settings, clock, randomness).expect("a store")
}

fn centre() -> quietbeam_schema::centre::Centre {
    Scenario::generate(SEED, 100).centres[0].centre.clone()
}

/// A new registry with one centre and its codes.
pub(crate) fn issue(address: &str, codes: usize) -> Vec<CaseCode> {
    let store = open(address, Randomness::seeded(SEED));
    let centre = centre();
    let code = centre.code;
    let permit = Permit::<ManageCentres>::for_operator("benchmark");
    store.write_blocking(permit, move |session| session.create_centre(&centre)).expect("a centre");
    let permit = Permit::<IssueCaseCodes>::for_operator("benchmark");
    store.write_blocking(permit, move |session| session.issue_case_codes(code, codes)).expect("codes")
}

/// A registry that is ready for the files of the folder.
pub(crate) fn prepare(folder: &Path, address: &str) -> Measured {
    timed(|| {
        let rows = ReaderBuilder::new().from_path(folder.join(CASES)).expect("the file").records().count();
        issue(address, rows).len() as u64
    })
}

/// Imports the cases file alone.
pub(crate) fn import_cases(folder: &Path, address: &str) -> Measured {
    import_files(folder, address, &[(FileKind::Cases, CASES)])
}

/// Imports cases, complications and follow-ups.
pub(crate) fn import_all(folder: &Path, address: &str) -> Measured {
    let all = [
        (FileKind::Cases, CASES),
        (FileKind::Complications, COMPLICATIONS),
        (FileKind::FollowUps, FOLLOW_UPS),
    ];
    import_files(folder, address, &all)
}

fn import_files(folder: &Path, address: &str, wanted: &[(FileKind, &str)]) -> Measured {
    let mut files = Files::default();
    for (kind, name) in wanted {
        files.put(*kind, Source::Path(folder.join(name)));
    }
    let store = open(address, Randomness::system());
    let permit = || Permit::<ImportFiles>::for_operator("benchmark");
    let request = Request {
        centre: centre().code,
        files,
        // The demonstration has a few rows that no registry takes.
        wanted: Wanted::GoodRows,
        progress: Arc::new(|_| {}),
    };
    timed(|| {
        let outcome = import(&store, permit(), permit(), request).expect("an import");
        let counts = outcome.report.counts(FileKind::Cases);
        assert!(outcome.stored && outcome.changes.new == counts.accepted, "{:?}", outcome.changes);
        eprintln!(
            "{} read, {} stored, {} refused, {} asked",
            counts.read, counts.accepted, counts.refused, outcome.changes.to_answer
        );
        counts.read
    })
}

/// Draws the picture that a centre has of itself.
pub(crate) fn picture(address: &str) -> Measured {
    let store = open(address, Randomness::system());
    let code: CentreCode = centre().code;
    let permit = Permit::<ReadOwnPicture>::for_operator("benchmark");
    timed(|| {
        let drawn = store.read_blocking(permit, move |session| own_picture::draw(session, code));
        let drawn = drawn.expect("a picture");
        assert_eq!(drawn.left_out, 0);
        u64::from(drawn.picture.cases)
    })
}
