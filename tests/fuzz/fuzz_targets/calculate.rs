#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam_analysis::calculate::{Cell, Sheet, catalogue};
use quietbeam_fuzz::Source;

/// Calculations whose time grows with the product of the counts; `exact` has them with small ones.
const SLOW: [&str; 4] = ["barnard", "boschloo", "chan", "showing"];

fn cell(source: &mut Source<'_>) -> String {
    match source.byte() % 12 {
        0 => source.text(),
        1 => String::new(),
        2 => "0.95".to_owned(),
        3 => source.any().to_string(),
        4 => source.share().to_string(),
        5 => source.size(u32::MAX).to_string(),
        6..8 => source.whole(0, 3).to_string(),
        _ => source.whole(0, 200).to_string(),
    }
}

fuzz_target!(|bytes: &[u8]| {
    let mut source = Source::new(bytes);
    let catalogue = catalogue();
    let calculation = &catalogue[source.whole(0, catalogue.len() as u32 - 1) as usize];
    if SLOW.iter().any(|slow| calculation.name().contains(slow)) {
        return;
    }
    let header: Vec<&str> = calculation.inputs().iter().map(|column| column.name).collect();
    let Ok(mut sheet) = Sheet::new(calculation, &header, &[]) else { return };
    let mut all = Vec::new();
    for line in 2..=u64::from(source.whole(2, 12)) {
        let row: Vec<String> = header.iter().map(|_| cell(&mut source)).collect();
        let row: Vec<&str> = row.iter().map(String::as_str).collect();
        all.extend(sheet.take(line, &row).ok().flatten());
    }
    all.extend(sheet.finish().ok().flatten());
    for results in &all {
        for line in results.lines() {
            for cell in &line.cells {
                if let Cell::Number(value) = cell {
                    assert!(!value.is_nan(), "{calculation:?} {line:?}");
                }
            }
        }
        assert!(results.rows().all(|row| row.len() == sheet.header().len()));
    }
});
