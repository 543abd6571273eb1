//! What people write into the checklist of a report.

use quietbeam_analysis::study::report::{ByPerson, Written};
use quietbeam_schema::audit::Actor;
use quietbeam_schema::ids::{ComparisonId, MemberId};
use std::collections::BTreeMap;

use super::comparisons::KeptQuestion;
use super::{IfMatch, RegistryError, Version, words};
use crate::access::action::{ReadComparisons, WriteReport};
use crate::store::{NewReportText, ReadsComparisons, ReportText, Session, StoreError, Writing as Writes};

/// Fewest and most characters of a text.
const LENGTH: (usize, usize) = (20, 4_000);

/// Where a text stands in the form and the body.
pub const FIELD: &str = "/text";

/// What stands in a report, and who wrote it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Texts {
    /// The newest version of each item, also one that was taken back.
    pub kept: BTreeMap<ByPerson, ReportText>,
    /// The printed names of those who wrote.
    pub names: BTreeMap<MemberId, String>,
}

impl Texts {
    /// Reads them.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn read<M>(
        session: &mut Session<'_, ReadComparisons, M>,
        comparison: ComparisonId,
    ) -> Result<Self, StoreError> {
        let kept = kept(session, comparison)?;
        let names = session.printed_names(kept.values().map(|text| text.actor))?;
        Ok(Self { kept, names })
    }

    /// The same without the names, for whoever does not see who wrote.
    pub(super) fn unsigned<A: ReadsComparisons, M>(
        session: &mut Session<'_, A, M>,
        comparison: ComparisonId,
    ) -> Result<Self, StoreError> {
        Ok(Self { kept: kept(session, comparison)?, names: BTreeMap::new() })
    }

    /// What a report takes in.
    pub fn written(&self) -> BTreeMap<ByPerson, Written> {
        let standing = self.kept.iter().filter(|(_, text)| !text.text.is_empty());
        let written = |text: &ReportText| Written {
            text: text.text.clone(),
            by: text.actor.to_string(),
            at: text.at.to_string(),
        };
        standing.map(|(item, text)| (*item, written(text))).collect()
    }

    /// Whoever wrote an item, by the printed name where there is one.
    pub fn author(&self, item: ByPerson) -> Option<String> {
        let text = self.kept.get(&item)?;
        Some(match text.actor {
            Actor::Member(id) => self.names.get(&id).cloned().unwrap_or_else(|| id.to_string()),
            other => other.to_string(),
        })
    }
}

fn kept<A: ReadsComparisons, M>(
    session: &mut Session<'_, A, M>,
    comparison: ComparisonId,
) -> Result<BTreeMap<ByPerson, ReportText>, StoreError> {
    let rows = session.report_texts(comparison)?.into_iter();
    let item = |number: i64| u8::try_from(number).ok().and_then(ByPerson::of_number);
    // What an item no longer asks of a person stays in the store and out of the report.
    Ok(rows.filter_map(|(number, text)| Some((item(number)?, text))).collect())
}

/// Writes an item, or changes the version that was read; a blank takes back what stood there.
///
/// # Errors
/// When there is no such comparison or it carried out no plan, the text must be mended, or the
/// item was written meanwhile.
pub fn write(
    session: &mut Session<'_, WriteReport, Writes>,
    (comparison, item): (ComparisonId, ByPerson),
    if_match: Option<&IfMatch>,
    text: &str,
) -> Result<ReportText, RegistryError> {
    let asked = session.find_comparison(comparison)?.content.request;
    if !matches!(serde_json::from_str(&asked), Ok(KeptQuestion::Plan { .. })) {
        // Without a plan there is no report to write into.
        return Err(StoreError::Absent("report").into());
    }
    let before = kept(session, comparison)?.remove(&item);
    match (&before, if_match) {
        (None, None) => {}
        (Some(text), Some(if_match)) => if_match.holds(&Version::of_revision(text.version))?,
        (Some(_), None) => return Err(RegistryError::VersionNotNamed),
        (None, Some(_)) => return Err(StoreError::Absent("text").into()),
    }
    let text = checked(text, before.is_some())?;
    match before {
        Some(before) if before.text == text => Ok(before),
        before => {
            Ok(session.write_report_text(NewReportText { comparison, item: item.number(), before, text })?)
        }
    }
}

/// The text with one kind of line break and without space around it.
fn checked(text: &str, may_be_blank: bool) -> Result<String, RegistryError> {
    let refuse = |rule, sentence: String| Err(RegistryError::field(FIELD, rule, sentence));
    let text = text.replace("\r\n", "\n").trim().to_owned();
    let (length, (least, most)) = (text.chars().count(), LENGTH);
    if length == 0 && may_be_blank {
        return Ok(text);
    }
    if length < least {
        return refuse("value", format!("has {length} characters; write at least {least}"));
    }
    if length > most {
        return refuse("value", format!("has {length} characters; {most} at the most"));
    }
    if text.chars().any(|one| one.is_control() && one != '\n') {
        return refuse("value", "has a control character; write it as text".to_owned());
    }
    words::screened(&text).map_err(|error| RegistryError::field(FIELD, "free_text", error))?;
    Ok(text)
}
