//! `quietbeam demo`: an invented network, from its files to a comparison and a
//! published safety summary, by the same ways that real centres use.

mod judges;
mod people;
mod stage;
mod texts;

use super::Failure;
use super::compare;
use super::registry::Registry;
use crate::config::Options;
use crate::demo::{Network, Scenario};
use clap::Args;
use indicatif::HumanDuration;
use people::PASSWORD;
use std::io::Write;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::time::Duration;

/// Show the whole job on an invented network: seven centres send their files,
/// a data cut is taken, the strategies are compared, a safety summary is
/// published, and the registry is served on loopback. Nothing in it is real.
///
/// Example: quietbeam demo --no-serve --cases 2000 --data demo-folder
#[derive(Args)]
pub(super) struct DemoArgs {
    /// Folder for the demo's registry.
    #[arg(long, default_value = "quietbeam-demo", value_name = "FOLDER")]
    data: PathBuf,
    /// Database in place of a file in the folder, such as postgres://USER@HOST/NAME.
    #[arg(long, value_name = "ADDRESS")]
    database: Option<String>,
    /// Seed of the random numbers; the same seed gives the same network.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Number of cases.
    #[arg(long, default_value_t = Scenario::USUAL_CASES, value_parser = cases)]
    cases: usize,
    /// End after the results.
    #[arg(long)]
    no_serve: bool,
    /// Where to serve; a loopback address.
    #[arg(long, default_value = "127.0.0.1:8080", value_name = "ADDRESS:PORT")]
    listen: SocketAddr,
    /// Print the results as JSON, and nothing else.
    #[arg(long, requires = "no_serve")]
    json: bool,
}

/// Enough cases for seven centres, and no more than a laptop likes.
fn cases(text: &str) -> Result<usize, String> {
    match text.parse() {
        Ok(number @ 100..=1_000_000) => Ok(number),
        _ => Err("give a whole number from 100 to 1000000".to_owned()),
    }
}

pub(super) fn run(args: &DemoArgs, out: &mut dyn Write) -> Result<(), Failure> {
    if !args.listen.ip().is_loopback() {
        return Err(Failure::Refused(
            "--listen: the demo's passwords are known to everyone, so it is served on loopback alone"
                .to_owned(),
        ));
    }
    let options = args.options();
    let registry = Registry::open(&options)?;
    match stage::found(&registry)? {
        stage::Found::Nothing => build(args, &registry, out)?,
        stage::Found::Demo { cases } => {
            if !args.json {
                writeln!(out, "{} holds the demo already: {cases} cases.\n", args.data.display())?;
            }
            show_again(args, &registry, out)?;
        }
        stage::Found::Foreign => {
            return Err(Failure::Refused(format!(
                "{} holds a registry that is not the demo; name another folder with --data",
                args.data.display()
            )));
        }
    }
    if args.json {
        return Ok(());
    }
    print_sign_ins(out)?;
    if args.no_serve {
        return Ok(());
    }
    super::serve::serve(&registry, out)
}

impl DemoArgs {
    fn options(&self) -> Options {
        Options {
            data: self.data.clone(),
            database: self.database.clone(),
            database_file: None,
            connections: 8,
            token_key_file: None,
            listen: self.listen,
            public_url: None,
            network: crate::demo::NAME.to_owned(),
        }
    }
}

fn build(args: &DemoArgs, registry: &Registry, out: &mut dyn Write) -> Result<(), Failure> {
    let began = registry.clock.now();
    let network = Scenario::generate(args.seed, args.cases);
    let mut quiet = std::io::sink();
    let steps: &mut dyn Write = if args.json { &mut quiet } else { out };
    writeln!(
        steps,
        "{}: an invented network of {} centres. Nothing in it is real.\n",
        network.name,
        network.centres.len()
    )?;
    network.centres.iter().try_for_each(|centre| stage::open_centre(registry, centre))?;
    let staff = people::employ(registry, &network)?;
    stage::register_plan(registry, &staff, steps)?;
    for centre in &network.centres {
        stage::send_files(registry, &staff, centre, steps)?;
    }
    judges::judge_events(registry, &staff)?;
    let cut = stage::take_cut(registry, &staff, steps)?;
    let (computed, kept) = stage::compare(registry, &staff, &cut)?;
    texts::write(registry, &staff, &kept)?;
    let summary = stage::publish(registry, &staff, (&cut, &kept), steps)?;
    if args.json {
        let result = &kept.content.result;
        return Ok(writeln!(out, "{{\"comparison\":{result},\"safety_summary\":{summary}}}")?);
    }
    writeln!(out)?;
    compare::print(&computed, &kept, out)?;
    print_truth(&network, out)?;
    let seconds = (registry.clock.now().unix_milliseconds() - began.unix_milliseconds()) / 1000;
    let took = HumanDuration(Duration::from_secs(u64::try_from(seconds).unwrap_or(0).max(1)));
    Ok(writeln!(out, "\nFrom files to publication in {took}.")?)
}

/// Prints what the first run kept.
fn show_again(args: &DemoArgs, registry: &Registry, out: &mut dyn Write) -> Result<(), Failure> {
    let staff = people::return_to_work(registry)?;
    let cut = compare::find_cut(&registry.store, "latest")?;
    let (computed, kept) = stage::compare(registry, &staff, &cut)?;
    if args.json {
        return Ok(writeln!(out, "{{\"comparison\":{}}}", kept.content.result)?);
    }
    compare::print(&computed, &kept, out)
}

fn print_truth(network: &Network, out: &mut dyn Write) -> Result<(), Failure> {
    let truth = &network.truth;
    let points = |difference: f64| format!("{:+.2}", 100.0 * difference).replace('-', "−");
    writeln!(out, "\nWHAT IS TRUE HERE, because the network is invented")?;
    writeln!(
        out,
        "  Had every patient been treated both ways, zero-fluoroscopy would have changed acute success by\n  {} points and major complications by {} points. What the table shows besides comes from who was\n  chosen for which strategy, and, for effusion, from how often echo looked.",
        points(truth.success_difference),
        points(truth.major_difference)
    )?;
    Ok(writeln!(
        out,
        "  {} faults were put into the files; the lines above tell how many were refused or asked about.",
        network.faults().len()
    )?)
}

fn print_sign_ins(out: &mut dyn Write) -> Result<(), Failure> {
    writeln!(out, "\nSIGN-INS OF THE DEMO, all with the password \"{PASSWORD}\"")?;
    for person in people::SHOWN {
        writeln!(out, "  {:<20} {}", person.sign_in, person.says)?;
    }
    Ok(())
}
