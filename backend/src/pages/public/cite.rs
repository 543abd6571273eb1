//! How a summary is cited: one sentence for people, and its description in the fields of the
//! DataCite metadata schema (version 4) for catalogues. The schema is open; the numbers are not in it.

use serde_json::{Value, json};

use super::Published;
use crate::api::Problem;
use crate::config::Network;

/// The sentence.
pub(super) fn sentence(published: &Published, network: &Network) -> String {
    let years = match years(published).as_slice() {
        [first, last] if first != last => format!(", {first} to {last}"),
        [only, ..] => format!(", {only}"),
        [] => String::new(),
    };
    format!(
        "{}. Safety summary {}: catheter ablation with and without fluoroscopy{years}. Published {}. {} (SHA-256 {}).",
        network.name,
        published.record.number.0,
        published.day(),
        address(published, network),
        &published.record.content_hash[..16],
    )
}

/// Where it stands.
pub(super) fn address(published: &Published, network: &Network) -> String {
    format!("{}/summaries/{}", network.address, published.record.number.0)
}

fn years(published: &Published) -> Vec<u16> {
    let summary = &published.said.summary;
    [summary.first_year, summary.last_year].into_iter().flatten().collect()
}

/// The description for catalogues.
pub(super) fn as_json(published: &Published, network: &Network) -> Result<Vec<u8>, Problem> {
    serde_json::to_vec_pretty(&described(published, network)).map_err(|error| {
        tracing::error!(%error, "a citation cannot be written");
        Problem::broken()
    })
}

fn described(published: &Published, network: &Network) -> Value {
    let (record, number) = (&published.record, published.record.number.0);
    let here = address(published, network);
    let covered: Vec<String> = years(published).iter().map(u16::to_string).collect();
    json!({
        "identifiers": [
            { "identifier": here, "identifierType": "URL" },
            { "identifier": record.content_hash, "identifierType": "SHA-256" },
        ],
        "creators": [{ "name": network.name, "nameType": "Organizational" }],
        "titles": [
            { "title": format!("Safety summary {number}: {}", published.title()) },
        ],
        "publisher": { "name": network.name },
        "publicationYear": &published.day()[..4],
        "types": { "resourceTypeGeneral": "Dataset", "resourceType": "Aggregate safety summary" },
        "subjects": [
            { "subject": "catheter ablation" },
            { "subject": "zero-fluoroscopy" },
            { "subject": "radiation protection" },
            { "subject": "complications" },
        ],
        "dates": [
            { "date": published.day(), "dateType": "Issued" },
            { "date": covered.join("/"), "dateType": "Collected" },
        ],
        "language": "en",
        "version": number.to_string(),
        "formats": ["text/html", "application/json", "text/csv", "application/pdf"],
        "descriptions": [{
            "description": "Aggregate counts of a research registry, with small counts hidden. Cases were not randomised. \
                For research: not for decisions about an individual patient.",
            "descriptionType": "Abstract",
        }],
        "relatedIdentifiers": [{
            "relatedIdentifier": format!("{}/summaries", network.address),
            "relatedIdentifierType": "URL",
            "relationType": "IsPartOf",
        }],
    })
}
