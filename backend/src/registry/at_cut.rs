//! How things stood around the cases of a data cut when it was taken: approvals, screening logs and
//! open questions. All of it moves on afterwards, and a cut does not.

use std::collections::{BTreeMap, BTreeSet};

use quietbeam_analysis::study::at_cut::AtCut;
use quietbeam_analysis::study::cohort::Surroundings;
use quietbeam_analysis::study::plan::AnalysisPlan;
use quietbeam_analysis::study::screening_log::{Denominators, LogCounts};
use quietbeam_schema::centre_approval::{Approval, Day, is_approved};
use quietbeam_schema::endpoint;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;

use crate::store::{DataCut, ReadsCuts, Session, StoreError};

/// What stood around the cases of a cut.
pub(super) struct Around {
    log: Denominators,
    approvals: BTreeMap<CentreCode, Vec<Approval>>,
    /// Codes of the cases with an open question that matters.
    questioned: BTreeSet<String>,
    day: Day,
    /// The least share of its eligible ablations that a centre must have sent in, where one is asked.
    least_capture: Option<f64>,
}

/// The lines of the screening logs as they stood at a cut.
pub(super) fn log_of<A: ReadsCuts, M>(
    session: &mut Session<'_, A, M>,
    cut: &DataCut,
) -> Result<Vec<LogCounts>, StoreError> {
    let log = session.screening_of(cut)?.into_iter().map(|row| LogCounts {
        centre: row.line.centre,
        period: row.line.period,
        group: row.line.group,
        counts: row.counts,
        signed: row.signed_by.is_some(),
    });
    Ok(log.collect())
}

/// What a summary tells of around the cases of a cut.
pub(super) fn surroundings_of<A: ReadsCuts, M>(
    session: &mut Session<'_, A, M>,
    cut: &DataCut,
) -> Result<Surroundings, StoreError> {
    let (log, regions) = (log_of(session, cut)?, session.regions_at(cut)?);
    Ok(Surroundings { cut: cut.content_hash.clone(), log, regions })
}

impl Around {
    /// Reads how things stood, if a plan asks for it.
    pub(super) fn asked<A: ReadsCuts, M>(
        session: &mut Session<'_, A, M>,
        cut: &DataCut,
        plan: &AnalysisPlan,
    ) -> Result<Option<Self>, StoreError> {
        let eligibility = plan.eligibility();
        if !eligibility.asks_at_cut() {
            return Ok(None);
        }
        let around = Self::read(session, cut)?;
        Ok(Some(Self { least_capture: eligibility.least_capture, ..around }))
    }

    /// Reads how things stood; of no centre is a share asked.
    pub(super) fn read<A: ReadsCuts, M>(
        session: &mut Session<'_, A, M>,
        cut: &DataCut,
    ) -> Result<Self, StoreError> {
        let mut approvals = BTreeMap::<CentreCode, Vec<Approval>>::new();
        for approval in session.approvals_at(cut)? {
            approvals.entry(approval.centre).or_default().push(approval);
        }
        let open = session
            .questions_at(cut)?
            .into_iter()
            .filter(|question| question.open && question.field.as_deref().is_some_and(endpoint::decides));
        Ok(Self {
            questioned: open.map(|question| question.code).collect(),
            log: Denominators::new(&log_of(session, cut)?),
            approvals,
            day: Day::of(cut.at),
            least_capture: None,
        })
    }

    /// What stood against a case.
    pub(super) fn against(&self, code: &str, centre: CentreCode, period: Quarter) -> AtCut {
        let approvals = self.approvals.get(&centre).map_or(&[][..], Vec::as_slice);
        AtCut {
            approval_missing: !is_approved(approvals, period, self.day),
            denominator_unsigned: !self.log.is_signed(centre, period),
            question_open: self.questioned.contains(code),
            low_capture: self.least_capture.is_some_and(|least| !self.log.sent_in(centre, least)),
        }
    }
}
