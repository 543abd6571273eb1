//! How fast files come in, beside what no import can do without: reading the same file with
//! the csv crate alone, and inserting the same rows with prepared statements alone. Each part
//! runs in a process of its own, so that its peak memory is its own, and none beside another.
//!
//! `cargo bench -p quietbeam-tests --bench import [-- ROWS]`
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

mod alone;
mod files;
mod measured;
mod whole;

use measured::Measured;
use quietbeam_tests::postgres::{self, Server};
use std::env;
use std::fs;
use std::path::Path;

const ROWS: usize = 100_000;
/// Cases of a centre whose picture is drawn.
const PICTURE: usize = 20_000;
/// Each part is done so often, and the median is told.
const REPETITIONS: usize = 3;

fn main() {
    let arguments: Vec<String> = env::args().skip(1).filter(|text| text != "--bench").collect();
    match arguments.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        [] => all(ROWS),
        [rows] => all(rows.parse().expect("a number of rows")),
        ["part", part, folder, address] => measured::tell(&do_part(part, Path::new(folder), address)),
        _ => panic!("give a number of rows, or nothing: {arguments:?}"),
    }
}

/// One part, in the process that was started for it.
fn do_part(part: &str, folder: &Path, address: &str) -> Measured {
    match part {
        "make" => files::make(folder, address.parse().expect("a number of rows")),
        "read" => alone::read(folder),
        "insert" => alone::insert(folder, address),
        "prepare" => whole::prepare(folder, address),
        "import" => whole::import_cases(folder, address),
        "import_all" => whole::import_all(folder, address),
        "picture" => whole::picture(address),
        _ => panic!("no such part: {part}"),
    }
}

/// Where a fresh database is.
enum Engine {
    Sqlite,
    Postgres(Server),
}

impl Engine {
    fn name(&self) -> &'static str {
        match self {
            Self::Sqlite => "SQLite",
            Self::Postgres(_) => "PostgreSQL",
        }
    }

    /// Does some work with the address of an empty database, which is gone afterwards.
    fn with_database<T>(&self, work: impl FnOnce(&str) -> T) -> T {
        match self {
            Self::Sqlite => {
                let folder = tempfile::tempdir().expect("a folder");
                work(folder.path().join("registry.sqlite").to_str().expect("a plain path"))
            }
            Self::Postgres(server) => {
                let name = server.empty_database();
                let done = work(&server.url(&name));
                server.drop_database(&name);
                done
            }
        }
    }
}

fn all(rows: usize) {
    let folder = tempfile::tempdir().expect("a folder");
    let [large, small] = [("large", rows), ("small", rows.min(PICTURE))].map(|(name, rows)| {
        let folder = folder.path().join(name);
        fs::create_dir(&folder).expect("a folder");
        measured::part("make", &folder, &rows.to_string());
        folder
    });
    let bytes = fs::metadata(large.join(files::CASES)).expect("the file").len();
    println!("{rows} rows, {:.1} MB.\n", bytes as f64 / 1e6);
    println!("| work | store | rows | seconds (range) | rows/s | peak MiB |");
    println!("|---|---|---:|---:|---:|---:|");
    let reading = line("csv crate alone", "", || measured::part("read", &large, ""));
    let mut engines = vec![Engine::Sqlite];
    if postgres::is_at_hand() {
        // As a real one: it keeps what it confirmed.
        engines.push(Engine::Postgres(Server::start("")));
    }
    let mut ratios = Vec::new();
    for engine in &engines {
        let inserting = line("prepared insert alone", engine.name(), || {
            engine.with_database(|address| measured::part("insert", &large, address))
        });
        let whole = line("whole import", engine.name(), || imported("import", engine, &large));
        line("whole import", engine.name(), || imported("import", engine, &small));
        line("whole import, all three files", engine.name(), || imported("import_all", engine, &large));
        line("a centre's own picture", engine.name(), || {
            engine.with_database(|address| {
                measured::part("prepare", &small, address);
                measured::part("import_all", &small, address);
                measured::part("picture", &small, address)
            })
        });
        ratios.push((engine.name(), whole / reading, whole / inserting, whole / (reading + inserting)));
    }
    println!("\n| whole import takes so many times as long as | reading | inserting | both |");
    println!("|---|---:|---:|---:|");
    for (engine, reading, inserting, both) in ratios {
        println!("| {engine} | {reading:.1} | {inserting:.1} | {both:.1} |");
    }
}

fn imported(part: &str, engine: &Engine, folder: &Path) -> Measured {
    engine.with_database(|address| {
        measured::part("prepare", folder, address);
        measured::part(part, folder, address)
    })
}

/// Repeats a part, prints its line, and gives back the median of its seconds.
fn line(work: &str, store: &str, part: impl Fn() -> Measured) -> f64 {
    let mut all: Vec<Measured> = (0..REPETITIONS).map(|_| part()).collect();
    all.sort_by(|one, other| one.seconds.total_cmp(&other.seconds));
    let (median, peak) = (&all[REPETITIONS / 2], all.iter().map(|one| one.peak_kib).max().unwrap_or(0));
    println!(
        "| {work} | {store} | {} | {:.2} ({:.2}–{:.2}) | {:.0} | {:.0} |",
        median.rows,
        median.seconds,
        all[0].seconds,
        all[REPETITIONS - 1].seconds,
        median.rows as f64 / median.seconds,
        peak as f64 / 1024.0
    );
    median.seconds
}
