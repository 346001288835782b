use super::playhead::Playhead;
use super::*;
use crate::rehearsal::tests::{band, hear_for, reading, rehearsal};
use crate::rehearsal::{Doing, HeardChannel, HeardSpan, Mark};
use crate::units::{Dbfs, Hertz};

fn at(seconds: f64) -> Seconds {
    Seconds::new(seconds)
}

fn heard(begun: f64, hz: f64) -> Entry {
    Entry::Heard(HeardSpan {
        at: at(begun),
        channels: vec![HeardChannel {
            channel: 0,
            level: Dbfs::new(-20.0),
            clipped: false,
            samples: vec![Ok(Hertz::new(hz).unwrap()); 5],
            motion: None,
        }],
        chords: Vec::new(),
    })
}

fn seated(time: f64) -> Entry {
    Entry::Seated {
        at: at(time),
        ensemble: Box::new(band(&["Violin I"])),
    }
}

fn mark(time: f64) -> Entry {
    Entry::Marked(Mark {
        at: at(time),
        text: String::new(),
    })
}

/// A minute: A and then B flat in turns of ten seconds, marks at 15 and 40.
fn minute() -> Vec<Entry> {
    let mut entries = vec![seated(0.0)];
    for half in 0..120 {
        let begun = 0.5 * f64::from(half);
        let is_upper = (half / 20) % 2 == 1;
        entries.push(heard(begun, if is_upper { 440.0 } else { 415.0 }));
    }
    entries.extend([mark(15.0), mark(40.0)]);
    entries
}

fn pitches(updates: &[Update]) -> Vec<f64> {
    let pitch = |update: &Update| match update {
        Update::Reading(_, reading) => Some(reading.pitch.unwrap().hertz.get()),
        _ => None,
    };
    updates.iter().filter_map(pitch).collect()
}

#[test]
fn times_are_typed_in_three_ways() {
    for (text, seconds) in [
        ("0", 0.0),
        ("90.5", 90.5),
        ("12:30", 750.0),
        ("1:02:03", 3_723.0),
    ] {
        assert_eq!(parse_time(text), Ok(at(seconds)), "{text}");
    }
    for text in ["", "-3", "1:60", "a", "1:2:3:4", "inf", "1e3", "1.5:00"] {
        assert!(parse_time(text).is_err(), "{text}");
    }
}

#[test]
fn readings_come_at_their_time_and_at_every_speed_all_of_them() {
    for speed in [1, 2, 16, 60] {
        let mut playhead = Playhead::new(minute(), at(60.0), speed);
        let mut n_readings = 0;
        let mut n_entries = 0;
        while !playhead.is_paused() {
            playhead.advance(at(1.0 / 30.0));
            let updates = playhead.fetch();
            for update in &updates {
                if let Update::Reading(_, reading) = update {
                    assert!(reading.available <= playhead.at());
                    n_readings += 1;
                }
            }
            let is_entry = |update: &&Update| matches!(update, Update::Recalled(_));
            n_entries += updates.iter().filter(is_entry).count();
        }
        assert_eq!(playhead.at(), at(60.0), "it stands still at the end");
        assert_eq!(
            (n_readings, n_entries),
            (120 * 15, minute().len()),
            "{speed}"
        );
    }
}

#[test]
fn a_new_note_shows_within_a_tenth_of_a_second() {
    let mut playhead = Playhead::new(minute(), at(60.0), 1);
    playhead.advance(at(10.0));
    playhead.fetch();
    playhead.advance(at(0.09));
    let new = pitches(&playhead.fetch());
    assert!(new.iter().filter(|hz| **hz > 430.0).count() >= 2, "{new:?}");
}

#[test]
fn marks_are_gone_to_and_fro() {
    let mut playhead = Playhead::new(minute(), at(60.0), 1);
    assert_eq!(playhead.next_mark(), at(15.0));
    playhead.go_to(at(15.0));
    assert_eq!(playhead.next_mark(), at(40.0));
    assert_eq!(playhead.previous_mark(), at(0.0));
    playhead.go_to(at(41.0));
    assert_eq!(playhead.previous_mark(), at(15.0), "40 was just passed");
    playhead.go_to(at(50.0));
    assert_eq!(
        (playhead.previous_mark(), playhead.next_mark()),
        (at(40.0), at(60.0))
    );
    playhead.go_to(at(-3.0));
    assert_eq!(playhead.at(), at(0.0));
    playhead.go_to(at(99.0));
    assert_eq!(playhead.at(), at(60.0));
}

#[test]
fn speeds_go_up_and_down_and_pauses_stand() {
    let mut playhead = Playhead::new(minute(), at(60.0), 5);
    let mut speeds = Vec::new();
    for _ in 0..5 {
        playhead.step_speed(true);
        speeds.push(playhead.speed());
    }
    assert_eq!(speeds, [8, 16, 30, 60, 60]);
    for _ in 0..9 {
        playhead.step_speed(false);
    }
    assert_eq!(playhead.speed(), 1);
    playhead.toggle_pause();
    playhead.advance(at(5.0));
    assert_eq!(playhead.at(), at(0.0));
    playhead.toggle_pause();
    playhead.advance(at(99.0));
    assert!(playhead.is_paused());
    playhead.go_to(at(30.0));
    assert!(!playhead.is_paused(), "from the end it goes on by itself");
    playhead.toggle_pause();
    playhead.go_to(at(20.0));
    assert!(playhead.is_paused(), "and a pause stays one");
}

#[test]
fn nobody_waits_between_two_sittings() {
    let mut entries = vec![seated(0.0), heard(0.0, 415.0)];
    entries.extend([seated(3_600.0), heard(3_600.0, 415.0)]);
    let mut playhead = Playhead::new(entries, at(3_601.0), 1);
    for _ in 0..70 {
        playhead.advance(at(0.1));
        playhead.fetch();
    }
    assert!(playhead.at() >= at(3_600.0), "{:?}", playhead.at());
}

#[test]
fn one_goes_back_over_a_break_between_two_sittings() {
    let mut entries = vec![seated(0.0)];
    entries.extend((0..120).map(|half| heard(0.5 * f64::from(half), 415.0)));
    entries.extend([seated(3_600.0), heard(3_600.0, 415.0)]);
    let mut playhead = Playhead::new(entries, at(3_601.0), 1);
    let leap = |playhead: &mut Playhead, by: f64| {
        let to = playhead.at() + at(by);
        playhead.go_to(to);
        playhead.catch_up(&mut rehearsal(&["Violin I"]).replaying());
        playhead.at()
    };
    playhead.go_to(at(3_600.5));
    playhead.toggle_pause();
    assert_eq!(leap(&mut playhead, -10.0), at(60.0), "the end of the first");
    playhead.advance(at(1.0));
    assert_eq!(playhead.at(), at(60.0), "and a pause stays one");
    assert_eq!(leap(&mut playhead, -10.0), at(50.0));
    assert_eq!(leap(&mut playhead, 10.0), at(60.0));
    assert_eq!(leap(&mut playhead, 10.0), at(3_600.0), "and on again");
    // Whoever lets it play on from the end does not wait for an hour.
    leap(&mut playhead, -10.0);
    playhead.toggle_pause();
    for _ in 0..70 {
        playhead.advance(at(0.1));
        playhead.fetch();
    }
    assert!(playhead.at() >= at(3_600.0), "{:?}", playhead.at());
}

#[test]
fn the_screen_stands_after_a_leap_as_it_stood() {
    let blank = || rehearsal(&["Violin I"]).replaying();
    let mut playhead = Playhead::new(minute(), at(60.0), 1);
    playhead.go_to(at(35.0));
    let mut leapt = blank();
    playhead.catch_up(&mut leapt);
    let mut watched = blank();
    let mut playhead = Playhead::new(minute(), at(60.0), 1);
    for _ in 0..=35 * 32 {
        watched.tick(playhead.at());
        for update in playhead.fetch() {
            watched.take(update);
        }
        playhead.advance(at(1.0 / 32.0));
    }
    let note = |rehearsal: &Rehearsal| {
        let part = rehearsal.parts().next().unwrap();
        assert!(!matches!(part.doing, Doing::Unheard | Doing::Quiet { .. }));
        part.state
            .sounding()
            .map(|s| s.places().tempered.note.ascii())
    };
    assert_eq!(note(&leapt), note(&watched));
    assert_eq!(leapt.chronicle().marks().len(), 1);
    assert_eq!(leapt.chronicle(), watched.chronicle());
    assert!(leapt.is_replay());
}

#[test]
fn what_was_recorded_is_what_is_replayed() {
    let mut live = rehearsal(&["Violin I"]);
    hear_for(&mut live, 0.0, 3.0, &[reading(415.0)]);
    live.mark("here");
    live.finish();
    let entries = live.take_entries();
    let mut playhead = Playhead::new(entries, at(3.0), 1);
    playhead.go_to(at(3.0));
    let mut again = rehearsal(&["Violin I"]).replaying();
    playhead.catch_up(&mut again);
    assert_eq!(again.chronicle().marks(), live.chronicle().marks());
    assert_eq!(again.chronicle().notes(), live.chronicle().notes());
    let sounding = again.parts().next().unwrap().state.sounding();
    assert_eq!(sounding.unwrap().places().tempered.note.ascii(), "A4");
}

#[test]
fn many_steps_of_one_picture_make_the_rehearsal_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("minute.session");
    let place = session::Place::New {
        path: path.clone(),
        makes_folder: false,
    };
    let mut recorder = session::Recorder::start(place, "2026-05-01T19:00:00+02:00");
    recorder.record(&minute());
    assert_eq!(recorder.finish(), None);
    let session = session::load_session(&path).unwrap();
    let mut screening = Screening::new(session, 1).unwrap();
    assert!(screening.arrive().is_none());
    for _ in 0..4 {
        screening.travel(Travel::By(at(10.0)));
    }
    screening.travel(Travel::Faster);
    assert_eq!(screening.playhead.at(), at(40.0));
    let rehearsal = screening.arrive().unwrap();
    assert_eq!(rehearsal.now(), at(40.0));
    assert!(screening.arrive().is_none(), "once");
    screening.travel(Travel::Pause);
    assert!(screening.arrive().is_none(), "nothing is elsewhere");
}
