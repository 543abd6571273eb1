//! The invented network in a registry of a test, taken in by the same ways as real files.

use std::sync::Arc;

use quietbeam::access::Permit;
use quietbeam::access::action::{ImportFiles, IssueCaseCodes, ManageCentres, WriteScreeningLog};
use quietbeam::demo::{DemoCentre, Network, Scenario};
use quietbeam::intake::{FileKind, Files, Source};
use quietbeam::registry::imports::{Request, Wanted, import};
use quietbeam::store::{ScreeningEntry, ScreeningLine, StoreError};

use crate::registry::Registry;

/// Takes in about so many cases of all centres, and their screening logs.
pub fn take_in(registry: &Registry, seed: u64, cases: usize) -> Network {
    let network = Scenario::generate(seed, cases);
    network.centres.iter().for_each(|centre| take_in_centre(registry, centre));
    network
}

fn take_in_centre(registry: &Registry, centre: &DemoCentre) {
    let code = centre.centre.code;
    let (new, number) = (centre.centre.clone(), centre.case_rows());
    let permit = Permit::<ManageCentres>::for_operator("test");
    registry.store.write_blocking(permit, move |session| session.create_centre(&new)).expect("a centre");
    let permit = Permit::<IssueCaseCodes>::for_operator("test");
    let codes = registry.store.write_blocking(permit, move |session| session.issue_case_codes(code, number));
    let files = centre.files(&codes.expect("codes"));
    let mut all = Files::default();
    for (kind, text) in [
        (FileKind::Cases, files.cases),
        (FileKind::Complications, files.complications),
        (FileKind::FollowUps, files.follow_ups),
    ] {
        if text.lines().nth(1).is_some() {
            all.put(kind, Source::Bytes(text.into_bytes().into()));
        }
    }
    let permit = || Permit::<ImportFiles>::for_operator("test");
    let request = Request { centre: code, files: all, wanted: Wanted::GoodRows, progress: Arc::new(|_| ()) };
    import(&registry.store, permit(), permit(), request).expect("the files to be taken in");
    let lines = centre.screening.clone();
    let permit = Permit::<WriteScreeningLog>::for_operator("test");
    registry
        .store
        .write_blocking(permit, move |session| {
            for line in lines {
                let counts = line.counts;
                let line = ScreeningLine { centre: code, period: line.period, group: line.group };
                session.record_screening(ScreeningEntry {
                    line,
                    expected_revision: None,
                    counts,
                    reason: None,
                })?;
            }
            Ok::<_, StoreError>(())
        })
        .expect("the screening log");
}
