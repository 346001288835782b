//! The four figures of a step, as text: the note, where its string lies, and the beats as they
//! have to be and as they are.

use crate::bearings::hearing::{Beats, Heard, Place};
use crate::bearings::{Deed, End, Pair};
use crate::units::Note;

/// Nothing to show.
const NONE: &str = "\u{2014}";

/// A figure and what it says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Figure {
    pub(super) text: String,
    pub(super) label: String,
}

impl Figure {
    fn new(text: impl Into<String>, label: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            label: label.into(),
        }
    }
}

/// The note that is tuned, or both that are listened to.
pub(super) fn note(deed: &Deed) -> Figure {
    match (deed.tuned(), deed.standing(), deed.pair()) {
        (Some(tuned), Some(standing), _) => Figure::new(
            tuned.note.to_string(),
            format!("to tune, with {}", standing.note),
        ),
        (Some(tuned), None, _) => Figure::new(
            tuned.note.to_string(),
            format!("to take over: {:.2} Hz", tuned.hertz.get()),
        ),
        (None, _, Some(pair)) => Figure::new(
            format!("{} {}", pair.lower.note, pair.upper.note),
            "to listen to",
        ),
        (None, _, None) => Figure::new(NONE, ""),
    }
}

/// The beats that are wanted; none where a note is taken over.
pub(super) fn wanted(deed: &Deed) -> Option<Figure> {
    let pair = deed.pair()?;
    let word = pair.sense().map_or("no beats", |sense| sense.word());
    let rate = if pair.sense().is_some() {
        format!("{:.1}", pair.rate_hz())
    } else {
        "0".to_owned()
    };
    Some(Figure::new(rate, format!("beats a second, wanted: {word}")))
}

/// The beats that are heard.
pub(super) fn beats(heard: Option<&Heard>) -> Figure {
    match heard {
        None | Some(Heard::Quiet) => Figure::new(NONE, "heard: strike both, and let them ring"),
        Some(Heard::One { .. }) => Figure::new(NONE, "heard: one string alone"),
        Some(Heard::Both {
            beats,
            is_sure_of_both,
            ..
        }) => match beats {
            Beats::NotYet => Figure::new(NONE, "heard: both, still counting"),
            Beats::Still { within_hz } if *is_sure_of_both => Figure::new(
                "0",
                format!("heard: no beat, slower than {within_hz:.1} if any"),
            ),
            Beats::Still { .. } => Figure::new("0", "heard: no beat, if both sound"),
            Beats::Counted {
                rate_hz,
                margin_hz,
                sense,
            } => {
                let side = sense.map_or("side not told", |sense| sense.word());
                let margin = margin_hz.max(0.1);
                Figure::new(
                    format!("{rate_hz:.1}"),
                    format!("heard: {side} (\u{b1}{margin:.1})"),
                )
            }
        },
    }
}

/// Where the string lies that is tuned; the upper one where both are only listened to.
pub(super) fn place(deed: &Deed, heard: Option<&Heard>) -> Figure {
    let end = match deed {
        Deed::Tune { tuned, .. } => *tuned,
        Deed::Take(_) | Deed::Check { .. } | Deed::Leave { .. } => End::Upper,
    };
    let name = |end: End| match (deed.pair(), deed.tuned()) {
        (Some(pair), _) => of_end(pair, end).to_string(),
        (None, Some(tuned)) => tuned.note.to_string(),
        (None, None) => String::new(),
    };
    let (place, whose) = match heard {
        None | Some(Heard::Quiet) => (None, name(end)),
        Some(Heard::One {
            end: sounding,
            place,
        }) => {
            let alone = if deed.pair().is_some() { " alone" } else { "" };
            (Some(*place), format!("{}{alone}", name(*sounding)))
        }
        Some(Heard::Both { lower, upper, .. }) => {
            let place = match end {
                End::Lower => *lower,
                End::Upper => *upper,
            };
            (place, name(end))
        }
    };
    match place {
        Some(place) => Figure::new(cents(&place), format!("{whose}: {}", lies(&place))),
        None => Figure::new(NONE, format!("{whose}: cents from its place")),
    }
}

fn of_end(pair: &Pair, end: End) -> Note {
    match end {
        End::Lower => pair.lower.note,
        End::Upper => pair.upper.note,
    }
}

/// Tenths where they mean something.
fn cents(place: &Place) -> String {
    let cents = place.from_target;
    if cents.abs().get() < 9.95 && place.margin.get() < 0.5 {
        format!("{cents:.1}")
    } else {
        format!("{cents}")
    }
}

fn lies(place: &Place) -> String {
    let cents = place.from_target.get();
    let side = if cents.abs() < 0.05 {
        "cents, at its place"
    } else if cents > 0.0 {
        "cents above its place"
    } else {
        "cents below its place"
    };
    format!("{side} (\u{b1}{:.1})", place.margin.get().max(0.1))
}
