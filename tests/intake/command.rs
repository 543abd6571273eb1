//! The names by which the command tells what a file holds.

use quietbeam::intake::FileKind;

#[test]
fn the_name_of_a_file_tells_its_kind() {
    for (name, kind) in [
        ("cases.csv", Some(FileKind::Cases)),
        ("S07 complications of cases.csv", Some(FileKind::Complications)),
        ("Follow-Ups_2025.csv", Some(FileKind::FollowUps)),
        ("export.csv", None),
    ] {
        assert_eq!(FileKind::of_name(name), kind, "{name}");
    }
}
