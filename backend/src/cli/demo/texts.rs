//! What the demo's investigator writes into the report.

use super::super::Failure;
use super::super::registry::Registry;
use super::people::Staff;
use crate::access::action::WriteReport;
use crate::registry::RegistryError;
use crate::registry::report_texts;
use crate::store::Comparison;
use quietbeam_analysis::study::report::ByPerson;

const TEXTS: [(ByPerson, &str); 4] = [
    (
        ByPerson::WhyNonInferiority,
        "Guidance without X-ray need not cure more. It must cure as well, while patient and staff are spared the beam. Superiority would ask more of it than anyone expects.",
    ),
    (
        ByPerson::EstablishedPopulation,
        "Conventional ablation was established in adults with the arrhythmias that the plan names. What the plan leaves out stands in the flow of cases.",
    ),
    (
        ByPerson::Limits,
        "Operators chose the strategy, and their sense of how hard a case would be is recorded in part only. Centres that wanted to take part need not be like others. The network is invented: it shows what the registry does and says nothing about patients.",
    ),
    (
        ByPerson::Interests,
        "Nobody paid for this and nobody has a conflict of interest: centres, approvals and patients are invented. Whoever may read the comparison can have its tables and compute it again.",
    ),
];

/// The investigator writes what only a person can say.
pub(super) fn write(registry: &Registry, staff: &Staff, kept: &Comparison) -> Result<(), Failure> {
    let (permit, id) = (staff.investigator.permit::<WriteReport>()?, kept.id);
    registry.store.write_blocking(permit, move |session| {
        for (item, text) in TEXTS {
            report_texts::write(session, (id, item), None, text)?;
        }
        Ok::<_, RegistryError>(())
    })?;
    Ok(())
}
