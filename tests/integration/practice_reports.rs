//! What reports say of exercises: of invented sessions of one player, of whom every note is known.

use std::path::Path;

use concento::rehearsal::{Approach, Entry, Place as Spot, Trial};
use concento::report::{Comparison, Digest, Occasion, rehearsal_page, rehearsals_json};
use concento::session::{Place, Recorder, Session, load_session};
use concento::tuning::{Partial, Tuning};
use concento::units::{Cents, Seconds};

use crate::program::run_in;
use crate::reports::text;
use crate::specimen::{USUAL, ensemble, note};

/// A note of four seconds; of the first half it was inside where it lay within 8 cents.
fn trial(tuning: &Tuning, exercise: &str, spot: Spot, off: f64, begun: f64) -> Trial {
    let eleventh = Partial::new(11).unwrap();
    let tempered = tuning.scale().frequency("G#5".parse().unwrap());
    let target = match spot {
        Spot::Partial => tuning.series().frequency(eleventh),
        Spot::Tempered => tempered,
        Spot::Agreed => tempered.raised(Cents::new(-12.0)),
    };
    Trial {
        exercise: exercise.to_owned(),
        note: "G#5".parse().unwrap(),
        partial: Some(eleventh),
        place: spot,
        target,
        tolerance: Cents::new(8.0),
        begun: Seconds::new(begun),
        ended: Seconds::new(begun + 4.0),
        inside: Seconds::new(if off.abs() <= 8.0 { 3.0 } else { 0.5 }),
        off: Cents::new(off),
        spread: Cents::new(2.4),
        drift_per_second: Cents::new(-0.4),
        approach: match off {
            off if off < -8.0 => Approach::Below,
            off if off > 8.0 => Approach::Above,
            _ => Approach::Direct,
        },
        was_blind: exercise == "blind",
    }
}

/// Keeps a session of practice, and reads it.
fn practise(path: &Path, begun: &str, notes: &[(&str, Spot, f64)]) -> Session {
    let band = ensemble("Alone", &USUAL.players[..1]);
    let tuning = band.tuning.clone();
    let mut entries = vec![Entry::Seated {
        at: Seconds::default(),
        ensemble: Box::new(band),
    }];
    for (place, (exercise, spot, off)) in notes.iter().enumerate() {
        let begun = 10.0 + 6.0 * place as f64;
        let tried = trial(&tuning, exercise, *spot, *off, begun);
        entries.push(Entry::Note(note(&tuning, 0, "G#5", -38.9 + off, begun)));
        entries.push(Entry::Tried(Box::new(tried)));
    }
    let place = Place::New {
        path: path.to_owned(),
        makes_folder: false,
    };
    let mut recorder = Recorder::start(place, begun);
    recorder.record(&entries);
    assert_eq!(recorder.finish(), None);
    load_session(path).unwrap()
}

/// Two sessions a week apart.
fn weeks(folder: &Path) -> [Session; 2] {
    let (partial, tempered) = (Spot::Partial, Spot::Tempered);
    let first = [
        ("switch", partial, 14.0),
        ("switch", tempered, -6.0),
        ("switch", partial, 11.0),
        ("switch", tempered, -4.0),
        ("switch", partial, -9.0),
        ("blind", Spot::Agreed, 3.0),
    ];
    let second = [
        ("switch", partial, 6.0),
        ("switch", tempered, -3.0),
        ("switch", partial, -5.0),
        ("hold", tempered, 21.0),
    ];
    [
        practise(
            &folder.join("first.session"),
            "2026-11-11T19:30:00+01:00",
            &first,
        ),
        practise(
            &folder.join("second.session"),
            "2026-11-18T20:00:00+01:00",
            &second,
        ),
    ]
}

fn digest(session: &Session) -> Digest<'_> {
    Digest::of(Occasion {
        name: &session.name,
        begun: &session.begun,
        chronicle: &session.chronicle,
        ended_well: session.ended_well,
        is_running: false,
        notice: None,
    })
}

#[test]
fn a_page_tells_how_each_note_was_held() {
    let folder = tempfile::tempdir().unwrap();
    let [first, _] = weeks(folder.path());
    let page = rehearsal_page(&[digest(&first)], None);
    let text = text(&page);
    let (_, practice) = text.split_once("\nPractice\n").unwrap();
    insta::assert_snapshot!("practice_page", practice);
    let next = text
        .lines()
        .find(|line| line.starts_with("In practice"))
        .unwrap();
    assert_eq!(
        next,
        "In practice these lay farthest from their places: G♯5 (p11) ◇ 11 cents."
    );
    // One shape for each note, in the colours the style sheet knows.
    let (_, picture) = page.split_once("practice-title-0").unwrap();
    assert_eq!(picture.matches("<path d=\"M").count(), 4);
    assert_eq!(picture.matches("<rect ").count(), 2);
    for word in [
        "good", "bad", "wrong", "correct", "in tune", "mistake", "error", "score",
    ] {
        assert!(!text.to_lowercase().contains(word), "{word}");
    }
}

#[test]
fn practice_is_compared_from_week_to_week() {
    let folder = tempfile::tempdir().unwrap();
    let sessions = weeks(folder.path());
    let digests = sessions.each_ref().map(digest);
    let comparison = Comparison::of(&digests);
    let table = comparison.to_table();
    let (_, practice) = table.split_once("practice:").unwrap();
    insta::assert_snapshot!("compared_practice", practice);
    let value: serde_json::Value = serde_json::from_str(&comparison.to_json()).unwrap();
    let row = &value["practice"][0];
    assert_eq!(
        (&row["exercise"], &row["place"]),
        (&"switch".into(), &"partial".into())
    );
    assert_eq!(row["tallies"][0]["notes"], 3);
    assert_eq!(row["tallies"][0]["off_cents"], 11.0);
    assert_eq!(row["change_cents"], -5.5);
    let page = text(&rehearsal_page(&digests, None));
    let row = page
        .lines()
        .find(|line| line.contains("3× 11 12 %"))
        .unwrap();
    assert_eq!(
        row,
        "| G♯5 (p11) ◇ switch | 3× 11 12 % | 2× 6 75 % | −6 | +63 %"
    );
    // The same from the command line.
    let both = ["compare", "first.session", "second.session"];
    assert_eq!(run_in(folder.path(), &both), (0, table, String::new()));
}

#[test]
fn practice_is_data_too() {
    let folder = tempfile::tempdir().unwrap();
    let [first, _] = weeks(folder.path());
    let value: serde_json::Value =
        serde_json::from_str(&rehearsals_json(&[digest(&first)])).unwrap();
    let trials = value["rehearsals"][0]["trials"].as_array().unwrap();
    assert_eq!(trials.len(), 6);
    let expected = serde_json::json!({
        "exercise": "switch", "note": "G#5", "partial": 11, "place": "partial",
        "target_hz": 762.4102, "tolerance_cents": 8.0, "begun_s": 10.0, "ended_s": 14.0,
        "inside_s": 0.5, "off_cents": 14.0, "spread_cents": 2.4,
        "drift_cents_per_second": -0.4, "approach": "above", "blind": false,
    });
    assert_eq!(trials[0], expected);
}

#[test]
fn a_name_of_an_exercise_can_do_nothing_to_a_page() {
    let folder = tempfile::tempdir().unwrap();
    let name = "<script>alert(1)</script>\u{202e}";
    let notes = [(name, Spot::Partial, 1.0), (name, Spot::Partial, 2.0)];
    let path = folder.path().join("strange.session");
    let session = practise(&path, "2026-11-11T19:30:00+01:00", &notes);
    let other = practise(
        &folder.path().join("b.session"),
        "2026-11-12T19:30:00+01:00",
        &notes,
    );
    let page = rehearsal_page(&[digest(&session), digest(&other)], None);
    assert!(page.contains("&lt;script&gt;alert(1)"));
    assert!(!page.contains("<script") && !page.contains('\u{202e}'));
}
