use std::fs;

use proptest::prelude::*;

use super::*;
use crate::session::NewFileError;
use crate::tuning::{Anchor, Fifths, Temperament, Tempering};

const HEAD: &str = "(version: 1, title: \"Evening\", pitch: (a4_hz: 415),\n";

fn file(rest: &str) -> String {
    format!("{HEAD}{rest}\n)")
}

fn read(text: &str) -> Result<Settled, FileError> {
    read_plan(text, Path::new("plan.ron"))
}

fn check(text: &str, place: (usize, usize), part: &str) {
    let Err(FileError::Content { fault, .. }) = read(text) else {
        panic!("this was read: {text}");
    };
    assert_eq!((fault.line, fault.column), place, "{text}: {fault}");
    assert!(fault.message.contains(part), "{text}: {fault}");
}

fn name(text: &str) -> NoteName {
    text.parse().unwrap()
}

/// A plan in the folder it lies in.
fn settled(folder: &Path) -> Settled {
    let tonic = |key: &str| SettledTrumpets {
        key: name(key),
        anchor: Anchor::tonic(name(key)),
    };
    let piece = |title: &str, file: &str, trumpets| SettledPiece {
        title: title.to_owned(),
        score: folder.join(file),
        trumpets,
    };
    let note = |note: &str, key: Option<&str>, resolution, remark: &str| SettledNote {
        note: name(note),
        key: key.map(name),
        resolution,
        remark: remark.to_owned(),
    };
    let all = temperaments(None).unwrap();
    Settled {
        title: "Music for trumpets".to_owned(),
        standard: PitchStandard::new(466.0).unwrap().kept_by(NoteName::D),
        temperament: find(&all, "sixth-comma").unwrap().clone(),
        chain: "Bb-D#".parse().unwrap(),
        trumpets: Some(tonic("D")),
        notes: vec![
            note("G#", Some("D"), Resolution::FollowTemperament, "b. 12"),
            note(
                "B",
                Some("D"),
                Resolution::MeetBetween(Cents::new(-12.0)),
                "",
            ),
            note("F", None, Resolution::KeyboardLeavesOut, "\"organ\" rests"),
        ],
        pieces: vec![
            piece("Sonata", "sonata.musicxml", Some(tonic("D"))),
            piece("Aria", "parts/aria.mid", None),
        ],
        trumpet_parts: Some("Clarino*,Tromba".parse().unwrap()),
        keyboard_parts: None,
        reaches: vec![(
            "Dulcian".parse().unwrap(),
            Reach {
                up: Cents::new(10.0),
                down: Cents::new(25.5),
            },
        )],
    }
}

#[test]
fn a_plan_is_written_as_a_leader_can_edit_it() {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("parts")).unwrap();
    insta::assert_snapshot!(plan_text(&settled(folder.path()), folder.path()));
}

#[test]
fn a_plan_is_written_once_and_comes_back_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("parts")).unwrap();
    let path = folder.path().join("plan.ron");
    let settled = settled(folder.path());
    write_plan(&path, &settled).unwrap();
    assert_eq!(load_plan(&path).unwrap(), settled);
    fs::write(&path, "mine").unwrap();
    let again = write_plan(&path, &settled);
    assert!(matches!(again, Err(NewFileError::Exists(_))));
    assert_eq!(fs::read_to_string(&path).unwrap(), "mine");
    let score = folder.path().join("sonata.musicxml");
    for expected in ["plan-2.ron", "plan-3.ron"] {
        let free = write_plan_beside(&score, &settled).unwrap();
        assert_eq!(free, folder.path().join(expected));
        assert_eq!(load_plan(&free).unwrap(), settled);
    }
    let nowhere = folder.path().join("nowhere/sonata.musicxml");
    let lost = write_plan_beside(&nowhere, &settled);
    assert!(matches!(lost, Err(NewFileError::Write { .. })));
}

#[test]
fn scores_elsewhere_are_found_from_the_plan() {
    let folder = tempfile::tempdir().unwrap();
    let [plans, scores] = ["plans", "scores"].map(|name| folder.path().join(name));
    fs::create_dir(&plans).unwrap();
    fs::create_dir(&scores).unwrap();
    fs::write(scores.join("aria.mid"), "here").unwrap();
    let mut settled = settled(&scores);
    settled.pieces[1].score = scores.join("aria.mid");
    let path = plans.join("plan.ron");
    write_plan(&path, &settled).unwrap();
    let text = fs::read_to_string(&path).unwrap();
    assert!(text.contains("\"../scores/aria.mid\""), "{text}");
    // The plan and its scores may move together.
    let moved = folder.path().join("moved");
    fs::create_dir(&moved).unwrap();
    for name in ["plans", "scores"] {
        fs::rename(folder.path().join(name), moved.join(name)).unwrap();
    }
    let loaded = load_plan(&moved.join("plans/plan.ron")).unwrap();
    assert_eq!(fs::read_to_string(&loaded.pieces[1].score).unwrap(), "here");
}

#[test]
fn little_is_needed() {
    let plan = read(&file("temperament: \"vallotti\"")).unwrap();
    assert_eq!(plan.chain, Chain::usual());
    assert_eq!((plan.trumpets, plan.common_key()), (None, None));
    assert!(plan.notes.is_empty() && plan.pieces.is_empty());
    let plan = read(&file(
        "temperament: (name: \"mine\", title: \"Mine\", fifths: Regular(\"-1/7 SC\")),\n\
         trumpets: (key: \"C\"), agreed: [(note: \"F\", what: TrumpetLips)]",
    ))
    .unwrap();
    assert_eq!(plan.temperament.name, "mine");
    let anchor = plan.trumpets.unwrap().anchor;
    assert_eq!(anchor, Anchor::tonic(NoteName::C));
    assert_eq!(plan.notes[0].key, None);
}

#[test]
fn faults_are_found_where_they_stand() {
    check(&file("temperament: \"valotti\""), (2, 23), "'vallotti'");
    check("(version: 2)", (1, 12), "version '2' is not known");
    check(
        &file("chain: \"Eb-G#\""),
        (3, 1),
        "'temperament' is missing",
    );
    let with = |rest: &str| file(&format!("temperament: \"vallotti\",\n{rest}"));
    check(&with("chain: \"Eb-D#\""), (3, 15), "13 notes");
    check(&with("tempo: 1"), (3, 6), "'tempo' is not known here");
    check(
        &with("trumpets: (key: \"D\", anchor: PartialSounds(partial: 5, note: \"E4\"))"),
        (3, 68),
        "does not sound",
    );
    let agreed = |entries: &str| with(&format!("agreed: [\n{entries}]"));
    check(
        &agreed("(note: \"F\", what: FollowTrumpet)"),
        (4, 32),
        "'FollowTrumpet' is not known",
    );
    check(
        &agreed("(note: \"F\", what: MeetBetween(-101))"),
        (4, 35),
        "no place to meet",
    );
    check(
        &agreed("(note: \"F\", what: MeetBetween(NaN))"),
        (4, 34),
        "no place to meet",
    );
    check(
        &agreed("(note: \"H\", what: TrumpetLips)"),
        (4, 11),
        "no note",
    );
    check(
        &agreed("(note: \"F\", what: TrumpetLips, why: \"\\u{1b}[2J\")"),
        (4, 48),
        "control characters",
    );
    check(
        &agreed("(note: \"F\", what: TrumpetLips),\n(note: \"F\", key: \"D\", what: TrumpetLips)"),
        (5, 42),
        "F stands twice",
    );
    let score = |name: &str| with(&format!("pieces: [(title: \"T\", score: {name})]"));
    check(&score("\" \""), (3, 33), "has no name");
    check(&score("\"a\\u{1b}b\""), (3, 40), "control characters");
    check(&with("trumpet_parts: \"a,,b\""), (3, 22), "no pattern");
    check(
        &with("reaches: [(parts: \"Viola\", up_cents: -1, down_cents: 0)]"),
        (3, 40),
        "no reach",
    );
    let many = vec!["(title: \"T\", score: \"s\")"; 501].join(",");
    let Err(FileError::Content { fault, .. }) = read(&with(&format!("pieces: [{many}]"))) else {
        panic!("so many pieces were read");
    };
    assert!(fault.message.contains("too long"), "{fault}");
}

/// Texts that are as a file gives them back.
fn tidy() -> impl Strategy<Value = String> {
    "[a-zA-Z0-9\u{e4}\u{266d}\"\\\\'(),:]{1,12}( [a-zA-Z0-9/]{1,12}){0,3}"
}

fn note_name() -> impl Strategy<Value = NoteName> {
    (-12_i32..=15).prop_map(|fifths| NoteName::from_fifths(fifths).unwrap())
}

fn resolution() -> impl Strategy<Value = Resolution> {
    prop_oneof![
        Just(Resolution::FollowPartial),
        Just(Resolution::FollowTemperament),
        (-100.0..=100.0).prop_map(|cents| Resolution::MeetBetween(Cents::new(cents))),
        Just(Resolution::TrumpetLips),
        Just(Resolution::KeyboardLeavesOut),
        Just(Resolution::LeaveExposed),
    ]
}

fn temperament() -> impl Strategy<Value = Temperament> {
    let shipped = temperaments(None).unwrap();
    let own = ("[a-z][a-z0-9-]{0,9}x", tidy(), -20_i32..20).prop_map(|(name, title, part)| {
        let each: Tempering = format!("{part}/40 SC").parse().unwrap();
        Temperament::new(&name, &title, Fifths::Regular { each }).unwrap()
    });
    prop_oneof![proptest::sample::select(shipped), own]
}

fn trumpets() -> impl Strategy<Value = SettledTrumpets> {
    (note_name(), any::<bool>(), 30.0..150.0).prop_map(|(key, is_measured, hz)| SettledTrumpets {
        key,
        anchor: if is_measured {
            Anchor::Fundamental {
                hz: crate::units::Hertz::new(hz).unwrap(),
            }
        } else {
            Anchor::tonic(key)
        },
    })
}

prop_compose! {
    fn any_settled()(
        title in tidy(),
        a4 in 350.0..500.0,
        kept in note_name(),
        temperament in temperament(),
        flattest in -12_i32..=4,
        trumpets in proptest::option::of(trumpets()),
        notes in proptest::collection::vec(
            (proptest::option::of(note_name()), resolution(), "[a-z0-9 ]{0,30}"), 0..6),
        pieces in proptest::collection::vec(
            (tidy(), "[a-z0-9 ]{1,9}\\.(mid|mxl)", proptest::option::of(trumpets())), 0..4),
        parts in proptest::option::of("[A-Z][a-z]{1,5}\\*?(,[a-z?]{1,5})?"),
    ) -> Settled {
        // Each note differs, so that none stands twice.
        let note = |(at, (key, resolution, remark)): (usize, (Option<NoteName>, Resolution, String))| {
            SettledNote {
                note: NoteName::from_fifths(at as i32 - 3).unwrap(),
                key,
                resolution,
                remark: remark.split_whitespace().collect::<Vec<_>>().join(" "),
            }
        };
        Settled {
            title,
            standard: PitchStandard::new(a4).unwrap().kept_by(kept),
            temperament,
            chain: Chain::new(
                NoteName::from_fifths(flattest).unwrap(),
                NoteName::from_fifths(flattest + 11).unwrap(),
            ).unwrap(),
            trumpets,
            notes: notes.into_iter().enumerate().map(note).collect(),
            pieces: pieces.into_iter().map(|(title, score, trumpets)| SettledPiece {
                title,
                score: PathBuf::from(format!("s{score}")),
                trumpets,
            }).collect(),
            trumpet_parts: parts.map(|parts| parts.parse().unwrap()),
            keyboard_parts: None,
            reaches: Vec::new(),
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn every_plan_comes_back_as_it_was(settled in any_settled()) {
        let text = plan_text(&settled, Path::new(""));
        let read = read(&text);
        prop_assert!(read.is_ok(), "{}\n{text}", read.unwrap_err());
        prop_assert_eq!(read.unwrap(), settled);
    }

    #[test]
    fn no_text_breaks_the_reader(text in "\\PC{0,60}") {
        let _ = read(&file(&format!("temperament: {text}")));
        let _ = read(&file(&format!("temperament: \"vallotti\", agreed: [{text}]")));
    }
}
