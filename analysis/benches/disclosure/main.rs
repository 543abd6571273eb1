//! How long the attack on a release takes, alone and with five before it, and how that grows
//! with its cells. Prints a table.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

use quietbeam_analysis::methods::disclosure::{
    CellId, Grid, Known, Mask, Meaning, Profile, Release, Table, Tables, attack, attack_to_hide, protect,
};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::time::Instant;

/// Seconds that this program had a processor, all its threads together: other programs do not add to
/// them. Read as Linux tells them.
fn processor_seconds() -> f64 {
    let threads = std::fs::read_dir("/proc/self/task").unwrap();
    let of_thread = |thread: std::io::Result<std::fs::DirEntry>| {
        let told = std::fs::read_to_string(thread.unwrap().path().join("schedstat")).unwrap();
        told.split(' ').next().unwrap().parse::<f64>().unwrap() / 1e9
    };
    threads.map(of_thread).sum()
}

/// Seconds that something took, by the processors and by the clock.
struct Took {
    processor: f64,
    clock: f64,
}

impl std::fmt::Display for Took {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:.2} ({:.2})", self.clock, self.processor)
    }
}

/// What something gives, and the seconds that it took.
fn timed<T>(work: impl FnOnce() -> T) -> (T, Took) {
    let (processor, clock) = (processor_seconds(), Instant::now());
    let done = work();
    let took = Took { processor: processor_seconds() - processor, clock: clock.elapsed().as_secs_f64() };
    (done, took)
}

const CENTRES: usize = 8;
const TABLES: usize = 10;
const EARLIER: usize = 5;

/// Inner cells of each table and centre, release after release; each release has all cases of the
/// one before and some more.
fn series(grid: Grid, random: &mut ChaCha8Rng) -> Vec<Tables> {
    let cells = (grid.height() - 1) * (grid.width() - 1);
    let mut counts = vec![vec![vec![0_u64; cells]; CENTRES]; TABLES];
    let release = |_| {
        for centre in 0..CENTRES {
            for cell in 0..cells {
                let cases = random.random_range(0..20_u64);
                counts[0][centre][cell] += cases;
                for table in &mut counts[1..] {
                    table[centre][cell] += (0..cases).filter(|_| random.random_bool(0.04)).count() as u64;
                }
            }
        }
        let table = |number: usize| {
            let within = if number == 0 { vec![] } else { vec![0] };
            let meaning = if number == 0 { Meaning::Cases } else { Meaning::Adverse };
            Table::of_centres(grid, meaning, within, counts[number].iter().map(Vec::as_slice))
        };
        Tables::new(grid, (0..TABLES).map(table).collect()).unwrap()
    };
    (0..=EARLIER).map(release).collect()
}

fn add(release: &mut Release, tables: &Tables, mask: &Mask, earlier: bool) -> Vec<Vec<CellId>> {
    let grid = tables.grid();
    let mut cells: Vec<Vec<CellId>> = Vec::new();
    for (number, table) in tables.tables().iter().enumerate() {
        let own: Vec<CellId> = (0..grid.cells())
            .map(|place| release.count(format!("{number}/{place}"), table.meaning(), table.by_centre(place)))
            .collect();
        for whole in table.within() {
            own.iter().zip(&cells[*whole]).for_each(|(part, whole)| release.part(*part, *whole));
        }
        for (_, cell) in own.iter().enumerate().filter(|(place, _)| !mask.hides(number, *place)) {
            if earlier { release.was_shown(*cell) } else { release.show(*cell) }
        }
        let last = grid.width() - 1;
        for row in own.chunks(grid.width()) {
            release.total(row[last], row[..last].iter().copied());
        }
        for column in 0..grid.width() {
            let parts = (0..grid.height() - 1).map(|row| own[grid.place(row, column)]);
            release.total(own[grid.place(grid.height() - 1, column)], parts);
        }
        cells.push(own);
    }
    cells
}

fn measure(rows: usize, columns: usize) {
    let grid = Grid::new(rows - 1, columns - 1);
    let mut random = ChaCha8Rng::seed_from_u64(20_261_125);
    let series = series(grid, &mut random);
    let hide = |tables: &Tables| protect(tables, Profile::STRICT, &[].into());
    let (masks, hiding) = timed(|| series.iter().map(hide).collect::<Vec<Mask>>());
    let hiding = hiding.clock / series.len() as f64;
    let hidden = (0..TABLES).flat_map(|table| (0..grid.cells()).map(move |place| (table, place)));
    let hidden = hidden.filter(|(table, place)| masks[EARLIER].hides(*table, *place)).count();
    let names = || (1..=CENTRES).map(|centre| format!("S{centre:02}"));

    let mut alone = Release::of_centres(names());
    add(&mut alone, &series[EARLIER], &masks[EARLIER], false);
    let (first, alone_took) = timed(|| attack(&alone, Profile::STRICT).unwrap());

    let mut together = Release::of_centres(names());
    let before: Vec<_> =
        (0..EARLIER).map(|number| add(&mut together, &series[number], &masks[number], true)).collect();
    let now = add(&mut together, &series[EARLIER], &masks[EARLIER], false);
    for cells in &before {
        for (before, now) in cells.iter().flatten().zip(now.iter().flatten()) {
            together.earlier(*before, *now);
        }
    }
    let nothing = attack(&Release::of_centres(names()), Profile::STRICT).unwrap();
    let known = Known { lost: &nothing, less_hidden: None };
    let (whether, whether_took) = timed(|| attack_to_hide(&together, Profile::STRICT, known).unwrap());
    let (whom, whom_took) = timed(|| attack(&together, Profile::STRICT).unwrap());
    let [first, whether, by_whom] = [first, whether, whom.clone()].map(|learnt| learnt.narrow_rows().count());
    println!(
        "| {} | {hidden} | {hiding:.2} | {alone_took} | {first} | {} | {} | {whether_took} | {whether} | {whom_took} | {by_whom} |",
        TABLES * grid.cells(),
        whom.rows.len(),
        whom.seats.len(),
    );
}

fn main() {
    println!(
        "| cells | hidden | hiding s | attack alone s | refused | numbers guarded with five earlier | seats | whether s | refused | by whom s | refused |"
    );
    println!("|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|");
    for (rows, columns) in [(5, 5), (10, 5), (10, 10), (20, 10), (20, 20)] {
        measure(rows, columns);
    }
}
