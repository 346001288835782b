//! Names that mean harm: to the terminal, to a page, to other folders.

use std::fs;

use crate::program::run_in;

/// Characters that no terminal may get: an escape, its one-byte form, and a change of direction.
const HOSTILE: &str = "a\u{1b}[2J\u{9b}31m\u{202e}b\u{2066}\u{200b}\u{2028}c";

/// Whether a character steers, turns or hides, written down apart from the program.
fn steers(c: char) -> bool {
    matches!(c as u32, 0..=9 | 0xb..=0x1f | 0x7f..=0x9f | 0xad | 0x61c | 0x200b..=0x200f
        | 0x2028..=0x202e | 0x2060..=0x206f | 0xfeff)
}

#[cfg(unix)]
#[test]
fn no_name_of_a_file_steers_the_terminal() {
    let folder = tempfile::tempdir().unwrap();
    let session = fs::read("tests/fuzz/corpus/session/small").unwrap();
    let score = fs::read("tests/data/scores/sonata.mid").unwrap();
    let tone = fs::read("tests/fixtures/tone.flac").unwrap();
    let named = |ending: &str| format!("{HOSTILE}{ending}");
    for (ending, bytes) in [
        (".session", &session[..]),
        (".mid", &score),
        (".flac", &tone),
        (".ron", b"(version: 1, title: \"\x1b[2J\")"),
        (".txt", b"nothing"),
    ] {
        fs::write(folder.path().join(named(ending)), bytes).unwrap();
    }
    let [evening, mid, flac, ron, txt, none] =
        [".session", ".mid", ".flac", ".ron", ".txt", ".none"].map(named);
    let option = format!("--{HOSTILE}");
    let value = format!("--format={HOSTILE}");
    let mut ran = 0;
    for arguments in [
        &["report", &*evening][..],
        &["report", &evening, "--format", "csv"],
        &["report", &evening, "--format", "json"],
        &["report", &evening, "--player", HOSTILE],
        &["compare", &evening, &evening],
        &["sessions", "."],
        &["sessions", ".", "--format", "json"],
        &["sessions", &none],
        &["replay", &evening],
        &["replay", &none],
        &["replay", &txt],
        &["plan", &mid],
        &["plan", &mid, "--format", "json"],
        &["plan", &txt],
        &["plan", &mid, "--trumpets", HOSTILE],
        &["plan", &mid, "--write", "plan.ron"],
        &["plan", &mid, "--write", &ron],
        &["analyse", &flac],
        &["analyse", &flac, "--format", "json"],
        &["analyse", &flac, "--ensemble", &ron],
        &["analyse", &none],
        &["analyse", &txt],
        &["chord", &flac],
        &["chord", &txt],
        &["rehearse", &ron],
        &["rehearse", &none],
        &["rehearse", "--session", &txt],
        &["rehearse", "--plan", &ron],
        &["rehearse", "--from", &none],
        &["record", &txt, "--session", "x.session"],
        &["practise", "--exercises", &ron],
        &["practise", "--exercise", HOSTILE],
        &["practise", "--instrument", HOSTILE],
        &["temperaments", HOSTILE],
        &["temperaments", "--file", &ron],
        &["bearings", "--temperament", HOSTILE],
        &["demo", "--scene", &ron],
        &["demo", HOSTILE],
        &["series", "--key", HOSTILE],
        &["retune", "-o", &mid, "--into", &txt],
        &["retune", "-o", &named("2.mid"), "--into", &mid],
        &["stand", &evening],
        &["new", &ron],
        &["new", &named("-new.ron")],
        &["manual", &none],
        &[HOSTILE],
        &[&option],
        &["temperaments", &value],
        &["doctor", "--input", HOSTILE],
        &["devices", HOSTILE],
    ] {
        let (code, out, errors) = run_in(folder.path(), arguments);
        assert!((0..=2).contains(&code), "{arguments:?}: {errors}");
        for (what, text) in [("out", &out), ("errors", &errors)] {
            let lines = text.replace("\r\n", "\n");
            let found = lines.chars().find(|c| steers(*c));
            assert_eq!(found, None, "{arguments:?}: {what}: {lines:?}");
        }
        ran += 1;
        if arguments.contains(&"json") && code == 0 {
            let lines = out.lines().filter(|_| arguments[0] == "analyse");
            for text in lines.chain((arguments[0] != "analyse").then_some(&*out)) {
                serde_json::from_str::<serde_json::Value>(text).unwrap();
            }
        }
    }
    assert_eq!(ran, 50);
}

#[test]
fn no_name_in_a_file_leads_out_of_the_folder() {
    let outer = tempfile::tempdir().unwrap();
    let folder = outer.path().join("folder");
    fs::create_dir(&folder).unwrap();
    let hostile = [
        "../x",
        "/x",
        "..\\\\x",
        "C:\\\\x",
        "../../x",
        "~/x",
        "x/../../y",
    ];
    let small = fs::read_to_string("tests/fuzz/corpus/session/small").unwrap();
    for name in hostile {
        let session = small
            .replace("An evening", name)
            .replace("name:\"Violin\"", &format!("name:\"{name}\""));
        fs::write(folder.join("a.session"), &session).unwrap();
        fs::write(folder.join("b.session"), &session).unwrap();
        let plain = name.replace("\\\\", "\\");
        for arguments in [
            &["report", "a.session", "--player", &*plain, "-o", "a.html"][..],
            &["report", "a.session", "--format", "csv", "-o", "a.csv"],
            &["report", "a.session", "--format", "json", "-o", "a.json"],
            &["compare", "a.session", "b.session"],
            &["sessions", "."],
        ] {
            let (code, _, errors) = run_in(&folder, arguments);
            assert_eq!(code, 0, "{name}: {arguments:?}: {errors}");
        }
        for made in ["a.html", "a.csv", "a.json"] {
            fs::remove_file(folder.join(made)).unwrap();
        }
        let left: Vec<_> = fs::read_dir(&folder).unwrap().collect();
        assert_eq!(left.len(), 2, "{name}");
        assert_eq!(fs::read_dir(outer.path()).unwrap().count(), 1, "{name}");
    }
    // A name with a zero cannot be given, and stands in no file that is read.
    let zero = small.replace("An evening", "x\\u{0}y");
    fs::write(folder.join("a.session"), zero).unwrap();
    let (code, out, _) = run_in(&folder, &["sessions", "."]);
    assert_eq!(code, 0);
    assert!(!out.contains('\0'));
}
