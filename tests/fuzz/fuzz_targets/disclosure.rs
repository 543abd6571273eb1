#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam_analysis::methods::disclosure::{Check, Grid, Meaning, Profile, Table, Tables, protect};
use quietbeam_fuzz::Source;

fuzz_target!(|bytes: &[u8]| {
    let mut source = Source::new(bytes);
    let grid = Grid::new(source.whole(1, 3) as usize, source.whole(1, 3) as usize);
    let cells = (grid.height() - 1) * (grid.width() - 1);
    let centres: Vec<Vec<u64>> = (0..source.whole(1, 4))
        .map(|_| (0..cells).map(|_| u64::from(source.byte() % 24)).collect())
        .collect();
    let part: Vec<Vec<u64>> = centres
        .iter()
        .map(|centre| centre.iter().map(|count| u64::from(source.byte()) % (count + 1)).collect())
        .collect();
    let whole = Table::of_centres(grid, Meaning::Cases, vec![], centres.iter().map(Vec::as_slice));
    let adverse = Table::of_centres(grid, Meaning::Adverse, vec![0], part.iter().map(Vec::as_slice));
    let tables = Tables::new(grid, vec![whole, adverse]).unwrap();
    let mask = protect(&tables, Profile::STRICT, &[].into());
    assert!(Check::new(&tables, Profile::STRICT).holds(&mask), "{tables:?} {mask:?}");
});
