//! How many requests a second the public pages answer, as a ratio to the same server framework
//! that answers each request with a fixed string of the same length, in one run and taking turns.
//!
//! `cargo bench -p quietbeam-tests --bench public [-- SECONDS]`
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

mod asked;

use actix_web::{App, HttpResponse, HttpServer, web};
use asked::{length, requests};
use quietbeam::access::Permit;
use quietbeam::access::action::{ApproveSummary, DraftSummary, PublishSummary, TakeDataCut};
use quietbeam::registry::summaries;
use quietbeam::store::StoreError;
use quietbeam_schema::access::Role;
use quietbeam_schema::summary_design::DesignForm;
use quietbeam_schema::vocabulary::{Coded, SummaryTable};
use quietbeam_tests::demo;
use quietbeam_tests::registry::{Engine, Registry};
use quietbeam_tests::server::Served;
use std::env;
use std::net::{SocketAddr, TcpListener};
use std::sync::mpsc;
use std::thread;
use std::time::Duration;

/// Cases of the network whose summary is asked for.
const CASES: usize = 1_500;
/// Turns that every address takes; the median is told.
const TURNS: usize = 5;
/// As the server of the tests has.
const WORKERS: usize = 2;

const ADDRESSES: [&str; 5] = [
    "/summaries/1",
    "/summaries/1/embed",
    "/summaries/1/tables.csv",
    "/summaries/1/citation.json",
    "/api/v1/summaries/1",
];

fn main() {
    let arguments: Vec<String> = env::args().skip(1).filter(|text| text != "--bench").collect();
    let seconds = arguments.first().map_or(2.0, |seconds| seconds.parse().expect("seconds"));
    let turn = Duration::from_secs_f64(seconds);
    let registry = Registry::new(Engine::Sqlite);
    demo::take_in(&registry, 1, CASES);
    let served = Served::new(&registry);
    publish(&served);
    let server = served.address().trim_start_matches("http://").parse().expect("an address");

    println!("| address | bytes | requests/s (range) | fixed string, requests/s (range) | ratio |");
    println!("|---|---:|---:|---:|---:|");
    for path in ADDRESSES {
        let bytes = length(server, path);
        let fixed = fixed_string(bytes);
        let (mut own, mut plain) = (Vec::new(), Vec::new());
        for _ in 0..TURNS {
            own.push(requests(server, path, turn));
            plain.push(requests(fixed, "/", turn));
        }
        let [own, plain] = [own, plain].map(Rate::of);
        println!("| {path} | {bytes} | {own} | {plain} | {:.2} |", own.median / plain.median);
    }
}

/// Publishes everything that a summary can show.
fn publish(served: &Served<'_>) {
    let store = &served.registry.store;
    let cut = store
        .write_blocking(Permit::<TakeDataCut>::for_operator("bench"), |session| session.take_cut("bench"));
    let cut = cut.unwrap_or_else(|error: StoreError| panic!("{error}"));
    let [author, monitor, publisher] =
        [("author", Role::Society), ("monitor", Role::Monitor), ("publisher", Role::Society)].map(
            |(name, role)| {
                served.desk.member(name, role, &[]);
                served.desk.caller(name)
            },
        );
    let design =
        DesignForm { tables: SummaryTable::all().iter().copied().collect(), ..DesignForm::default() };
    let composed =
        summaries::compose(store, [author.permit().unwrap(), author.permit().unwrap()], cut.id, design)
            .unwrap();
    let kept = store.write_blocking(author.permit::<DraftSummary>().unwrap(), move |session| {
        let id = session.draft_summary(&composed.new)?;
        session.find_summary(id)
    });
    let kept = kept.unwrap_or_else(|error: StoreError| panic!("{error}"));
    let permit = || monitor.permit::<ApproveSummary>().unwrap();
    summaries::approve(store, [permit(), permit()], kept.id, &summaries::version(&kept).into()).unwrap();
    let permit = || publisher.permit::<PublishSummary>().unwrap();
    summaries::publish(store, [permit(), permit()], kept.id).unwrap();
}

/// A server of nothing but a string of so many bytes; it lives as long as this program.
fn fixed_string(bytes: usize) -> SocketAddr {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = listener.local_addr().expect("its number");
    let (sender, receiver) = mpsc::channel();
    thread::spawn(move || {
        actix_web::rt::System::new().block_on(async {
            let body = web::Bytes::from(vec![b'x'; bytes]);
            let app = move || {
                let body = body.clone();
                let answer = move || {
                    let body = body.clone();
                    async move { HttpResponse::Ok().content_type("text/plain").body(body) }
                };
                App::new().route("/", web::get().to(answer))
            };
            let server = HttpServer::new(app).workers(WORKERS).disable_signals();
            let server = server.listen(listener).expect("to listen").run();
            sender.send(()).expect("the bench to wait");
            server.await.expect("the server to end well");
        });
    });
    receiver.recv().expect("the server to start");
    address
}

/// Requests a second over the turns.
struct Rate {
    median: f64,
    least: f64,
    most: f64,
}

impl Rate {
    fn of(mut turns: Vec<f64>) -> Self {
        turns.sort_by(f64::total_cmp);
        Self { median: turns[turns.len() / 2], least: turns[0], most: turns[turns.len() - 1] }
    }
}

impl std::fmt::Display for Rate {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:.0} ({:.0}–{:.0})", self.median, self.least, self.most)
    }
}
