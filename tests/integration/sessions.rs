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

/// A session as the program writes it, of the smallest kind.
fn small_session(ending: &str) -> String {
    let tuning = "(pitch:(a4_hz:415.0,kept_by:\"A\"),temperament:(name:\"sixth-comma\",\
                  title:\"Sixth\",fifths:Regular(\"-1/6 SC\"),source:\"\",remark:\"\"),\
                  chain:\"Eb-G#\",key:\"D\",anchor:PartialSounds(partial:8,note:\"D5\"))";
    let violin = "(name:\"Violin\",instrument:(name:\"violin\",title:\"Violin\",\
                  family:Strings,lowest:\"G3\",highest:\"E6\",inharmonic:false),input:1,\
                  visible:true,players:1)";
    format!(
        "(version: 1, journal: \"concento\")\n\
         Begun(at:\"2026-11-25T19:40:00+01:00\",program:\"0.1.0\")\n\
         Seated(at:0.0,title:\"An evening\",tuning:{tuning},channels:[{violin}])\n\
         Heard(at:60.0,ch:[\"0 -23 415.00 .10 .05 - ~\"])\n\
         Note(ch:0,from:60.0,to:61.2,steady:1.0,hz:415.0,margin:0.5,spread:1.5,db:-23,\
         note:\"A4\",cents:0.0)\n\
         Decided(at:90.0,note:\"F#\",what:FollowPartial,remark:\"\")\n\
         {ending}"
    )
}

#[test]
fn sessions_are_listed_with_what_was_agreed() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| fs::write(folder.path().join(name), text).unwrap();
    write("monday.session", &small_session("Ended(at:120.0)\n"));
    // Another ending does not hide it; a cut line is no reason to leave it out.
    write("tuesday", &small_session("Decided(at:91.0,no"));
    write("diary.txt", "dear diary\n");
    write("broken.session", "dear diary\n");
    let (code, out, errors) = run_in(folder.path(), &["sessions", "."]);
    assert_eq!(code, 0, "{errors}");
    assert!(
        errors.contains("'./broken.session' is no session of concento\n"),
        "{errors}"
    );
    assert_eq!(errors.lines().count(), 1, "{errors}");
    let lines: Vec<&str> = out.lines().collect();
    assert!(lines[0].starts_with("session "), "{out}");
    assert_eq!(lines.len(), 5, "{out}");
    for words in [
        "monday.session",
        "2026-11-25 19:40",
        "0:02",
        "An evening",
        "415",
        "sixth-comma",
        "F# follow the partial",
        "well",
    ] {
        assert!(lines[1].contains(words), "{words}: {out}");
    }
    assert!(
        lines[2].starts_with("tuesday ") && lines[2].ends_with("cut off"),
        "{out}"
    );
    let (code, out, _) = run_in(folder.path(), &["sessions", ".", "--format", "json"]);
    assert_eq!(code, 0);
    let list: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(list["sessions"][0]["notes"], 1);
    assert_eq!(list["sessions"][1]["ended_well"], false);
    assert_eq!(list["sessions"][0]["length_s"], 120.0);
}

#[test]
fn a_session_that_is_being_recorded_is_running() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("tonight.session");
    // Half of a line has reached the disk.
    fs::write(&path, small_session("Decided(at:91.0,no")).unwrap();
    let recorded = fs::File::open(&path).unwrap();
    recorded.lock().unwrap();
    let (code, out, errors) = run_in(folder.path(), &["sessions", "."]);
    assert_eq!((code, errors.as_str()), (0, ""));
    assert!(out.lines().nth(1).unwrap().ends_with("running"), "{out}");
    let (_, out, _) = run_in(folder.path(), &["sessions", ".", "--format", "json"]);
    let list: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(list["sessions"][0]["running"], true);
    let (code, page, errors) = run_in(folder.path(), &["report", "tonight.session"]);
    assert_eq!((code, errors.as_str()), (0, ""));
    assert!(page.contains("is being recorded"), "{page}");
    for words in ["breaks off", "cut off"] {
        assert!(!page.contains(words), "{words}: {page}");
    }
    // And nobody was kept from adding to it.
    recorded.unlock().unwrap();
    let (_, page, _) = run_in(folder.path(), &["report", "tonight.session"]);
    assert!(page.contains("breaks off"), "{page}");
}

#[test]
fn what_was_recorded_is_told_to_be_as_long_as_its_replay() {
    let folder = tempfile::tempdir().unwrap();
    let (code, out, errors) = run_in(folder.path(), &["demo", "alone", "--record", "a.session"]);
    assert_eq!(code, 0, "{errors}");
    let session = concento::session::load_session(&folder.path().join("a.session")).unwrap();
    let seconds = session.length().get() as u64;
    let length = format!(" notes in {}:{:02}\n", seconds / 60, seconds % 60);
    assert!(out.contains(&length), "{length}: {out}");
}

#[test]
fn a_table_without_notes_says_that_there_are_none() {
    let folder = tempfile::tempdir().unwrap();
    let text = small_session("Ended(at:120.0)\n");
    let without = text.lines().filter(|line| !line.starts_with("Note("));
    let without: Vec<&str> = without.collect();
    fs::write(folder.path().join("a.session"), without.join("\n") + "\n").unwrap();
    let run = |format| run_in(folder.path(), &["report", "a.session", "--format", format]);
    let (code, out, errors) = run("csv");
    assert_eq!((code, out.lines().count()), (0, 1), "{out}");
    assert!(errors.contains("no note was held"), "{errors}");
    assert_eq!(run("html").2, "");
}

#[test]
fn an_empty_folder_says_what_to_do_and_a_lost_one_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let (code, out, _) = run_in(folder.path(), &["sessions", "."]);
    assert_eq!(code, 0);
    assert!(out.contains("'concento rehearse' records one"), "{out}");
    let (code, _, errors) = run_in(folder.path(), &["sessions", "nowhere"]);
    assert_eq!(code, 1);
    assert!(
        errors.contains("cannot read the folder 'nowhere'"),
        "{errors}"
    );
}

#[test]
fn a_replay_needs_a_session_and_a_terminal() {
    let folder = tempfile::tempdir().unwrap();
    let run = |arguments: &[&str]| run_in(folder.path(), arguments);
    fs::write(folder.path().join("diary.txt"), "dear diary\n").unwrap();
    fs::write(folder.path().join("a.session"), small_session("")).unwrap();
    let (code, _, errors) = run(&["replay", "diary.txt"]);
    assert_eq!(
        (code, errors.contains("is no session")),
        (1, true),
        "{errors}"
    );
    let (code, _, errors) = run(&["replay", "lost.session"]);
    assert_eq!(
        (code, errors.contains("cannot read")),
        (1, true),
        "{errors}"
    );
    let (code, _, errors) = run(&["replay", "a.session"]);
    assert_eq!(
        (code, errors.contains("needs a terminal")),
        (2, true),
        "{errors}"
    );
    for bad in [
        &["--speed", "0"][..],
        &["--speed", "61"],
        &["--at", "1:60"],
        &["--at", "x"],
    ] {
        let words = [&["replay", "a.session"], bad].concat();
        assert_eq!(run(&words).0, 2, "{words:?}");
    }
    assert_eq!(run(&["replay"]).0, 2);
    let (code, _, errors) = run(&["rehearse", "--agreed", "diary.txt"]);
    assert_eq!(
        (code, errors.contains("is no session")),
        (1, true),
        "{errors}"
    );
}
