//! The same few words in every report: names of families, lengths, moments.

use jiff::civil::DateTime;
use jiff::fmt::temporal::DateTimeParser;
use jiff::{Timestamp, ToSpan};

use crate::plain::steers;
use crate::rehearsal::Family;
use crate::units::{Cents, Hertz, Seconds};

/// What stands where there is nothing to say.
pub(super) const NOTHING: &str = "\u{2014}";

/// Text of a stranger's file without what could turn the line round or hide in it: control
/// characters and those that change the direction of writing.
pub(super) fn plain(text: &str) -> String {
    text.chars().filter(|c| !steers(*c)).collect()
}

/// A family in the middle of a sentence.
pub(super) fn family(family: Family) -> &'static str {
    match family {
        Family::Trumpets => "trumpets",
        Family::Strings => "strings",
        Family::Plucked => "plucked",
        Family::Winds => "winds",
        Family::Voices => "voices",
        Family::Keyboard => "keyboard",
        Family::Section => "section",
        Family::Room => "room",
    }
}

/// A length of time: `1 h 40 min`, `12 min`, `74 s`.
pub(super) fn length(time: Seconds) -> String {
    let seconds = time.get().max(0.0);
    let minutes = (seconds / 60.0).round() as u64;
    if seconds < 119.5 {
        return format!("{seconds:.0} s");
    }
    match (minutes / 60, minutes % 60) {
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes} min"),
    }
}

/// Minutes to a tenth, for columns.
pub(super) fn minutes(time: Seconds) -> String {
    format!("{:.1}", time.get() / 60.0)
}

/// A frequency as it is spoken of: `415.3 Hz`.
pub(super) fn hertz(hertz: Hertz) -> String {
    format!("{:.1} Hz", hertz.get())
}

/// A distance without direction, in whole cents.
pub(super) fn size(cents: Cents) -> String {
    format!("{:.0}", cents.get().abs())
}

/// How far something may be off, in whole cents: never nothing.
pub(super) fn margin(cents: Cents) -> String {
    format!("{:.0}", cents.get().abs().ceil().max(1.0))
}

/// Cents with their sign, except zero, which stands before a spread or alone.
pub(super) fn signed(cents: Cents) -> String {
    let text = cents.to_string();
    text.strip_prefix('\u{b1}')
        .map(str::to_owned)
        .unwrap_or(text)
}

/// Up or down, in words.
pub(super) fn way(cents: Cents) -> &'static str {
    if cents.get() < 0.0 { "down" } else { "up" }
}

/// The local date and time of `begun`, as it was written down; none where it cannot be read.
pub(super) fn local(begun: &str) -> Option<DateTime> {
    let parser = DateTimeParser::new();
    // A moment in universal time has no local one: it is told as it stands.
    let universal = || {
        let moment: Timestamp = begun.parse().ok()?;
        Some(jiff::tz::Offset::UTC.to_datetime(moment))
    };
    parser.parse_datetime(begun).ok().or_else(universal)
}

/// A moment to sort by; none where it cannot be read.
pub(super) fn instant(begun: &str) -> Option<Timestamp> {
    begun.parse().ok()
}

/// The day in words, or whatever was written.
pub(super) fn day(begun: &str) -> String {
    local(begun).map_or_else(
        || plain(begun),
        |date| date.strftime("%A %-d %B %Y").to_string(),
    )
}

/// The day in figures, for columns.
pub(super) fn short_day(begun: &str) -> String {
    local(begun).map_or_else(|| plain(begun), |date| date.date().to_string())
}

/// The time of day of a moment of the rehearsal: `20:14`; how long after the beginning it was,
/// where the time of day is not known.
pub(super) fn time_of_day(begun: &str, at: Seconds) -> String {
    let after = at.get().clamp(0.0, 1e9) as i64;
    local(begun)
        .and_then(|date| date.checked_add(after.seconds()).ok())
        .map_or_else(
            || format!("after {}", length(at)),
            |date| date.strftime("%H:%M").to_string(),
        )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_read_as_they_are_spoken() {
        let words = [12.2, 119.0, 119.6, 3_600.0, 6_000.0].map(|s| length(Seconds::new(s)));
        assert_eq!(words, ["12 s", "119 s", "2 min", "1 h", "1 h 40 min"]);
    }

    #[test]
    fn moments_are_told_in_the_time_of_the_place() {
        let begun = "2026-11-25T19:40:30+01:00";
        assert_eq!(day(begun), "Wednesday 25 November 2026");
        assert_eq!(time_of_day(begun, Seconds::new(1_800.0)), "20:10");
        assert_eq!(
            time_of_day("2026-11-25T19:40:30Z", Seconds::new(0.0)),
            "19:40"
        );
        assert_eq!(day("some evening"), "some evening");
        assert_eq!(
            time_of_day("some evening", Seconds::new(90.0)),
            "after 90 s"
        );
    }

    #[test]
    fn a_margin_is_never_nothing() {
        assert_eq!(
            [0.02, 1.0, 1.2].map(|c| margin(Cents::new(c))),
            ["1", "1", "2"]
        );
        assert_eq!(size(Cents::new(-0.4)), "0");
    }

    #[test]
    fn text_cannot_turn_the_line_round() {
        assert_eq!(plain("Trumpet\u{202e} II\u{7}\n"), "Trumpet II");
        assert_eq!(plain("Théorbe ♭"), "Théorbe ♭");
    }
}
