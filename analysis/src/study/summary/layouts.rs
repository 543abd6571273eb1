//! The further tables of a summary before their cells are filled in.

use super::super::plan::AnalysisPlan;
use super::super::published::OneOrAll;
use super::arms::{arms, kept, known_and_had};
use super::counted::{BASE, Count, Counted, Measure, answers, routes};
use super::part::Part;
use super::ranks::{Dose, Quartile, quartile_at, worn};
use super::shares::share_of;
use super::table::{Heading, Layout, Slot, heading, named, written};
use crate::study::staff::{StaffRole, badges};
use quietbeam_schema::summary_design::SummaryDesign;
use quietbeam_schema::vocabulary::{
    BadgePosition, Coded, ComplicationClass, HarmTier, ProcedureGroup, Strategy, SummaryTable,
};

/// The tables that a design asks for; those of a comparison come last.
pub(super) fn layouts(design: &SummaryDesign, counted: &Counted<'_>) -> Vec<Layout> {
    let chosen = SummaryTable::all().iter().filter(|table| design.has(**table));
    let tables = 1 + usize::from(counted.per_protocol());
    let compared = counted.planned().into_iter().flat_map(|(plan, scope)| compared(plan, scope));
    let compared = compared.take(tables);
    chosen.map(|table| layout(*table, counted)).chain(compared).collect()
}

/// What the tables of a comparison are called in files: as intended, and per protocol.
pub(super) const COMPARISON: [&str; 2] = ["comparison", "comparison_per_protocol"];

fn layout(table: SummaryTable, counted: &Counted<'_>) -> Layout {
    match table {
        SummaryTable::ComplicationClass => classes(),
        SummaryTable::DetectionRoute => detection(),
        SummaryTable::Year => by_year(counted.calendar()),
        SummaryTable::Region => by_region(counted),
        SummaryTable::Dose => dose(),
        SummaryTable::Staff => staff(),
        SummaryTable::StaffDose => staff_dose(),
        SummaryTable::Completeness => completeness(),
        SummaryTable::Capture => capture(),
    }
}

/// The tiers as columns.
fn tiers() -> Vec<Heading> {
    [Measure::Major, Measure::Minor, Measure::ImagingOnly].map(heading).to_vec()
}

/// A row of the whole network with a cell a tier.
fn of_tiers(name: Heading, measure: impl Fn(HarmTier) -> Measure) -> (Heading, Vec<Slot>) {
    let cases = Count::of_network(Measure::Cases);
    let slot = |tier: &HarmTier| Slot::Part { count: Count::of_network(measure(*tier)), of: cases };
    (name, HarmTier::all().iter().map(slot).collect())
}

/// Cases with any complication of a tier.
fn any_of_tiers(label: &str) -> (Heading, Vec<Slot>) {
    of_tiers(named("any", label), |tier| match tier {
        HarmTier::Major => Measure::Major,
        HarmTier::Minor => Measure::Minor,
        HarmTier::ImagingOnly => Measure::ImagingOnly,
    })
}

fn classes() -> Layout {
    let row = |class: &ComplicationClass| {
        of_tiers(named(class.code(), class.label()), |tier| Measure::Class(*class, tier))
    };
    Layout {
        key: SummaryTable::ComplicationClass.code(),
        caption: "Cases with a complication of each kind within 30 days, whole network",
        stub: "Kind",
        columns: tiers(),
        rows: ComplicationClass::all().iter().map(row).chain([any_of_tiers("Any kind")]).collect(),
    }
}

fn detection() -> Layout {
    let row = |first| {
        let name = match first {
            Some(shown_by) => named(Coded::code(shown_by), Coded::label(shown_by)),
            None => named("not_stated", "Not stated"),
        };
        of_tiers(name, move |tier| Measure::First(first, tier))
    };
    Layout {
        key: SummaryTable::DetectionRoute.code(),
        caption: "Cases with a complication within 30 days by what showed it first, whole network",
        stub: "Shown first by",
        columns: tiers(),
        rows: routes().map(row).chain([any_of_tiers("Anything")]).collect(),
    }
}

/// What happened to the cases of a part of the network, all strategies together.
fn outcomes_of(name: Heading, part: Part) -> (Heading, Vec<Slot>) {
    let count = |measure| Count { measure, part, strategy: OneOrAll::All };
    let of = count(Measure::Cases);
    let slot = |measure: &Measure| match measure {
        Measure::Cases => Slot::Count(of),
        measure => Slot::Part { count: count(*measure), of },
    };
    (name, BASE[..6].iter().map(slot).collect())
}

fn by_year(calendar: Option<(u16, u16)>) -> Layout {
    let years = calendar.into_iter().flat_map(|(first, last)| first..=last);
    let years = years.map(|year| outcomes_of(named(&year.to_string(), &year.to_string()), Part::Year(year)));
    Layout {
        key: SummaryTable::Year.code(),
        caption: "Outcomes within 30 days by year of the procedure, all strategies together",
        stub: "Year",
        columns: BASE[..6].iter().map(|measure| heading(*measure)).collect(),
        rows: years.chain([outcomes_of(named("all", "All years"), Part::All)]).collect(),
    }
}

fn by_region(counted: &Counted<'_>) -> Layout {
    let row = |region| {
        let name = counted.region(region);
        // A region could be called as another row is.
        let key = region.map_or_else(|| "not_stated".to_owned(), |_| format!("region.{name}"));
        outcomes_of(named(&key, name), Part::Region(region))
    };
    let rows = counted.regions_with_cases().into_iter().map(row);
    Layout {
        key: SummaryTable::Region.code(),
        caption: "Outcomes within 30 days by region of the centre, all strategies together",
        stub: "Region",
        columns: BASE[..6].iter().map(|measure| heading(*measure)).collect(),
        rows: rows.chain([outcomes_of(named("all", "All regions"), Part::All)]).collect(),
    }
}

fn capture() -> Layout {
    let row = |group: OneOrAll<ProcedureGroup>| {
        let part = match group {
            OneOrAll::One(group) => Part::Group(group),
            OneOrAll::All => Part::All,
        };
        let count = |measure| Count { measure, part, strategy: OneOrAll::All };
        let eligible = count(Measure::Eligible);
        let slots = vec![
            Slot::Count(eligible),
            Slot::Part { count: count(Measure::Logged), of: eligible },
            Slot::Count(count(Measure::NotSent)),
            Slot::Count(count(Measure::Cases)),
            Slot::Count(count(Measure::Unlogged)),
        ];
        (named(written(group), group.label("All procedures")), slots)
    };
    Layout {
        key: SummaryTable::Capture.code(),
        caption: "Eligible procedures by the signed screening logs, and how many of them were sent in",
        stub: "Procedure",
        columns: vec![
            heading(Measure::Eligible),
            heading(Measure::Logged),
            heading(Measure::NotSent),
            named("cases", "Cases of all quarters"),
            heading(Measure::Unlogged),
        ],
        rows: OneOrAll::each().map(row).collect(),
    }
}

/// The strategies as rows or columns, all of them last.
fn strategies() -> impl Iterator<Item = (Heading, OneOrAll<Strategy>)> {
    OneOrAll::each().map(|strategy| (named(written(strategy), strategy.label("All strategies")), strategy))
}

fn dose() -> Layout {
    let quantities = [
        (Dose::AirKerma, "air_kerma_mgy", "Air kerma, mGy"),
        (Dose::Kap, "kap_gy_cm2", "Kerma-area product, Gy·cm²"),
    ];
    let rows = quantities.into_iter().flat_map(|(dose, key, label)| {
        strategies().map(move |(name, strategy)| {
            let name = named(&format!("{key}.{}", name.key), &format!("{label}: {}", name.label));
            quartiles_of(name, dose, strategy)
        })
    });
    Layout {
        key: SummaryTable::Dose.code(),
        caption: "Dose to patients among the cases with X-ray whose dose was reported",
        stub: "Quantity and intended strategy",
        columns: of_quartiles(),
        rows: rows.collect(),
    }
}

fn staff_dose() -> Layout {
    let row = |(role, position): (StaffRole, Option<BadgePosition>)| {
        let place = position.map_or("not_stated", |place| place.code());
        let name = named(&format!("{}.{place}", role.code()), &worn(role, position));
        quartiles_of(name, Dose::Badge(role, position), OneOrAll::All)
    };
    Layout {
        key: SummaryTable::StaffDose.code(),
        caption: "Badge readings of staff in µSv a case, among the cases with X-ray in which a badge was read",
        stub: "Role and where the badge was worn",
        columns: of_quartiles(),
        rows: badges().map(row).collect(),
    }
}

/// The columns of a row of quartiles.
fn of_quartiles() -> Vec<Heading> {
    vec![
        named("cases", "Cases"),
        named("lower_quartile", "Lower quartile"),
        named("median", "Median"),
        named("upper_quartile", "Upper quartile"),
    ]
}

/// How many cases a dose was reported of, and its quartiles.
fn quartiles_of(name: Heading, dose: Dose, strategy: OneOrAll<Strategy>) -> (Heading, Vec<Slot>) {
    let reported = Count { measure: dose.reported(), part: Part::All, strategy };
    let quartiles = Quartile::ALL.map(|quartile| Slot::Quartile(quartile_at(dose, quartile, strategy)));
    (name, [Slot::Count(reported)].into_iter().chain(quartiles).collect())
}

/// A table with a column a strategy.
fn by_strategy(
    key: SummaryTable,
    (caption, stub): (&'static str, &'static str),
    rows: impl IntoIterator<Item = (Heading, Measure, Part)>,
) -> Layout {
    let row = |(name, measure, part): (Heading, Measure, Part)| {
        let slot = |(_, strategy)| {
            let of = Count { measure: Measure::Cases, part: Part::All, strategy };
            let count = Count { measure, part, strategy };
            if count == of { Slot::Count(count) } else { Slot::Part { count, of } }
        };
        (name, strategies().map(slot).collect())
    };
    let rows = rows.into_iter().map(row).collect();
    Layout { key: key.code(), caption, stub, columns: strategies().map(|(name, _)| name).collect(), rows }
}

fn staff() -> Layout {
    let cases = (named("cases", "Cases"), Measure::Cases, Part::All);
    let no_x_ray = (named("no_x_ray", "Beam never on"), Measure::NoXRay, Part::All);
    let lead = answers().map(|worn| {
        let name = match worn {
            Some(worn) => named(worn.code(), &format!("Lead worn: {}", worn.label())),
            None => named("not_stated", "Lead worn: not stated"),
        };
        (name, Measure::Cases, Part::Lead(worn))
    });
    let words = ("Protection of staff by intended strategy", "Cases");
    by_strategy(SummaryTable::Staff, words, [cases, no_x_ray].into_iter().chain(lead))
}

fn completeness() -> Layout {
    let rows = [
        (named("cases", "Cases"), Measure::Cases),
        (named("outcome_known", "Outcome at 30 days known"), Measure::OutcomeKnown),
        (named("declared_before", "Strategy written down beforehand"), Measure::DeclaredBefore),
    ];
    let words = ("What is known, by intended strategy", "Cases");
    let rows = rows.into_iter().map(|(name, measure)| (name, measure, Part::All));
    by_strategy(SummaryTable::Completeness, words, rows)
}

/// The tables of a comparison as planned: of all cases of its arms, and of those that went as intended.
fn compared(plan: &AnalysisPlan, scope: usize) -> [Layout; 2] {
    let [as_intended, per_protocol] = COMPARISON;
    let [zero, conventional] = arms(scope);
    let [kept_zero, kept_conventional] = kept(scope);
    let all = (named("all", "All cases"), Part::All);
    let words = "The comparison as planned: cases by the strategy that was intended";
    let columns = [
        (named("zero_fluoroscopy", "Zero-fluoroscopy"), zero),
        (named("conventional", "Conventional"), conventional),
        (named("in_neither_arm", "In neither arm"), Part::Compared(scope, None)),
        all.clone(),
    ];
    let of_kept = "The same per protocol: cases that went as they were intended";
    let columns_of_kept = [
        (named("zero_fluoroscopy", "Zero-fluoroscopy"), kept_zero),
        (named("conventional", "Conventional"), kept_conventional),
        (named("not_per_protocol", "Crossed over or in neither arm"), Part::NotKept(scope)),
        all,
    ];
    [
        outcomes_by_arm(plan, (as_intended, words), columns),
        outcomes_by_arm(plan, (per_protocol, of_kept), columns_of_kept),
    ]
}

/// A table of the planned endpoints, which are shares of the cases whose outcome is known.
fn outcomes_by_arm(
    plan: &AnalysisPlan,
    (key, caption): (&'static str, &'static str),
    columns: [(Heading, Part); 4],
) -> Layout {
    let parts = columns.clone().map(|(_, part)| part);
    let row = |name: Heading, slot: &dyn Fn(Part) -> Slot| (name, parts.map(slot).to_vec());
    let count = |measure, part| Count { measure, part, strategy: OneOrAll::All };
    let cases = row(named("cases", "Cases"), &|part| Slot::Count(count(Measure::Cases, part)));
    let of_endpoints = plan.endpoints().iter().flat_map(|planned| {
        let (code, label) = (planned.endpoint.code(), planned.endpoint.label());
        let [known, had] = known_and_had(planned.endpoint);
        let part = |part| {
            let [had, known] = [count(had, part), count(known, part)];
            Slot::Shared { count: had, of: known, share: share_of(planned.endpoint, had) }
        };
        [
            row(named(&format!("{code}.known"), &format!("{label}: known")), &|part| {
                Slot::Count(count(known, part))
            }),
            row(named(code, label), &part),
        ]
    });
    Layout {
        key,
        caption,
        stub: "Planned endpoint",
        rows: [cases].into_iter().chain(of_endpoints).collect(),
        columns: columns.map(|(name, _)| name).to_vec(),
    }
}
