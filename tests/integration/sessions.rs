//! `--session` of `rehearse` and `demo`, as far as it goes without a terminal.

use std::fs;

use crate::program::run_in;

#[test]
fn a_file_that_is_no_session_is_refused_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("diary.txt");
    fs::write(&path, "dear diary\n").unwrap();
    for command in ["rehearse", "demo"] {
        let (code, out, errors) = run_in(folder.path(), &[command, "--session", "diary.txt"]);
        assert_eq!((code, out.as_str()), (1, ""));
        assert_eq!(
            errors,
            "concento: 'diary.txt' is no session of concento: give another name, it is left as \
             it is\n"
        );
        assert_eq!(fs::read_to_string(&path).unwrap(), "dear diary\n");
    }
}

#[test]
fn a_folder_that_is_not_there_is_told_before_anything_starts() {
    let folder = tempfile::tempdir().unwrap();
    let (code, _, errors) = run_in(
        folder.path(),
        &["demo", "--session", "lost/evening.session"],
    );
    assert_eq!(code, 1);
    assert!(
        errors.contains("name a file in a folder that exists"),
        "{errors}"
    );
}

#[test]
fn without_a_terminal_no_session_is_made() {
    let folder = tempfile::tempdir().unwrap();
    let (code, _, errors) = run_in(folder.path(), &["demo", "--session", "evening.session"]);
    assert_eq!(code, 2, "{errors}");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
    // It makes no sense together with these.
    assert_eq!(
        run_in(folder.path(), &["demo", "--list", "--session", "a"]).0,
        2
    );
}
