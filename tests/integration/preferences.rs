//! `concento settings`, and settings that every screen is refused for.

use std::fs;
use std::path::Path;

use assert_cmd::Command;

/// Runs it with settings of its own; the code, what it says and what it complains of.
fn run_with(home: &Path, arguments: &[&str]) -> (i32, String, String) {
    let output = Command::cargo_bin("concento")
        .unwrap()
        .env("HOME", home)
        .env("XDG_CONFIG_HOME", home.join("config"))
        .args(arguments)
        .output()
        .unwrap();
    (
        output.status.code().unwrap(),
        String::from_utf8(output.stdout).unwrap(),
        String::from_utf8(output.stderr).unwrap(),
    )
}

#[cfg(target_os = "linux")]
fn put(home: &Path, text: &str) {
    let folder = home.join("config/concento");
    fs::create_dir_all(&folder).unwrap();
    fs::write(folder.join("settings.ron"), text).unwrap();
}

#[test]
fn settings_are_written_once_and_told() {
    let home = tempfile::tempdir().unwrap();
    let (code, out, _) = run_with(home.path(), &["settings"]);
    assert_eq!(code, 0);
    assert!(
        out.contains("no settings file") && out.contains("dark-stage"),
        "{out}"
    );
    let (code, out, err) = run_with(home.path(), &["settings", "--write"]);
    assert_eq!(code, 0, "{err}");
    assert!(out.contains("settings.ron"), "{out}");
    let (code, _, err) = run_with(home.path(), &["settings", "--write"]);
    assert_eq!(code, 1);
    assert!(err.contains("exists already"), "{err}");
    let (_, out, _) = run_with(home.path(), &["settings"]);
    assert!(
        out.starts_with("from '") && out.contains("0 changed"),
        "{out}"
    );
}

#[test]
#[cfg(target_os = "linux")]
fn a_key_that_would_do_two_things_is_refused_at_the_start() {
    let home = tempfile::tempdir().unwrap();
    put(
        home.path(),
        "(\n  version: 1,\n  keys: {\n    \"chord\": {\"hold\": [\"c\"]},\n  },\n)\n",
    );
    for command in [&["settings"][..], &["demo"], &["rehearse"], &["practise"]] {
        let (code, out, err) = run_with(home.path(), command);
        assert_eq!(out, "");
        // Without a terminal some say that first.
        if code == 1 {
            assert!(err.contains("settings.ron:4:"), "{command:?}: {err}");
            assert!(err.contains("'c' would do two things"), "{err}");
        } else {
            assert_eq!(code, 2, "{command:?}: {err}");
        }
    }
    let (code, _, err) = run_with(home.path(), &["demo"]);
    assert_eq!(code, 1, "{err}");
}

#[test]
#[cfg(target_os = "linux")]
fn keys_and_themes_of_one_s_own_are_listed() {
    let home = tempfile::tempdir().unwrap();
    put(
        home.path(),
        "(version: 1, themes: [(name: \"fog\", from: \"daylight\", mixed: (faint: \"#dddddd\"))], \
         theme: \"fog\", keys: {\"players\": {\"hold\": [\"z\", \"f5\"]}})",
    );
    let (code, out, err) = run_with(home.path(), &["settings", "--keys"]);
    assert_eq!(code, 0, "{err}");
    let hold = out
        .lines()
        .find(|line| line.starts_with("players   hold "))
        .unwrap();
    assert!(hold.contains("z f5"), "{hold}");
    let (_, out, _) = run_with(home.path(), &["settings", "--themes"]);
    assert!(
        out.contains("* fog") && out.contains("'faint' has a contrast of 1.3 : 1"),
        "{out}"
    );
}

#[test]
fn an_unknown_theme_is_a_question_of_usage() {
    let home = tempfile::tempdir().unwrap();
    for arguments in [&["demo", "--theme", "fog"][..], &["demo", "--fps", "0"]] {
        let (code, _, err) = run_with(home.path(), arguments);
        assert_eq!(code, 2, "{err}");
    }
    let (_, _, err) = run_with(home.path(), &["demo", "--theme", "fog"]);
    assert!(
        err.contains("there is no theme 'fog': there are dark-stage"),
        "{err}"
    );
}

#[test]
fn without_a_terminal_nothing_is_offered_but_told() {
    let home = tempfile::tempdir().unwrap();
    let (code, out, err) = run_with(home.path(), &[]);
    assert_eq!((code, out.as_str()), (2, ""));
    assert!(err.contains("concento --help"), "{err}");
}
