//! `quietbeam centre`: centres and their sheets of case codes.

use super::Failure;
use super::registry::{Common, Registry};
use crate::access::Permit;
use crate::access::action::{IssueCaseCodes, ManageCentres, ReadCentres};
use crate::registry::{RegistryError, centres};
use clap::{Args, Subcommand};
use quietbeam_schema::centre::Centre;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::value::FieldValue;
use quietbeam_schema::vocabulary::{AnnualVolume, CentreType, Coded};
use std::io::Write;

/// Add a centre, list the centres, or issue case codes to one.
///
/// Example: quietbeam centre add --name "Harbour Rhythm Unit" --kind community --volume 200_499
#[derive(Args)]
pub(super) struct CentreArgs {
    #[command(subcommand)]
    step: Step,
}

#[derive(Subcommand)]
enum Step {
    /// Add a centre; it gets a random code.
    Add {
        /// Its name, seen by members only.
        #[arg(long)]
        name: String,
        /// academic, community or paediatric.
        #[arg(long, value_parser = coded::<CentreType>)]
        kind: CentreType,
        /// Ablations a year: under_200, 200_499, 500_999 or 1000_plus.
        #[arg(long, value_parser = coded::<AnnualVolume>)]
        volume: AnnualVolume,
        /// Country group or state, never a city.
        #[arg(long)]
        region: Option<String>,
        /// The quarter of its first zero-fluoroscopy case, such as 2024Q2.
        #[arg(long, value_name = "QUARTER", value_parser = quarter)]
        since: Option<Quarter>,
        #[command(flatten)]
        common: Common,
    },
    /// List the centres.
    List {
        #[command(flatten)]
        common: Common,
    },
    /// Issue case codes, one a line, for the centre to keep beside its own list.
    Codes {
        /// The centre.
        #[arg(long)]
        centre: CentreCode,
        /// How many.
        #[arg(long, default_value_t = 50, value_parser = clap::value_parser!(u16).range(1..=10_000))]
        number: u16,
        #[command(flatten)]
        common: Common,
    },
}

pub(super) fn quarter(text: &str) -> Result<Quarter, String> {
    Quarter::parse(text).map_err(|problem| format!("this {problem}"))
}

/// Reads one code of a closed list.
pub(super) fn coded<C: Coded>(text: &str) -> Result<C, String> {
    C::from_code(text).ok_or_else(|| format!("use one of: {}", C::LIST.codes_joined()))
}

pub(super) fn run(args: CentreArgs, out: &mut dyn Write) -> Result<(), Failure> {
    match args.step {
        Step::Add { name, kind, volume, region, since, common } => {
            let registry = Registry::open(&common.options)?;
            let permit = Permit::<ManageCentres>::for_operator("centre added from the command line");
            let centre = registry.store.write_blocking(permit, move |session| {
                let code = centres::free_code(session)?;
                let centre =
                    Centre { code, name, region, kind, annual_volume: volume, zero_fluoroscopy_since: since };
                centres::create(session, &centre)?;
                Ok::<_, RegistryError>(centre)
            })?;
            print(&[centre], common.json, out)
        }
        Step::List { common } => {
            let registry = Registry::open(&common.options)?;
            print(&all(&registry)?, common.json, out)
        }
        Step::Codes { centre, number, common } => {
            let registry = Registry::open(&common.options)?;
            let permit = Permit::<IssueCaseCodes>::for_operator("codes issued from the command line");
            let codes = registry.store.write_blocking(permit, move |session| {
                session.issue_case_codes(centre, usize::from(number))
            })?;
            if common.json {
                serde_json::to_writer_pretty(&mut *out, &codes)?;
                return Ok(writeln!(out)?);
            }
            codes.iter().try_for_each(|code| writeln!(out, "{code}")).map_err(Failure::from)
        }
    }
}

fn all(registry: &Registry) -> Result<Vec<Centre>, Failure> {
    let permit = Permit::<ReadCentres>::for_operator("centres listed from the command line");
    Ok(registry.store.read_blocking(permit, |session| session.list_centres())?)
}

fn print(centres: &[Centre], json: bool, out: &mut dyn Write) -> Result<(), Failure> {
    if json {
        serde_json::to_writer_pretty(&mut *out, &centres)?;
        return Ok(writeln!(out)?);
    }
    for centre in centres {
        writeln!(
            out,
            "{}  {}  {}  {} ablations a year",
            centre.code,
            centre.name,
            centre.kind.label(),
            centre.annual_volume.label()
        )?;
    }
    Ok(())
}
