//! What lies on the disk afterwards: who may read it, what it leads to, and that no sound is in it.
//!
//! Everything runs under a umask that would leave it open to everybody. What only a full screen
//! writes is looked at by `tests/privacy/screen.py`.

use std::fs::{self, Permissions};
use std::os::unix::fs::{MetadataExt, PermissionsExt, symlink};
use std::path::{Path, PathBuf};

use crate::program::{program_under, said};

/// Runs it with a home of its own, in that home, under a umask that takes nothing away.
fn run(home: &Path, arguments: &[&str]) -> (i32, String, String) {
    let mut program = program_under("umask 000");
    program
        .args(arguments)
        .current_dir(home)
        .env_clear()
        .env("PATH", std::env::var_os("PATH").unwrap_or_default())
        .env("HOME", home);
    said(&mut program)
}

fn done(home: &Path, arguments: &[&str]) -> String {
    let (code, out, err) = run(home, arguments);
    assert_eq!(code, 0, "{arguments:?}: {err}");
    out
}

/// Everything below `folder`.
fn everything(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap();
    let paths = entries.map(|entry| entry.unwrap().path());
    let below = paths.flat_map(|path| {
        let is_folder = path.symlink_metadata().unwrap().is_dir();
        let inside = if is_folder {
            everything(&path)
        } else {
            Vec::new()
        };
        [path].into_iter().chain(inside)
    });
    below.collect()
}

fn set(path: &Path, mode: u32) {
    fs::set_permissions(path, Permissions::from_mode(mode)).unwrap();
}

/// Where settings are on this system, as the program tells it.
fn settings(home: &Path) -> PathBuf {
    let said = done(home, &["settings", "--write"]);
    let path = said.split('\'').nth(1).unwrap();
    home.join(path)
}

#[test]
fn what_is_written_is_for_nobody_else_to_read() {
    let home = tempfile::tempdir().unwrap();
    let at = home.path();
    settings(at);
    let said = [
        &["demo", "alone", "--record", "alone.session"][..],
        &["demo", "alone", "--write", "alone.wav", "--seconds", "2"],
        &["record", "alone.wav", "--session", "heard.session"],
        &["report", "alone.session", "-o", "page.html"],
        &[
            "practise",
            "--drone",
            "D3",
            "--write",
            "drone.wav",
            "--seconds",
            "1",
        ],
        &["retune", "-o", "tuning.mid"],
        &["bearings", "-o", "bearings.txt"],
        &["new", "ensemble.ron"],
    ];
    for arguments in said {
        done(at, arguments);
    }
    let paths = everything(at);
    let files = paths.iter().filter(|path| path.is_file()).count();
    assert_eq!(files, said.len() + 1, "{paths:?}");
    for path in paths {
        let data = path.symlink_metadata().unwrap();
        let expected = if data.is_dir() { 0o700 } else { 0o600 };
        let mode = data.mode() & 0o777;
        assert_eq!(mode, expected, "{}: {mode:o}", path.display());
    }
}

#[test]
fn manual_pages_are_for_everybody() {
    let home = tempfile::tempdir().unwrap();
    done(home.path(), &["manual", "--output", "man1"]);
    let page = home.path().join("man1/concento.1");
    assert_eq!(page.metadata().unwrap().mode() & 0o444, 0o444);
}

#[test]
fn a_session_holds_no_sound() {
    let home = tempfile::tempdir().unwrap();
    let at = home.path();
    done(at, &["demo", "alone", "--record", "alone.session"]);
    let paths = everything(at);
    assert_eq!(paths, [at.join("alone.session")]);
    // 74 seconds of sound would take over a million bytes at 8 kHz and eight bits.
    let text = fs::read_to_string(&paths[0]).unwrap();
    assert!(text.len() < 100_000, "{} bytes", text.len());
    for line in text.lines() {
        assert!(line.len() < 2_000, "a line of {} bytes", line.len());
    }
}

#[test]
fn a_planted_link_leads_nowhere() {
    let home = tempfile::tempdir().unwrap();
    let at = home.path();
    fs::write(at.join("diary"), "mine").unwrap();
    for name in ["page.html", "tuning.mid", "tone.wav", "a.ron"] {
        for to in ["diary", "missing"] {
            let link = at.join(name);
            symlink(at.join(to), &link).unwrap();
            let arguments: &[&str] = match name {
                "page.html" => &["bearings", "-o", "page.html"],
                "tuning.mid" => &["retune", "-o", "tuning.mid"],
                "tone.wav" => &["demo", "alone", "--write", "tone.wav", "--seconds", "1"],
                _ => &["new", "a.ron"],
            };
            let (code, _, err) = run(at, arguments);
            assert_eq!(code, 1, "{arguments:?} {err}");
            assert!(err.contains("exists already"), "{err}");
            assert!(!at.join("missing").exists());
            assert_eq!(fs::read_to_string(at.join("diary")).unwrap(), "mine");
            fs::remove_file(link).unwrap();
        }
    }
}

#[test]
fn settings_that_others_may_write_to_are_refused() {
    let home = tempfile::tempdir().unwrap();
    let file = settings(home.path());
    let folder = file.parent().unwrap();
    for (path, open, closed) in [(file.as_path(), 0o620, 0o600), (folder, 0o702, 0o700)] {
        set(path, open);
        let (code, _, err) = run(home.path(), &["settings"]);
        assert_eq!(code, 1, "{err}");
        let said = format!(
            "others may write to '{}': type 'chmod go-w'",
            path.display()
        );
        assert!(err.contains(&said), "{err}");
        set(path, closed);
        done(home.path(), &["settings"]);
    }
    // Settings are often kept elsewhere, with a link to them.
    let elsewhere = home.path().join("kept.ron");
    fs::rename(&file, &elsewhere).unwrap();
    symlink(&elsewhere, &file).unwrap();
    done(home.path(), &["settings"]);
    set(&elsewhere, 0o606);
    let (code, _, err) = run(home.path(), &["settings"]);
    assert!(
        code == 1 && err.contains("others may write"),
        "{code} {err}"
    );
}

#[test]
fn a_folder_of_its_own_that_others_may_write_to_is_refused() {
    let home = tempfile::tempdir().unwrap();
    let sessions = home.path().join("data/concento/sessions");
    fs::create_dir_all(&sessions).unwrap();
    for open in [&sessions, &home.path().join("data/concento")] {
        set(open, 0o777);
        let mut program = program_under("umask 022");
        program
            .env("HOME", home.path())
            .env("XDG_DATA_HOME", home.path().join("data"))
            .arg("rehearse");
        let (code, _, err) = said(&mut program);
        assert_eq!(code, 1, "{err}");
        let said = format!(
            "others may write to the folder '{}': type 'chmod go-w' and this name",
            open.display()
        );
        assert!(err.contains(&said), "{err}");
        set(open, 0o755);
    }
    assert_eq!(everything(&sessions).len(), 0);
}

/// The sources of the program, without what only tests are made of.
fn sources() -> Vec<(String, String)> {
    let top = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let paths = everything(&top).into_iter();
    let paths = paths.filter(|path| path.extension().is_some_and(|ending| ending == "rs"));
    let read = paths.map(|path| {
        let text = fs::read_to_string(&path).unwrap();
        let name = path.strip_prefix(&top).unwrap().display().to_string();
        let code = text.split("#[cfg(test)]").next().unwrap_or_default();
        (name, code.to_owned())
    });
    let is_test = |name: &str| name.ends_with("tests.rs") || name.contains("tests/");
    read.filter(|(name, _)| !is_test(name)).collect()
}

/// Holds the files in whose code one of `words` stands against those where it may.
fn check(words: &[&str], expected: &[&str]) {
    let sources = sources();
    assert!(sources.len() > 200, "{} sources", sources.len());
    let holds = |(_, code): &&(String, String)| words.iter().any(|word| code.contains(word));
    let found = sources.iter().filter(holds);
    let mut found: Vec<&str> = found.map(|(name, _)| name.as_str()).collect();
    found.sort_unstable();
    assert_eq!(found, expected, "{words:?}");
}

#[test]
fn sound_is_written_only_where_it_was_asked_for() {
    // Both write a rendered sound and only under `--write`; nothing heard is ever among it.
    check(&["hound::Wav"], &["cli/wave_file.rs"]);
    check(
        &["WaveForm {"],
        &["cli/demo.rs", "cli/practise.rs", "cli/wave_file.rs"],
    );
}

#[test]
fn files_are_made_in_few_places() {
    let making = [
        "fs::write(",
        "File::create",
        "OpenOptions::new",
        "fs::copy(",
        "tempfile_in(",
    ];
    let expected = [
        "private.rs",
        // To add to a session.
        "session/journal.rs",
        // What is asked for as a file, manual pages among it: beside its place, for its owner.
        "session/new_file.rs",
        // Where what a driver prints is thrown away.
        "sound/quiet.rs",
    ];
    check(&making, &expected);
    check(
        &["create_dir", "DirBuilder"],
        &["cli/manual.rs", "private.rs"],
    );
}

#[test]
fn nothing_speaks_to_a_network() {
    check(
        &["std::net", "net::socket", "net::connect", "Command::new"],
        &[],
    );
    check(
        &["unix::net"],
        &[
            "stand/place.rs",
            "stand/publisher.rs",
            "stand/publisher/audience.rs",
            "stand/reader.rs",
        ],
    );
}
