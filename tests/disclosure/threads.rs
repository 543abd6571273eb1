//! Numbers are searched side by side.

use quietbeam_analysis::methods::disclosure::{
    CellId, Known, Learnt, Meaning, Profile, Release, attack, attack_to_hide, surely_lost,
};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const CENTRES: usize = 6;
const ROWS: usize = 10;
const COLUMNS: usize = 4;

/// The counts of a table with its totals last, each with what the centres contribute.
fn with_totals(inner: &[Vec<Vec<u64>>]) -> Vec<Vec<Vec<u64>>> {
    let sum = |cells: &mut dyn Iterator<Item = &Vec<u64>>| {
        cells.fold(vec![0; CENTRES], |sum, cell| sum.iter().zip(cell).map(|(sum, own)| sum + own).collect())
    };
    let row = |row: &Vec<Vec<u64>>| row.iter().cloned().chain([sum(&mut row.iter())]).collect();
    let mut rows: Vec<Vec<Vec<u64>>> = inner.iter().map(row).collect();
    let last = (0..=COLUMNS).map(|column| sum(&mut rows.iter().map(|row| &row[column]))).collect();
    rows.push(last);
    rows
}

fn add(release: &mut Release, rows: &[Vec<Vec<u64>>], random: &mut ChaCha8Rng) -> Vec<Vec<CellId>> {
    let mut cells: Vec<Vec<CellId>> = Vec::new();
    for row in rows {
        let mut of_row = Vec::new();
        for by_centre in row {
            let count = by_centre.iter().sum::<u64>();
            let cell = release.count(format!("{count}"), Meaning::Cases, by_centre.clone());
            if count > 10 && random.random_bool(0.6) {
                release.show(cell);
            }
            of_row.push(cell);
        }
        release.total(of_row[COLUMNS], of_row[..COLUMNS].iter().copied());
        cells.push(of_row);
    }
    for column in 0..=COLUMNS {
        let parts: Vec<CellId> = cells[..ROWS].iter().map(|row| row[column]).collect();
        release.total(cells[ROWS][column], parts);
    }
    cells
}

/// Three releases of one table, each of all cases of the one before and some more, of which a good third is
/// hidden at random: many numbers are held too narrowly, and many searches are given up.
fn series() -> Release {
    let mut random = ChaCha8Rng::seed_from_u64(20_261_130);
    let mut release = Release::of_centres((1..=CENTRES).map(|centre| format!("S{centre:02}")));
    let mut counts = vec![vec![vec![0_u64; CENTRES]; COLUMNS]; ROWS];
    let mut before: Option<Vec<Vec<CellId>>> = None;
    for _ in 0..3 {
        counts.iter_mut().flatten().flatten().for_each(|count| *count += random.random_range(0..5_u64));
        let cells = add(&mut release, &with_totals(&counts), &mut random);
        for (before, now) in before.iter().flatten().flatten().zip(cells.iter().flatten()) {
            release.earlier(*before, *now);
        }
        before = Some(cells);
    }
    release
}

#[test]
fn no_number_of_threads_changes_what_is_learnt() {
    let release = series();
    let nothing = attack(&Release::of_centres(["S01"]), Profile::STRICT).unwrap();
    let by = |threads: usize| -> [Learnt; 3] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let known = Known { lost: &nothing, less_hidden: None };
        pool.install(|| {
            let found = attack(&release, Profile::STRICT).unwrap();
            let lost = surely_lost(&release, Profile::STRICT, found.clone());
            [found, attack_to_hide(&release, Profile::STRICT, known).unwrap(), lost]
        })
    };
    let alone = by(1);
    let refused = alone[0].narrow_rows().count();
    assert!(refused > 10 && refused < alone[0].rows.len(), "{refused} of {}", alone[0].rows.len());
    for threads in [2, 5] {
        assert_eq!(by(threads), alone, "{threads} threads");
    }
}
