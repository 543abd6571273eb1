//! The whole policy, printed for people to review: a change of a permission shows as a
//! difference in `policy.txt`.

use std::fs;

#[test]
fn the_policy_is_the_reviewed_one() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/access/policy.txt");
    let reviewed = fs::read_to_string(path).unwrap();
    let actual = quietbeam_schema::access::policy_table();
    assert_eq!(actual, reviewed, "review the change, then write the new table to {path}:\n{actual}");
}
