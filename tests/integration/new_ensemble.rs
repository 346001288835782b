//! `concento new`.

use std::fs;
use std::path::Path;

use concento::session;

use crate::program::run_in;

fn new(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    run_in(folder, &[&["new"], arguments].concat())
}

#[test]
fn a_new_ensemble_file_can_be_used_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let (code, out, errors) = new(folder.path(), &["ensemble.ron"]);
    assert_eq!((code, errors.as_str()), (0, ""));
    assert_eq!(
        out,
        "wrote 'ensemble.ron': edit it, then type: concento rehearse ensemble.ron\n"
    );
    let loaded = session::load_ensemble(&folder.path().join("ensemble.ron")).unwrap();
    assert!(loaded.ensemble.channels.len() > 1);
    // The part it was written to is gone.
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
}

#[test]
fn a_name_is_told_as_it_is_typed() {
    let folder = tempfile::tempdir().unwrap();
    let (_, out, _) = new(folder.path(), &["my band.ron"]);
    assert!(
        out.ends_with(": concento rehearse 'my band.ron'\n"),
        "{out}"
    );
}

#[test]
fn an_existing_file_is_never_replaced() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ensemble.ron");
    fs::write(&path, "precious").unwrap();
    let (code, out, errors) = new(folder.path(), &["ensemble.ron"]);
    assert_eq!((code, out.as_str()), (1, ""));
    assert_eq!(
        errors,
        "concento: 'ensemble.ron' exists already: choose another name, or move it away first\n"
    );
    assert_eq!(fs::read_to_string(&path).unwrap(), "precious");
}

#[test]
fn what_cannot_be_written_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let (code, out, errors) = new(folder.path(), &["nowhere/ensemble.ron"]);
    assert_eq!((code, out.as_str()), (1, ""));
    assert!(
        errors.starts_with("concento: cannot write 'nowhere/ensemble.ron' (")
            && errors.contains("check that the folder exists"),
        "{errors}"
    );
    assert_eq!(new(folder.path(), &[]).0, 2);
}

#[test]
fn a_broken_ensemble_file_is_reported_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("ensemble.ron");
    assert_eq!(new(folder.path(), &["ensemble.ron"]).0, 0);
    let text = fs::read_to_string(&path).unwrap();
    let broken = text.replace(
        "instrument: \"dulcian\", input: 6",
        "instrument: \"dulcian\", input: 3",
    );
    assert_ne!(text, broken);
    fs::write(&path, &broken).unwrap();
    let message = session::load_ensemble(&path).unwrap_err().to_string();
    let message = message.replace(folder.path().to_str().unwrap(), "folder");
    insta::assert_snapshot!(message, @"folder/ensemble.ron:46:59: input 3 already belongs to 'Violin I': give 'Dulcian' another input");
    assert_eq!(fs::read_to_string(&path).unwrap(), broken);
}
