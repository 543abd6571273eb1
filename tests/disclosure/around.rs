//! What stands around the cases of a cut, for summaries that tell of it.

use crate::summaries::base;
use quietbeam_analysis::study::cohort::{CaseRow, Cohort, Surroundings};
use quietbeam_analysis::study::screening_log::LogCounts;
use quietbeam_analysis::study::summary::{
    Asking, Earlier, SafetySummary, SummaryError, attack_again, summarise,
};
use quietbeam_schema::centre::EnteredCounts;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::summary_design::SummaryDesign;
use quietbeam_schema::vocabulary::ExclusionReason;

/// The line of a centre's signed log in the quarter and the group of the sample case.
pub(crate) fn line(centre: u8, eligible: u32, submitted: u32) -> LogCounts {
    let case = base();
    let excluded =
        [(ExclusionReason::Staff, eligible - submitted)].into_iter().filter(|(_, cases)| *cases > 0);
    let entered = EnteredCounts { performed: eligible, eligible, submitted, excluded: excluded.collect() };
    LogCounts {
        centre: CentreCode::from_random(centre),
        period: case.period,
        group: case.procedure.group(),
        counts: entered.try_into().unwrap(),
        signed: true,
    }
}

/// Cases of a cut of that name, with logs and with the region of each centre.
pub(crate) fn amid(rows: &[CaseRow], cut: &str, log: &[LogCounts], regions: &[(u8, &str)]) -> Cohort {
    let regions =
        regions.iter().map(|(centre, region)| (CentreCode::from_random(*centre), (*region).to_owned()));
    let surroundings = Surroundings { cut: cut.to_owned(), log: log.to_vec(), regions: regions.collect() };
    rows.iter().cloned().collect::<Cohort>().amid(surroundings)
}

/// Published summaries with their cases, the oldest first.
#[derive(Default)]
pub(crate) struct Published(Vec<(Cohort, SafetySummary)>);

impl Published {
    fn earlier(&self) -> Vec<Earlier<'_>> {
        let all = self.0.iter().enumerate();
        all.map(|(number, (cohort, summary))| Earlier {
            name: format!("safety summary {}", number + 1),
            cohort,
            summary,
        })
        .collect()
    }

    /// Composes a summary beside all that were published.
    pub(crate) fn compose(&self, cohort: &Cohort, design: &SummaryDesign) -> SafetySummary {
        self.ask(Asking::of(cohort, design))
    }

    /// The same, perhaps with a comparison.
    pub(crate) fn ask(&self, asking: Asking<'_>) -> SafetySummary {
        let cohort = asking.cohort;
        let composed = summarise(asking, &self.earlier()).unwrap();
        assert!(composed.learnt.passes());
        // Whoever approves it attacks it anew, and must find what its composer read.
        assert_eq!(attack_again(cohort, &composed.summary, &self.earlier()).unwrap(), composed.learnt);
        composed.summary
    }

    /// Why a summary cannot be published beside them; nothing where it can.
    pub(crate) fn refusal(&self, cohort: &Cohort, summary: &SafetySummary) -> Option<String> {
        match attack_again(cohort, summary, &self.earlier()) {
            Ok(_) => None,
            Err(SummaryError::Refused(learnt)) => {
                Some(learnt.refused().map(|refused| refused.to_string()).collect::<Vec<_>>().join("\n"))
            }
            Err(other) => panic!("{other}"),
        }
    }

    pub(crate) fn publish(&mut self, cohort: &Cohort, summary: SafetySummary) {
        self.0.push((cohort.clone(), summary));
    }
}
