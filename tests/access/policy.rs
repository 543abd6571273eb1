//! The whole policy, printed for people to review: a change of a permission shows as a
//! difference in `policy.txt`.

use std::fs;
use std::path::Path;

#[test]
fn the_policy_is_the_reviewed_one() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/access/policy.txt");
    let reviewed = fs::read_to_string(path).unwrap();
    let actual = quietbeam_schema::access::policy_table();
    assert_eq!(actual, reviewed, "review the change, then write the new table to {path}:\n{actual}");
}

/// The operator's permit is for the command line: a page or an API route that made one would
/// act beyond what the policy gives to whoever asks.
#[test]
fn no_request_is_served_with_an_operators_permit() {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("../backend/src");
    let mut offenders = Vec::new();
    for folder in ["api", "pages", "access"] {
        find_operator_permits(&source.join(folder), &mut offenders);
    }
    assert!(offenders.is_empty(), "{offenders:?}");
}

fn find_operator_permits(path: &Path, offenders: &mut Vec<String>) {
    let Ok(entries) = fs::read_dir(path) else { return };
    for path in entries.map(|entry| entry.unwrap().path()) {
        if path.is_dir() {
            find_operator_permits(&path, offenders);
        } else if fs::read_to_string(&path).unwrap().contains("::for_operator(") {
            offenders.push(path.display().to_string());
        }
    }
}
