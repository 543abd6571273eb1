//! The columns of a data cut, read once: a record takes far longer to read and check than an analysis
//! takes over it.

use std::sync::Arc;

use quietbeam_analysis::study::at_cut::AtCut;
use quietbeam_analysis::study::cohort::Cohort;
use quietbeam_analysis::study::plan::AnalysisPlan;
use quietbeam_analysis::study::report::{Entry, JudgedCase, ReportCase};
use quietbeam_schema::endpoint;
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::instant::Instant;
use rayon::prelude::*;

use super::RegistryError;
use super::adjudication;
use super::at_cut::Around;
use super::cases::form_of;
use super::judged::judged;
use crate::store::{CaseRow, DataCut, ReadsCutCases, Session};

/// The cases of a cut, how they came in, and what their judges said.
pub(super) struct CutColumns {
    /// In the order of a report, without what stood against them.
    cases: Vec<(ReportCase, CaseCode)>,
    /// How they came in.
    pub(super) entry: Entry,
    /// Those with complications.
    pub(super) judged: Vec<JudgedCase>,
}

/// What one record gives.
struct Columns {
    code: CaseCode,
    case: ReportCase,
    delay_days: u32,
    judged: Option<JudgedCase>,
}

impl CutColumns {
    /// The columns of a cut; read from its records where nobody has read them yet.
    pub(super) fn of<A: ReadsCutCases, M>(
        session: &mut Session<'_, A, M>,
        cut: &DataCut,
    ) -> Result<Arc<Self>, RegistryError> {
        session.once_of_cut(cut, |session| Self::read(session, cut))
    }

    fn read<A: ReadsCutCases, M>(
        session: &mut Session<'_, A, M>,
        cut: &DataCut,
    ) -> Result<Self, RegistryError> {
        let entries = session.entries_of(cut)?;
        let rulings = adjudication::by_event(session.judgements_of(cut)?);
        let mut read = Self { cases: Vec::new(), entry: Entry::default(), judged: Vec::new() };
        let columns = |row: &CaseRow| {
            let (entered, at) = entries.get(&row.code.to_string()).copied().unwrap_or((row.seq, row.at));
            let form = form_of(row)?;
            // The rules are applied as they stood when the cut was taken.
            let record = form.check(cut.at.quarter()).map_err(RegistryError::Findings)?.record;
            let case = ReportCase::read(entered, row.centre, &record);
            let begin = Instant::begin_of(case.row.period.next());
            let days = (at.unix_seconds() - begin.unix_seconds()) / 86_400;
            let standing = adjudication::standing(row.code, &form, &rulings);
            let eventful = !standing.complications.is_empty() || standing.death.is_some();
            Ok::<_, RegistryError>(Columns {
                code: row.code,
                case,
                delay_days: u32::try_from(days).unwrap_or(0),
                judged: eventful.then(|| judged(entered, &record, &standing)),
            })
        };
        session.each_page(cut, |page| {
            let page: Vec<Columns> = page.par_iter().map(columns).collect::<Result<_, _>>()?;
            page.into_iter().for_each(|columns| read.add(columns));
            Ok::<_, RegistryError>(())
        })?;
        for question in session.questions_at(cut)? {
            read.entry.questions += 1;
            read.entry.open += u32::from(question.open);
            let decides = question.field.as_deref().is_some_and(endpoint::decides);
            read.entry.open_on_outcome += u32::from(question.open && decides);
        }
        // Once for all reports, which then need not move them.
        read.cases.par_sort_by_cached_key(|(case, _)| case.order());
        Ok(read)
    }

    fn add(&mut self, columns: Columns) {
        self.cases.push((columns.case, columns.code));
        self.entry.delays_days.push(columns.delay_days);
        self.judged.extend(columns.judged);
    }

    /// The cases with what stood against them, where that was asked.
    pub(super) fn cases(&self, around: Option<&Around>) -> Vec<ReportCase> {
        let with = |(case, code): &(ReportCase, CaseCode)| {
            let mut case = case.clone();
            case.row.at_cut = against(&case, *code, around);
            case
        };
        self.cases.iter().map(with).collect()
    }

    /// The columns of a comparison, with what stood against them where that was asked.
    fn cohort(&self, around: Option<&Around>) -> Cohort {
        let with = |(case, code): &(ReportCase, CaseCode)| {
            let mut row = case.row.clone();
            row.at_cut = against(case, *code, around);
            row
        };
        self.cases.iter().map(with).collect()
    }
}

fn against(case: &ReportCase, code: CaseCode, around: Option<&Around>) -> AtCut {
    let row = &case.row;
    around.map_or_else(AtCut::default, |around| around.against(&code.to_string(), row.centre, row.period))
}

/// The cases of a cut in the columns that are analysed, with what stood against them then so far as a
/// plan asks.
pub(super) fn cohort_of<A: ReadsCutCases, M>(
    session: &mut Session<'_, A, M>,
    cut: &DataCut,
    plan: Option<&AnalysisPlan>,
) -> Result<Cohort, RegistryError> {
    let around = match plan {
        Some(plan) => Around::asked(session, cut, plan)?,
        None => None,
    };
    Ok(CutColumns::of(session, cut)?.cohort(around.as_ref()))
}
