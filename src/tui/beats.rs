//! Beats in words and as a pulse that swells at their own rate.

use ratatui::text::{Line, Span};

use super::axis::HELD;
use super::theme::Theme;
use crate::rehearsal::{Family, Match, Pulse, Way};
use crate::tuning::Ratio;

/// Eight heights of one column, by how loud the two tones are together.
pub(super) fn bar(pulse: Pulse) -> &'static str {
    const BARS: [&str; 8] = [
        "\u{2581}", "\u{2582}", "\u{2583}", "\u{2584}", "\u{2585}", "\u{2586}", "\u{2587}",
        "\u{2588}",
    ];
    match pulse.swell() {
        Some(_) if pulse.is_still() => " ",
        Some(swell) => BARS[((swell * 8.0) as usize).min(7)],
        None => " ",
    }
}

/// A rate with one decimal below ten a second.
pub(super) fn rate(pulse: Pulse) -> String {
    if pulse.rate_hz() < 9.95 {
        format!("{:.1}", pulse.rate_hz())
    } else {
        format!("{:.0}", pulse.rate_hz())
    }
}

/// Beats a second above which a number helps nobody.
const COUNTABLE_HZ: f64 = 20.0;

/// The rate with its unit, as everything else on the screen is in cents, and the way: `2.9/s
/// lower`. Of what beats too fast only the way.
pub(super) fn told(matched: &Match, family: Family) -> String {
    let way = way(matched, family);
    if matched.pulse.rate_hz() > COUNTABLE_HZ {
        return way.unwrap_or("beats fast").to_owned();
    }
    let rate = rate(matched.pulse);
    way.map_or_else(|| format!("{rate}/s"), |way| format!("{rate}/s {way}"))
}

/// The way in which the beats grow slower, where the player can go there.
pub(super) fn way(matched: &Match, family: Family) -> Option<&'static str> {
    let reach = family.reach();
    let moves = reach.up.get() > 0.0 || reach.down.get() > 0.0;
    matched.slower().filter(|_| moves).map(Way::word)
}

/// A few columns, at the most `room`: `3/4 ▅2.9/s lower`, `1/2 still`. The unit is left out
/// where there is no room for it.
pub(super) fn short(matched: &Match, family: Family, room: usize) -> String {
    let ratio = matched.ratio.to_string();
    if matched.pulse.is_still() {
        return format!("{ratio:<3} still");
    }
    let told = told(matched, family);
    let text = format!("{ratio:<3} {}{told}", bar(matched.pulse));
    if text.chars().count() <= room {
        text
    } else {
        text.replacen("/s", "", 1)
    }
}

/// `octave below p8`, `3/4 of p8` for a ratio without a name.
pub(super) fn place(matched: &Match) -> String {
    let label = matched.voice.label;
    let below = matched.ratio.over() < matched.ratio.under();
    match matched.ratio.name() {
        _ if matched.ratio == Ratio::UNISON => label.to_string(),
        Some(name) if below => format!("{name} below {label}"),
        Some(name) => format!("{name} above {label}"),
        None => format!("{} of {label}", matched.ratio),
    }
}

/// A whole sentence about a player and the held chord.
pub(super) fn sentence(matched: &Match, family: Family, theme: &Theme) -> Line<'static> {
    let place = place(matched);
    if family == Family::Trumpets {
        // A trumpet does not sound together with what it was.
        let text = format!("{HELD} {place} as it was held");
        return Line::styled(text, theme.held);
    }
    let mut spans = vec![
        Span::styled(format!("{HELD} {place}"), theme.held),
        Span::styled(format!(" of {}: ", matched.voice.channel), theme.faint),
    ];
    if matched.pulse.is_still() {
        spans.push(Span::styled("no beats", theme.text));
    } else {
        let mut text = format!(
            "{} {} beats a second",
            bar(matched.pulse),
            rate(matched.pulse)
        );
        if let Some(way) = way(matched, family) {
            text.push_str(", slower when ");
            text.push_str(way);
        }
        spans.push(Span::styled(text, theme.text));
    }
    Line::from(spans)
}
