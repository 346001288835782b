//! Short texts in fixed places: deviations, partials and names cut to fit.

use ratatui::buffer::Buffer;

use crate::plain::steers;
use crate::rehearsal::Sounding;
use crate::tuning::PartialPlace;
use crate::units::{Cents, Hertz, Seconds};

/// Whole cents or tenths.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Precision {
    Whole,
    Tenths,
}

impl Precision {
    /// The other.
    pub(super) fn toggled(self) -> Self {
        match self {
            Self::Whole => Self::Tenths,
            Self::Tenths => Self::Whole,
        }
    }

    /// How far the needle lies from a place. Whole cents come from the figure that does not
    /// flicker.
    pub(super) fn deviation(self, sounding: &Sounding, place: Hertz) -> String {
        let needle = sounding.needle();
        match self {
            Self::Whole => needle.figure().above(place).to_string(),
            Self::Tenths => format!("{:.1}", needle.hertz().above(place)),
        }
    }
}

impl Precision {
    /// Cents in this precision.
    pub(super) fn cents(self, cents: Cents) -> String {
        match self {
            Self::Whole => cents.to_string(),
            Self::Tenths => format!("{cents:.1}"),
        }
    }
}

/// Six columns in which the units always stand in the fourth: `+12   ` or ` +12.3`.
pub(super) fn in_field(deviation: &str) -> String {
    let (whole, tenths) = match deviation.split_once('.') {
        Some((whole, tenths)) => (whole, format!(".{tenths}")),
        None => (deviation, String::new()),
    };
    format!("{whole:>4}{tenths:<2}")
}

/// A partial with its units always in the second column.
pub(super) fn partial(place: &PartialPlace) -> String {
    let tens = if place.partial.number() < 10 { " " } else { "" };
    format!("{tens}{place}")
}

/// Replaces what would steer a terminal, turn its writing round or hide, whatever name it came
/// with: the last thing that is done to a picture.
pub(super) fn calm(picture: &mut Buffer) {
    for cell in &mut picture.content {
        if cell.symbol().contains(steers) {
            cell.set_symbol("\u{fffd}");
        }
    }
}

/// Minutes and seconds, and hours where there are any.
pub(super) fn clock(time: Seconds) -> String {
    let seconds = time.get().max(0.0) as u64;
    let (hours, minutes, seconds) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    if hours > 0 {
        format!("{hours}:{minutes:02}:{seconds:02}")
    } else {
        format!("{minutes}:{seconds:02}")
    }
}

/// Whole seconds, or whole minutes from the first on.
pub(super) fn lasting(time: Seconds) -> String {
    let seconds = time.get().max(0.0);
    if seconds < 60.0 {
        format!("{} s", seconds.floor())
    } else {
        format!("{} min", (seconds / 60.0).floor())
    }
}

/// A half-range with its sign for the ends of an axis.
pub(super) fn reach(cents: Cents) -> (String, String) {
    ((-cents).to_string(), cents.to_string())
}

/// A name in at most `width` columns. The last short word, which tells Trumpet I from
/// Trumpet II, is kept.
pub(super) fn shortened(name: &str, width: usize) -> String {
    let count = |text: &str| text.chars().count();
    if count(name) <= width {
        return name.to_owned();
    }
    let cut = |text: &str, width: usize| -> String {
        let kept: String = text.chars().take(width.saturating_sub(1)).collect();
        format!("{}.", kept.trim_end())
    };
    match name.rsplit_once(' ') {
        Some((first, last)) if count(last) <= 8 && width >= count(last) + 4 => {
            format!("{} {last}", cut(first, width - count(last) - 1))
        }
        _ if width == 0 => String::new(),
        _ => cut(name, width),
    }
}

/// A sentence in at most `width` columns: whole words of it, and an ellipsis where some are
/// missing.
pub(super) fn begun(sentence: &str, width: usize) -> String {
    let count = |text: &str| text.chars().count();
    if count(sentence) <= width {
        return sentence.to_owned();
    }
    let room: String = sentence.chars().take(width.saturating_sub(1)).collect();
    let goes_on = sentence[room.len()..].starts_with(char::is_whitespace);
    let whole = match room.rsplit_once(char::is_whitespace) {
        Some((words, _)) if !goes_on => words,
        _ => &room,
    };
    let whole = whole.trim_end_matches([' ', ',', ':', ';']);
    if width == 0 {
        String::new()
    } else {
        format!("{whole}\u{2026}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_is_cut_between_words() {
        let sentence = "no score here: start it in the folder of your MIDI files";
        assert_eq!(begun(sentence, 99), sentence);
        assert_eq!(begun(sentence, 16), "no score here\u{2026}");
        assert_eq!(begun(sentence, 14), "no score\u{2026}");
        assert_eq!(
            begun(sentence, 51),
            "no score here: start it in the folder of your MIDI\u{2026}"
        );
        assert_eq!(begun("Violoncello", 6), "Violo\u{2026}");
        for width in 0..60 {
            assert!(begun(sentence, width).chars().count() <= width, "{width}");
        }
    }

    #[test]
    fn nothing_on_a_picture_steers_a_terminal() {
        let mut picture = Buffer::with_lines(["a\u{200d}b\u{202e}c \u{e9}e\u{301}\u{9b}2J\u{ad}"]);
        picture.content[0].set_symbol("\u{1b}[2J");
        calm(&mut picture);
        let text: String = picture
            .content
            .iter()
            .map(ratatui::buffer::Cell::symbol)
            .collect();
        assert!(!text.contains(steers), "{text:?}");
        assert!(text.contains("bc \u{e9}e\u{301}"), "{text:?}");
    }

    #[test]
    fn units_never_move() {
        for (text, field) in [
            ("+2", "  +2  "),
            ("\u{2212}12", " \u{2212}12  "),
            ("\u{2212}12.3", " \u{2212}12.3"),
            ("\u{b1}0.0", "  \u{b1}0.0"),
            ("+102", "+102  "),
        ] {
            assert_eq!(in_field(text), field);
        }
    }

    #[test]
    fn hours_are_told_where_there_are_any() {
        for (seconds, clock) in [(-1.0, "0:00"), (761.9, "12:41"), (5520.0, "1:32:00")] {
            assert_eq!(super::clock(Seconds::new(seconds)), clock);
        }
    }

    #[test]
    fn names_keep_their_number() {
        assert_eq!(shortened("Trumpet II", 11), "Trumpet II");
        assert_eq!(shortened("Trumpet III", 9), "Trum. III");
        assert_eq!(shortened("Gallery p10/F#5", 14), "Galle. p10/F#5");
        assert_eq!(shortened("Violoncello piccolo", 8), "Violonc.");
        assert_eq!(shortened("Organ", 0), "");
        for width in 0..20 {
            assert!(shortened("Bass violin 2", width).chars().count() <= width);
        }
    }
}
