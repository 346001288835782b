//! Pictures of a practice at chosen moments.

use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::buffer::Buffer;

use super::glance::Figure;
use super::*;
use crate::analysis::cancel::{HeardThrough, Leak};
use crate::analysis::{NoPitch, Reading};
use crate::drone::{Drone, Tones};
use crate::rehearsal::tests::{reading, rehearsal, sixth_comma, unpitched};
use crate::rehearsal::{
    Accompaniment, Approach, Course, Exercise, Hold, Loudspeaker, Place, Practice, Step, Steps,
    Target, Trial, Update,
};
use crate::sound::SourceState;
use crate::tui::event::Recording;
use crate::tui::theme::Palette;
use crate::tuning::{Partial, TemperedPlace};
use crate::units::{Cents, Dbfs, Hertz, Note, Seconds};

fn eleventh() -> Partial {
    Partial::new(11).unwrap()
}

fn exercise(is_blind: bool) -> Exercise {
    Exercise {
        name: "both-places".into(),
        title: "The eleventh in both places".into(),
        steps: Steps::Notes(vec![Step::Partial(eleventh())]),
        places: vec![Place::Partial, Place::Agreed],
        tolerance: Cents::new(5.0),
        hold: Seconds::new(3.0),
        is_blind,
        accompaniment: Accompaniment::Stays,
    }
}

/// The eleventh partial of a trumpet in D, meant in this place; agreed half-way.
fn target(place: Place) -> Target {
    let tuning = sixth_comma();
    let note: Note = "G#5".parse().unwrap();
    let tempered = tuning.scale().frequency(note);
    let places = tuning.places_of(TemperedPlace {
        note,
        place: tempered,
        cents: Cents::UNISON,
    });
    let partial = tuning.series().frequency(eleventh());
    let agreed = tempered.raised(Cents::new(-20.0));
    Target {
        places,
        place,
        hertz: match place {
            Place::Partial => partial,
            Place::Tempered => tempered,
            Place::Agreed => agreed,
        },
        agreed: Some(agreed),
    }
}

fn trials(count: usize) -> Vec<Trial> {
    let offs = [
        -14.0, -9.0, 11.0, -22.0, -6.0, -4.0, 3.0, 0.4, -5.0, -2.6, -7.3,
    ];
    let offs = offs.into_iter().cycle().take(count).enumerate();
    offs.map(|(n, off)| Trial {
        exercise: "both-places".into(),
        note: "G#5".parse().unwrap(),
        partial: Some(eleventh()),
        place: [Place::Partial, Place::Agreed][n % 2],
        target: target(Place::Partial).hertz,
        tolerance: Cents::new(5.0),
        begun: Seconds::new(10.0 * n as f64),
        ended: Seconds::new(10.0 * n as f64 + 4.2),
        inside: Seconds::new(0.3 * n as f64),
        off: Cents::new(off),
        spread: Cents::new(1.5 + (n % 3) as f64),
        drift_per_second: Cents::new(-0.4),
        approach: Approach::Below,
        was_blind: false,
    })
    .collect()
}

fn held() -> Hold {
    Hold {
        begun: Seconds::new(0.0),
        lasting: Seconds::new(4.1),
        inside: Seconds::new(1.2),
        off: Some(Cents::new(-12.0)),
        spread: Some(Cents::new(2.0)),
        drift_per_second: Some(Cents::new(-0.42)),
        approach: Some(Approach::Below),
    }
}

/// A practice whose player sounds `sounds` for three seconds, the drone with it if it `drones`.
fn practised(drones: bool, sounds: impl Fn(f64) -> Reading) -> Rehearsal {
    practised_by("Trumpet I", drones, sounds)
}

fn practised_by(name: &str, drones: bool, sounds: impl Fn(f64) -> Reading) -> Rehearsal {
    let tones: Tones = "8,11".parse().unwrap();
    let mut drone = Drone::new(tones).in_octave(-1);
    if drones {
        drone.toggle();
    }
    let course = Course::new(vec![exercise(false)]).unwrap();
    let mut rehearsal = rehearsal(&[name]).practising(Practice::new(drone, course));
    rehearsal.take(Update::State(SourceState::Running));
    let name = "built-in audio".to_owned();
    rehearsal.take(Update::Loudspeaker(Loudspeaker::Running(name)));
    if drones {
        rehearsal.take(Update::Through(HeardThrough {
            leak: Leak::Removed {
                latency: Some(Seconds::new(0.0842)),
                level: Dbfs::new(-52.0),
                depth_db: 46.2,
            },
            beats_hz: Some(5.6),
        }));
    }
    for hop in 1..=300 {
        let available = Seconds::new(f64::from(hop) * 0.01);
        rehearsal.tick(available);
        let sound = sounds(available.get());
        let reading = Reading { available, ..sound };
        rehearsal.take(Update::Reading(0, reading));
    }
    rehearsal
}

/// Twelve cents below the eleventh partial, come from below.
fn below(time: f64) -> Reading {
    let cents = -12.0 - 30.0 * (-3.0 * time).exp();
    let hertz = target(Place::Partial).hertz.raised(Cents::new(cents));
    reading(hertz.get())
}

/// The whole window, at a moment that `change` has made.
fn picture(
    (width, height): (u16, u16),
    rehearsal: &Rehearsal,
    precision: Precision,
    change: impl FnOnce(&mut Glance<'_>),
) -> Buffer {
    let mut glance = Glance::of(rehearsal).unwrap();
    change(&mut glance);
    let theme = Theme::dark(Palette::Rich);
    let view = PracticeView {
        precision,
        ..PracticeView::new()
    };
    let recording = Recording::default();
    let status = Status {
        notice: None,
        recording: &recording,
        playback: None,
        watching: None,
        keys: crate::tui::keymap::PRACTICE,
    };
    let framed = Framed {
        rehearsal,
        status,
        hints: hints(&view, Some(&glance), &status),
        theme: &theme,
    };
    let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
    terminal
        .draw(|frame| {
            let area = frame.area();
            framed.render(area, frame.buffer_mut(), |body, buffer| {
                let pane = PracticePane {
                    glance: &glance,
                    precision,
                    theme: &theme,
                };
                pane.render(body, buffer);
            });
        })
        .unwrap();
    terminal.backend().buffer().clone()
}

const SIZES: [(u16, u16); 5] = [(80, 24), (60, 20), (40, 10), (120, 40), (200, 60)];

fn text(buffer: &Buffer) -> String {
    let width = usize::from(buffer.area.width).max(1);
    let rows = buffer.content().chunks(width);
    let rows = rows.map(|row| {
        row.iter()
            .map(ratatui::buffer::Cell::symbol)
            .collect::<String>()
    });
    rows.map(|row| row.trim_end().to_owned() + "\n").collect()
}

fn check(name: &str, rehearsal: &Rehearsal, change: impl Fn(&mut Glance<'_>)) {
    for size in SIZES {
        let picture = picture(size, rehearsal, Precision::Whole, &change);
        insta::assert_snapshot!(format!("{name}_{}x{}", size.0, size.1), text(&picture));
    }
}

/// Twelve cents below the eleventh partial, after ten notes.
fn playing(glance: &mut Glance<'_>) {
    glance.target = Some(target(Place::Partial));
    glance.agreed = glance.target.and_then(|target| target.agreed);
    glance.step = Some((0, 2));
    glance.hold = Some(Box::leak(Box::new(held())));
    glance.trials = trials(11).leak();
}

#[test]
fn a_player_below_the_eleventh_partial() {
    check("below", &practised(true, below), playing);
}

#[test]
fn tenths_have_their_own_place() {
    let rehearsal = practised(true, below);
    let picture = picture((80, 24), &rehearsal, Precision::Tenths, playing);
    insta::assert_snapshot!("tenths_80x24", text(&picture));
}

#[test]
fn a_blind_exercise_hides_the_player() {
    check("hidden", &practised(true, below), |glance| {
        playing(glance);
        glance.is_hidden = true;
    });
}

#[test]
fn the_result_stands_when_the_note_has_ended() {
    let rehearsal = practised(true, |time| {
        if time < 1.0 {
            below(time)
        } else {
            unpitched(NoPitch::Silence)
        }
    });
    check("ended", &rehearsal, |glance| {
        playing(glance);
        glance.hold = None;
    });
}

#[test]
fn on_the_drone_there_is_no_number() {
    let rehearsal = practised(true, |_| unpitched(NoPitch::Drone));
    check("on_drone", &rehearsal, |glance| {
        playing(glance);
        glance.hold = None;
    });
}

#[test]
fn a_lost_loudspeaker_says_why() {
    let mut rehearsal = practised(true, below);
    let why = "'built-in audio' is gone: plug it in again".to_owned();
    rehearsal.take(Update::Loudspeaker(Loudspeaker::Waiting(why)));
    check("lost", &rehearsal, playing);
}

#[test]
fn an_empty_start_says_what_to_do() {
    let rehearsal = practised(false, |_| unpitched(NoPitch::Silence));
    check("start", &rehearsal, |glance| {
        glance.target = Some(target(Place::Agreed));
        glance.agreed = glance.target.and_then(|target| target.agreed);
        glance.step = Some((0, 2));
    });
}

#[test]
fn the_last_note_of_another_exercise_stands_beside_no_new_one() {
    let rehearsal = practised(false, |_| unpitched(NoPitch::Silence));
    let mut glance = Glance::of(&rehearsal).unwrap();
    let trials = trials(3);
    glance.trials = &trials;
    let figure = glance.figure(Precision::Whole);
    assert!(matches!(figure, Figure::Last(..)), "{figure:?}");
    let mut other = exercise(false);
    other.name = "another".into();
    glance.exercise = &other;
    let figure = glance.figure(Precision::Whole);
    assert!(matches!(figure, Figure::Words(_)), "{figure:?}");
}

#[test]
fn a_string_player_is_counted_from_the_agreed_place() {
    let rehearsal = practised_by("Violin I", true, below);
    let picture = picture((80, 24), &rehearsal, Precision::Whole, |glance| {
        playing(glance);
        glance.target = Some(target(Place::Agreed));
        glance.step = Some((1, 2));
    });
    insta::assert_snapshot!("violin_80x24", text(&picture));
}

#[test]
fn another_note_is_told_with_the_way() {
    let d5 = sixth_comma().scale().frequency("D5".parse().unwrap());
    let rehearsal = practised(true, |_| reading(d5.get()));
    let picture = picture((80, 24), &rehearsal, Precision::Whole, playing);
    insta::assert_snapshot!("elsewhere_80x24", text(&picture));
}

#[test]
fn nothing_of_the_player_is_seen_in_the_dark() {
    let rehearsal = practised(true, below);
    let buffer = picture((120, 40), &rehearsal, Precision::Whole, |glance| {
        playing(glance);
        glance.is_hidden = true;
        glance.trials = &[];
    });
    let text = text(&buffer);
    for trace in ["\u{25cf}", "beats", "spread", "below", "inside"] {
        assert!(!text.contains(trace), "'{trace}':\n{text}");
    }
}

#[test]
fn before_a_blind_note_it_is_told_what_to_play() {
    let rehearsal = practised(false, |_| unpitched(NoPitch::Silence));
    let buffer = picture((60, 20), &rehearsal, Precision::Whole, |glance| {
        glance.target = Some(target(Place::Partial));
        glance.step = Some((0, 2));
        glance.is_hidden = true;
    });
    let text = text(&buffer);
    for words in [
        "play G\u{266f}5 and hold it",
        "shown when the note ends",
        "Enter begins",
    ] {
        assert!(text.contains(words), "'{words}':\n{text}");
    }
}

/// The columns of the units of the number, by their right edge.
fn right_edge(cents: f64, precision: Precision) -> u16 {
    let hertz: Hertz = target(Place::Partial).hertz.raised(Cents::new(cents));
    let rehearsal = practised(false, |_| reading(hertz.get()));
    let buffer = picture((80, 24), &rehearsal, precision, playing);
    let lit = |x: u16| (4..12).any(|y| buffer[(x, y)].symbol() != " ");
    (46..80).rev().find(|x| lit(*x)).unwrap()
}

#[test]
fn figures_stay_in_their_columns() {
    for precision in [Precision::Whole, Precision::Tenths] {
        let edge = right_edge(-8.0, precision);
        for cents in [0.0, 8.0, -28.0, 48.0, -88.8] {
            assert_eq!(right_edge(cents, precision), edge, "{cents} {precision:?}");
        }
    }
}

#[test]
fn no_size_breaks_the_view() {
    let rehearsal = practised(true, below);
    for width in (1..70).chain([80, 120, 220]) {
        for height in (1..30).chain([40, 70]) {
            for precision in [Precision::Whole, Precision::Tenths] {
                picture((width, height), &rehearsal, precision, playing);
            }
        }
    }
}

#[test]
fn no_colour_judges() {
    use ratatui::style::Color;
    let buffer = picture((80, 24), &practised(true, below), Precision::Whole, playing);
    for verdict in [Color::Red, Color::Green, Color::LightRed, Color::LightGreen] {
        assert!(buffer.content().iter().all(|cell| cell.fg != verdict));
    }
}
