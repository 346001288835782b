use super::*;
use crate::rehearsal::tests::{band, held_chord, regular, rehearsal};
use crate::session::load_session;
use crate::units::{Hertz, NoteName};

fn folder() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("evening.session");
    (folder, path)
}

/// A sitting in which these things happen.
fn sitting(path: &Path, happens: impl FnOnce(&mut Rehearsal)) -> Option<String> {
    let keeping = Keeping::given(path).unwrap();
    let (mut rehearsal, mut recorder, told) = keeping.begin(rehearsal(&["Trumpet I"]));
    happens(&mut rehearsal);
    rehearsal.finish();
    recorder.record(&rehearsal.take_entries());
    assert_eq!(recorder.finish(), None);
    told
}

fn a4(tuning: &Tuning) -> String {
    tuning.standard().a4().get().to_string()
}

fn held(number: u8) -> Entry {
    Entry::Held {
        at: Seconds::new(f64::from(number)),
        chord: Box::new(held_chord(&[(number, 0.0)])),
    }
}

#[test]
fn the_last_nine_chords_come_back() {
    let (_folder, path) = folder();
    let keeping = Keeping::given(&path).unwrap();
    assert!(!path.exists(), "nothing to keep yet");
    let (_, mut recorder, _) = keeping.begin(rehearsal(&["Trumpet I"]));
    recorder.record(&(1..=11).map(held).collect::<Vec<_>>());
    assert_eq!(recorder.finish(), None);
    let again = Keeping::given(&path).unwrap();
    let (rehearsal, recorder, told) = again.begin(rehearsal(&["Trumpet I"]));
    assert_eq!(told, None);
    let names: Vec<String> = rehearsal.shelf().chords().map(|(_, c)| c.names()).collect();
    let expected: Vec<String> = (3..=11).map(|number| format!("p{number}")).collect();
    assert_eq!(names, expected);
    assert!(rehearsal.shelf().current().is_none());
    let (_, first) = rehearsal.shelf().chords().next().unwrap();
    assert!(matches!(first.moment, Moment::Earlier(_)), "with its date");
    assert_eq!(recorder.finish(), None);
}

#[test]
fn a_second_sitting_goes_on_with_what_was_agreed() {
    let (folder, path) = folder();
    let sharp: NoteName = "F#".parse().unwrap();
    sitting(&path, |r| {
        r.decide(
            sharp,
            Some(crate::rehearsal::Resolution::FollowPartial),
            "b. 12",
        );
    });
    sitting(&path, |r| {
        assert_eq!(r.chronicle().decisions().len(), 1);
        assert_eq!(r.chronicle().sittings().len(), 2);
        r.mark("again");
    });
    let session = load_session(&path).unwrap();
    assert!(session.ended_well);
    assert_eq!(session.chronicle.sittings().len(), 2);
    assert_eq!(session.chronicle.marks().len(), 1);
    // What was agreed can be taken into another session.
    let other = folder.path().join("next.session");
    let keeping = Keeping::given(&other).unwrap();
    let keeping = keeping.with_agreed(Some(&path)).unwrap();
    let (mut rehearsal, mut recorder, told) = keeping.begin(rehearsal(&["Trumpet I"]));
    assert_eq!(told.unwrap(), "1 agreement taken over from 'evening'");
    assert_eq!(rehearsal.chronicle().decisions()[0].remark, "b. 12");
    recorder.record(&rehearsal.take_entries());
    assert_eq!(recorder.finish(), None);
    assert_eq!(load_session(&other).unwrap().chronicle.decisions().len(), 1);
}

#[test]
fn a_second_sitting_goes_on_in_the_tuning_that_was_left() {
    let (_folder, path) = folder();
    let told = sitting(&path, |r| {
        r.mark("");
        r.shift_standard(1.0);
        let other = regular("elsewhere", "-1/5 SC");
        r.resume(r.tuning().in_temperament(&other));
    });
    assert_eq!(told, None);
    // However often it is gone on with.
    for _ in 0..2 {
        let told = sitting(&path, |r| {
            r.mark("");
            assert_eq!(r.tuning().scale().temperament().name, "elsewhere");
            assert_eq!(a4(r.tuning()), "416");
            r.step_temperament(1);
            assert_ne!(r.tuning().scale().temperament().name, "elsewhere");
            r.step_temperament(-1);
            assert_eq!(r.tuning().scale().temperament().name, "elsewhere");
        });
        let expected = "going on in elsewhere at A 416, as it was left";
        assert_eq!(told.as_deref(), Some(expected));
    }
    let session = load_session(&path).unwrap();
    let (_, last) = session.chronicle.tunings().last().unwrap();
    assert_eq!(a4(last), "416");
    // An ensemble file that was changed meanwhile is followed.
    let mut band = band(&["Trumpet I"]);
    band.tuning = band
        .tuning
        .at_standard(band.tuning.standard().shifted(25.0));
    let keeping = Keeping::given(&path).unwrap();
    let (changed, recorder, told) = keeping.begin(Rehearsal::new(band, Vec::new()));
    assert_eq!(a4(changed.tuning()), "440");
    assert!(told.unwrap().starts_with("now in sixth-comma at A 440"));
    assert_eq!(recorder.finish(), None);
}

#[test]
fn a_series_that_was_measured_is_gone_on_with() {
    let (_folder, path) = folder();
    let anchor = crate::tuning::Anchor::Fundamental {
        hz: Hertz::new(73.5).unwrap(),
    };
    sitting(&path, |r| {
        r.mark("");
        r.resume(r.tuning().anchored(anchor));
    });
    let told = sitting(&path, |r| {
        assert!((r.tuning().series().fundamental().get() - 73.5).abs() < 1e-3);
    });
    let expected = "going on in sixth-comma at A 415, trumpets on 73.50 Hz, as it was left";
    assert_eq!(told.as_deref(), Some(expected));
}

#[test]
fn a_screen_that_was_only_looked_at_leaves_nothing() {
    let (folder, path) = folder();
    sitting(&path, |_| {});
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    sitting(&path, |r| r.mark(""));
    let before = std::fs::read(&path).unwrap();
    sitting(&path, |_| {});
    assert_eq!(std::fs::read(&path).unwrap(), before);
}

#[test]
fn two_at_once_do_not_write_into_one_file() {
    let (_folder, path) = folder();
    sitting(&path, |r| r.mark(""));
    let first = Keeping::given(&path).unwrap();
    let error = Keeping::given(&path).unwrap_err().to_string();
    assert!(error.contains("is being written to by another"), "{error}");
    drop(first);
    assert!(Keeping::given(&path).is_ok());
}

#[test]
fn a_file_of_another_kind_is_refused_and_a_lost_folder_too() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("band.ron");
    std::fs::write(&path, "mine\n").unwrap();
    let error = Keeping::given(&path).unwrap_err().to_string();
    assert!(error.contains("is no session of concento"), "{error}");
    let error = Keeping::given(&folder.path().join("lost/a.session")).unwrap_err();
    assert!(
        error.to_string().contains("a folder that exists"),
        "{error}"
    );
}

/// A plan called 'evening' at A 466.
pub(in crate::cli) fn plan(folder: &Path, rest: &str) -> Plan {
    Plan::load(&plan_file(folder, rest)).unwrap()
}

/// Its file.
pub(in crate::cli) fn plan_file(folder: &Path, rest: &str) -> PathBuf {
    let path = folder.join("evening.ron");
    let text = format!("(version: 1, title: \"Evening\", pitch: (a4_hz: 466), {rest})");
    std::fs::write(&path, text).unwrap();
    path
}

/// Trumpets in D, with three notes to agree on and one for others.
pub(in crate::cli) fn an_evening() -> &'static str {
    "temperament: \"vallotti\", trumpets: (key: \"D\"), agreed: [
        (note: \"G#\", key: \"D\", what: FollowPartial, why: \"bar 12\"),
        (note: \"B\", key: \"D\", what: MeetBetween(20.0)),
        (note: \"F#\", what: TrumpetLips),
        (note: \"Bb\", key: \"C\", what: LeaveExposed),
    ]"
}

/// A sitting of the plan in the session at `path`.
fn planned(folder: &Path, path: &Path, agreed: Option<&Path>) -> (Rehearsal, String) {
    let plan = plan(folder, an_evening());
    let mut rehearsal = rehearsal(&["Trumpet I"]);
    rehearsal.resume(plan.settled.tuning(rehearsal.tuning()));
    let keeping = Keeping::given(path).unwrap().with_agreed(agreed).unwrap();
    let (mut rehearsal, mut recorder, told) = keeping.with_plan(Some(plan)).begin(rehearsal);
    recorder.record(&rehearsal.take_entries());
    assert_eq!(recorder.finish(), None);
    (rehearsal, told.unwrap())
}

fn agreed_on(rehearsal: &Rehearsal, note: &str) -> Option<crate::rehearsal::Resolution> {
    let note: NoteName = note.parse().unwrap();
    rehearsal.chronicle().decision(note)?.resolution
}

#[test]
fn what_was_decided_in_the_session_goes_before_the_plan() {
    use crate::rehearsal::Resolution;
    let (folder, path) = folder();
    sitting(&path, |r| {
        r.decide(
            "G#".parse().unwrap(),
            Some(Resolution::KeyboardLeavesOut),
            "",
        );
        r.decide("B".parse().unwrap(), Some(Resolution::FollowPartial), "");
        r.decide("B".parse().unwrap(), None, "");
    });
    let (rehearsal, told) = planned(folder.path(), &path, None);
    let expected = "plan 'evening': vallotti at A 466, 1 note agreed, 2 decided since, 1 for \
                    trumpets not in D";
    assert!(told.ends_with(expected), "{told}");
    let keyboard = Some(Resolution::KeyboardLeavesOut);
    assert_eq!(agreed_on(&rehearsal, "G#"), keyboard);
    assert_eq!(agreed_on(&rehearsal, "B"), None, "taken back");
    assert_eq!(agreed_on(&rehearsal, "F#"), Some(Resolution::TrumpetLips));
    // With the same plan once more nothing is said twice.
    let before = rehearsal.chronicle().decisions().len();
    let (rehearsal, told) = planned(folder.path(), &path, None);
    assert!(told.contains("nothing agreed, 3 decided since"), "{told}");
    assert_eq!(rehearsal.chronicle().decisions().len(), before);
}

#[test]
fn what_an_earlier_rehearsal_agreed_goes_before_the_plan() {
    use crate::rehearsal::Resolution;
    let (folder, path) = folder();
    sitting(&path, |r| {
        r.decide("B".parse().unwrap(), Some(Resolution::FollowPartial), "");
        r.decide("E".parse().unwrap(), Some(Resolution::TrumpetLips), "");
    });
    let next = folder.path().join("next.session");
    let (rehearsal, told) = planned(folder.path(), &next, Some(&path));
    assert_eq!(
        told,
        "plan 'evening': vallotti at A 466, 2 notes agreed, 1 decided since, 1 for trumpets not \
         in D; 2 agreements taken over from 'evening'"
    );
    let partial = Some(Resolution::FollowPartial);
    assert_eq!(agreed_on(&rehearsal, "B"), partial);
    assert_eq!(agreed_on(&rehearsal, "G#"), partial);
    assert_eq!(agreed_on(&rehearsal, "E"), Some(Resolution::TrumpetLips));
    assert_eq!(rehearsal.chronicle().decisions().len(), 4, "none twice");
}
