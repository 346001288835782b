//! The rows of words: the exercise, the note that is held, the beats and the drone. Facts only.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget;

use super::glance::{self, Glance};
use crate::analysis::cancel::Leak;
use crate::drone::Tone;
use crate::rehearsal::{Approach, Doing, Family, Loudspeaker, Pulse};
use crate::tui::axis::{AGREED, NATURE, TEMPERED};
use crate::tui::beats;
use crate::tui::strip::level_symbol;
use crate::tui::theme::Theme;
use crate::units::{Cents, Dbfs, Seconds};

/// Whole decibels with a real minus sign.
pub(super) fn decibels(level: Dbfs) -> String {
    let db = level.get().round();
    let sign = if db < 0.0 { "\u{2212}" } else { "" };
    format!("{sign}{:.0}", db.abs())
}

/// Columns of what a player does.
const DOING: usize = 12;

/// A text in at most so many columns.
fn cut(text: &str, width: usize) -> String {
    if text.chars().count() <= width {
        return text.to_owned();
    }
    let kept: String = text.chars().take(width.saturating_sub(1)).collect();
    format!("{}\u{2026}", kept.trim_end())
}

/// As many of these as have room, each whole.
fn fitting(parts: Vec<(String, Style)>, area: Rect) -> Line<'static> {
    let mut room = usize::from(area.width);
    let parts = parts.into_iter().take_while(|(text, _)| {
        let width = text.trim_end().chars().count();
        let fits = width <= room;
        room = room.saturating_sub(text.chars().count());
        fits
    });
    parts
        .map(|(text, style)| Span::styled(text, style))
        .collect()
}

/// The exercise, its step, and what the player does.
pub(super) fn title(glance: &Glance<'_>, theme: &Theme, area: Rect, buffer: &mut Buffer) {
    let part = &glance.part;
    let doing = match glance.hold {
        // What the pitch does would tell where it goes.
        _ if !glance.is_hidden => part.doing.to_string(),
        Some(_) => "sounding".to_owned(),
        None => String::new(),
    };
    let meter = part.state.meter();
    let level_style = if meter.is_clipped() {
        theme.notice
    } else {
        theme.faint
    };
    let (what, style) = what(glance, theme);
    let step = match glance.step {
        Some((step, count)) => format!("  {} of {count}: ", step + 1),
        None => "  ".to_owned(),
    };
    let count = |text: &str| text.chars().count();
    let needed = count(&step) + count(&what);
    // Whoever plays alone knows who it is.
    let name = &part.channel.name;
    let all = count(&glance.exercise.title) + needed + count(name) + DOING + 8;
    let name = if all <= usize::from(area.width) {
        name
    } else {
        ""
    };
    let right = Line::from(vec![
        Span::styled(name.to_owned(), theme.text),
        Span::styled(format!(" {} ", level_symbol(meter)), level_style),
        // As long as the longest, so that nothing moves with it.
        Span::styled(format!("{doing:<DOING$}"), theme.text),
    ]);
    let width = (right.width() as u16).min(area.width);
    let room = usize::from(area.width.saturating_sub(width + 2));
    let title = cut(&glance.exercise.title, room.saturating_sub(needed));
    let left = Line::from(vec![
        Span::styled(format!(" {title}"), theme.player),
        Span::styled(step, theme.text),
        Span::styled(what, style),
    ]);
    left.render(area, buffer);
    let at_the_end = Rect {
        x: area.right() - width,
        width,
        ..area
    };
    right.render(at_the_end, buffer);
}

/// The note that is meant and its place: `11 G♯5 at ◆ agreed`.
fn what(glance: &Glance<'_>, theme: &Theme) -> (String, Style) {
    let Some(target) = glance.target else {
        let counted = glance.counted();
        return counted.map_or_else(
            || ("any note".to_owned(), theme.text),
            |(place, _)| {
                let text = format!("from {} {}", glance::mark(place), glance::word(place));
                (text, glance::hue(place, theme))
            },
        );
    };
    let place = glance.counted().map_or(target.place, |(place, _)| place);
    let number = target
        .partial()
        .map(|partial| format!("{} ", partial.number()));
    let (mark, word) = (glance::mark(place), glance::word(place));
    let number = number.unwrap_or_default();
    let mut text = format!("{number}{} at {mark} {word}", target.note());
    if place != target.place {
        text.push_str(", none agreed");
    }
    (text, glance::hue(place, theme))
}

/// How the note is held, or how the last one was.
pub(super) fn hold(glance: &Glance<'_>, theme: &Theme, area: Rect, buffer: &mut Buffer) {
    let inside = |inside: Seconds, of: Seconds, tolerance: Cents| {
        let tolerance = tolerance.get();
        let (inside, of) = (inside.get(), of.get());
        let of = format!("{of:.1} s");
        format!(" inside \u{b1}{tolerance:.0}: {inside:.1} of {of:<6}")
    };
    let parts = match (glance.hold, glance.trials.last()) {
        (Some(hold), _) if glance.is_hidden => {
            vec![(format!(" sounding {:.1} s", hold.lasting.get()), theme.text)]
        }
        (Some(hold), _) => {
            let inside = inside(hold.inside, hold.lasting, glance.exercise.tolerance);
            let moving = moving(hold.approach, hold.spread, hold.drift_per_second);
            styled(inside, moving, theme.text)
        }
        (None, Some(trial)) => {
            let inside = inside(trial.inside, trial.sounding(), trial.tolerance);
            let drift = Some(trial.drift_per_second);
            let moving = moving(Some(trial.approach), Some(trial.spread), drift);
            styled(inside, moving, theme.faint)
        }
        (None, None) => vec![(" no note held yet".to_owned(), theme.faint)],
    };
    fitting(parts, area).render(area, buffer);
}

fn styled(first: String, others: [String; 3], style: Style) -> Vec<(String, Style)> {
    let all = std::iter::once(first).chain(others);
    all.map(|text| (text, style)).collect()
}

/// Approach, spread and drift, with room for them before they are known.
fn moving(approach: Option<Approach>, spread: Option<Cents>, drift: Option<Cents>) -> [String; 3] {
    let approach = approach.map_or("", approached);
    let spread = spread.map_or_else(String::new, |s| format!("spread \u{b1}{:.0}", s.get()));
    let drift = drift.map_or_else(String::new, |d| format!("drift {d:.1} cents a second"));
    [
        format!("  {approach:<10}"),
        format!("  {spread:<10}"),
        format!("  {drift}"),
    ]
}

fn approached(approach: Approach) -> &'static str {
    match approach {
        Approach::Below => "from below",
        Approach::Above => "from above",
        Approach::Direct => "direct",
    }
}

/// Columns of the words beside the pulse.
const BESIDE_PULSE: u16 = 36;

/// The beats in words, and a bar that swells with them.
pub(super) fn beats(glance: &Glance<'_>, theme: &Theme, area: Rect, buffer: &mut Buffer) {
    let area = area.intersection(buffer.area);
    let is_sounding = glance.practice.drone().is_sounding();
    // On the drone only the ear and the loudness tell them apart.
    let is_playing = glance.part.state.sounding().is_some() || glance.part.doing == Doing::OnDrone;
    if area.is_empty() || glance.is_hidden || !is_sounding || !is_playing {
        return;
    }
    let told = glance.practice.beats();
    let computed = told.computed.and(told.pulse);
    let measured = told.measured_hz;
    let text = match (computed, measured) {
        (Some(pulse), Some(hz)) if !pulse.is_still() => {
            format!("beats {} a second, measured {hz:.1}", beats::rate(pulse))
        }
        (Some(pulse), None) if !pulse.is_still() => {
            format!("beats {} a second", beats::rate(pulse))
        }
        (Some(_), Some(hz)) => format!("no beats, measured {hz:.1}"),
        (Some(_), None) => "no beats".to_owned(),
        (None, Some(hz)) => format!("beats measured {hz:.1} a second"),
        (None, None) => return,
    };
    let y = area.bottom() - 1;
    buffer.set_stringn(area.x + 1, y, text, area.width.into(), theme.text);
    if let Some(pulse) = computed {
        let bar = Rect {
            x: area.x + BESIDE_PULSE,
            width: area.width.saturating_sub(BESIDE_PULSE + 1),
            ..area
        };
        draw_pulse(pulse, theme, bar, buffer);
    }
}

/// A bar as long as the two tones are loud together.
fn draw_pulse(pulse: Pulse, theme: &Theme, area: Rect, buffer: &mut Buffer) {
    let Some(swell) = pulse.swell().filter(|_| !pulse.is_still()) else {
        return;
    };
    let lit = (f64::from(area.width) * swell).round() as u16;
    let x = area.x + (area.width - lit) / 2;
    for y in area.top()..area.bottom() {
        // Apart from the figures above.
        let symbol = if y == area.top() {
            "\u{2584}"
        } else {
            "\u{2588}"
        };
        for x in x..x + lit {
            buffer[(x, y)].set_symbol(symbol).set_style(theme.text);
        }
    }
}

/// The drone, and how it is heard; on one row the latter only where it is trouble.
pub(super) fn drone(glance: &Glance<'_>, theme: &Theme, area: Rect, buffer: &mut Buffer) {
    let rows: Vec<Rect> = area.rows().collect();
    let Some(first) = rows.first() else {
        return;
    };
    let heard = heard(glance, theme, area);
    match rows.get(1) {
        Some(second) => {
            setting(glance, theme, *first).render(*first, buffer);
            heard.render(*second, buffer);
        }
        None if is_silenced(glance) => heard.render(*first, buffer),
        None => setting(glance, theme, *first).render(*first, buffer),
    }
}

/// Whether the drone should sound and cannot.
fn is_silenced(glance: &Glance<'_>) -> bool {
    let waits = matches!(glance.practice.loudspeaker(), Loudspeaker::Waiting(_));
    waits && glance.practice.drone().is_sounding()
}

/// `drone sounding  ◇8 ◇12  −38 dBFS, ceiling −20  organ  octave ±0`
fn setting(glance: &Glance<'_>, theme: &Theme, area: Rect) -> Line<'static> {
    let drone = glance.practice.drone();
    let is_waiting = matches!(glance.practice.loudspeaker(), Loudspeaker::Waiting(_));
    let mut parts = vec![if drone.is_sounding() && is_waiting {
        (" drone waiting ".to_owned(), theme.notice)
    } else if drone.is_sounding() {
        (" drone sounding ".to_owned(), theme.player)
    } else if area.width < ROOMY {
        // The level is needed more; the footer has the key.
        (" drone silent ".to_owned(), theme.text)
    } else {
        (" drone silent: Enter begins it ".to_owned(), theme.text)
    }];
    for tone in drone.tones().list() {
        let (text, style) = match tone {
            Tone::Partial(partial) => (format!("{NATURE}{}", partial.number()), theme.nature),
            Tone::Tempered(note) => (format!("{TEMPERED}{note}"), theme.tempered),
            Tone::Agreed(note) if glance.undecided.contains(note) => {
                let text = format!("{TEMPERED}{note} (nothing is agreed on it)");
                (text, theme.tempered)
            }
            Tone::Agreed(note) => (format!("{AGREED}{note}"), theme.agreed),
            Tone::Above(ratio, _) => (ratio.to_string(), theme.text),
        };
        parts.push((format!(" {text}"), style));
    }
    let level = decibels(drone.level());
    let ceiling = decibels(drone.ceiling());
    let octave = drone.octave();
    let octave = match octave {
        0 => "\u{b1}0".to_owned(),
        1.. => format!("+{octave}"),
        _ => format!("\u{2212}{}", octave.abs()),
    };
    let mut say = |text: String| parts.push((format!("  {text}"), theme.text));
    say(format!("{level} dBFS, ceiling {ceiling}"));
    say(drone.timbre().word().to_owned());
    say(format!("octave {octave}"));
    if drone.is_apart() {
        say("both sides".to_owned());
    }
    fitting(parts, area)
}

/// From this width on words have room.
const ROOMY: u16 = 80;

/// What the loudspeaker does, and how the microphone hears it.
fn heard(glance: &Glance<'_>, theme: &Theme, area: Rect) -> Line<'static> {
    let practice = glance.practice;
    if let Loudspeaker::Waiting(why) = practice.loudspeaker() {
        let whose = if why.contains("loudspeaker") {
            ""
        } else {
            "loudspeaker: "
        };
        let text = format!(" {whose}{why} ");
        return Line::from(vec![Span::raw(" "), Span::styled(text, theme.notice)]);
    }
    let is_sounding = practice.drone().is_sounding();
    let text = match practice.leak() {
        _ if practice.has_headphones() => "headphones: nothing is taken out".to_owned(),
        Leak::Headphones => "headphones: nothing is taken out".to_owned(),
        Leak::Finding => "finding the drone in the microphone".to_owned(),
        Leak::Removed {
            latency, depth_db, ..
        } => {
            let late = latency.map_or_else(String::new, |latency| {
                format!("{:.0} ms, ", 1000.0 * latency.get())
            });
            let less = depth_db.abs();
            format!("drone taken out ({late}\u{2212}{less:.0} dB)")
        }
        Leak::NotHeard => "drone not heard in the microphone".to_owned(),
        Leak::Silent if is_sounding => "the drone begins".to_owned(),
        Leak::Silent => match practice.loudspeaker() {
            Loudspeaker::Running(name) => format!("loudspeaker: {name}"),
            Loudspeaker::Opening | Loudspeaker::Waiting(_) => {
                "opening the loudspeaker \u{2026}".to_owned()
            }
        },
    };
    let family = glance.part.channel.instrument.family;
    let loud = "trumpets are loud: take breaks";
    let mut spans = vec![Span::styled(format!(" {text}"), theme.text)];
    if !is_sounding && family == Family::Trumpets && area.width >= ROOMY {
        spans.push(Span::styled(format!("   {loud}"), theme.faint));
    }
    Line::from(spans)
}
