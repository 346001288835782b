//! What the drift view says in words and numbers above its chart.

use ratatui::style::Style;
use ratatui::text::{Line, Span};

use super::DriftPane;
use crate::rehearsal::{DriftLine, Family, Finding};
use crate::tui::axis::{NATURE, TEMPERED};
use crate::tui::text;
use crate::tuning::rise_of_winds;
use crate::units::{Note, Seconds};

/// While there is nothing to show.
pub(super) const NOTHING: &str =
    "nothing held yet: drift shows once notes have been held for a minute or two";

/// The findings in plain words.
pub(super) fn findings(pane: &DriftPane<'_>) -> Vec<Line<'static>> {
    let theme = pane.theme;
    let said = pane.drift.findings.iter().map(|finding| {
        let (text, style) = match finding {
            Finding::TooEarly => (
                "too early to tell: a few minutes of held notes are needed".to_owned(),
                theme.text,
            ),
            Finding::Still => (
                "nobody has moved by more than the lines can tell".to_owned(),
                theme.text,
            ),
            Finding::Everyone { cents, since } => (
                format!("everyone {cents} since {}", text::clock(*since)),
                theme.player,
            ),
            Finding::One {
                player,
                cents,
                since,
            } => {
                let name = pane.players.get(*player).map_or("one", |p| p.name.as_str());
                (
                    format!(
                        "{name} {cents} against the others since {}",
                        text::clock(*since)
                    ),
                    theme.player,
                )
            }
            Finding::Series { cents, since } => (
                format!(
                    "trumpets' series {cents} against the tempered players since {}",
                    text::clock(*since)
                ),
                theme.player,
            ),
        };
        Line::styled(format!(" {text}"), style)
    });
    said.collect()
}

/// Where A is and how far it has come, by the tempered players and by the series, and what
/// warmth should have done: as many rows of `width` as there is room for.
pub(super) fn numbers(pane: &DriftPane<'_>, width: u16, rows: usize) -> Vec<Line<'static>> {
    let theme = pane.theme;
    let mut groups: Vec<Vec<Span<'static>>> = Vec::new();
    groups.extend(line(
        pane,
        &pane.drift.ensemble,
        &format!("{TEMPERED} tempered"),
        theme.tempered,
    ));
    groups.extend(line(
        pane,
        &pane.drift.series,
        &format!("{NATURE} trumpets' series"),
        theme.nature,
    ));
    groups.extend(warmth(pane));
    let mut packed: Vec<Vec<Span<'static>>> = Vec::new();
    let columns = |spans: &[Span<'static>]| spans.iter().map(Span::width).sum::<usize>();
    for mut group in groups {
        // What the window has no room for goes from the end; the pitch itself stays.
        while columns(&group) + 1 > usize::from(width) && group.len() > 2 {
            group.pop();
        }
        match packed.last_mut() {
            Some(row) if columns(row) + columns(&group) + 3 <= usize::from(width) => {
                row.push(Span::raw("   "));
                row.extend(group);
            }
            _ => packed.push([vec![Span::raw(" ")], group].concat()),
        }
    }
    packed.into_iter().take(rows).map(Line::from).collect()
}

fn line(
    pane: &DriftPane<'_>,
    line: &DriftLine,
    name: &str,
    style: Style,
) -> Option<Vec<Span<'static>>> {
    let end = line.end()?;
    let theme = pane.theme;
    let then = pane.first_tuning.scale().frequency(Note::A4);
    let now = then.raised(end.cents);
    let asked = pane.tuning.scale().frequency(Note::A4);
    let precision = pane.view.precision;
    let moved = line.moved().map(|moved| {
        let moved = precision.cents(moved);
        Span::styled(format!("  {moved} since the start"), theme.text)
    });
    let from_standard = format!(
        "  {} from A {:.1}",
        precision.cents(now.above(asked)),
        asked.get()
    );
    let mut spans = vec![
        Span::styled(format!("{name}: "), style),
        Span::styled(format!("A {:.1} Hz", now.get()), theme.player),
    ];
    spans.extend(moved);
    spans.push(Span::styled(from_standard, theme.text));
    Some(spans)
}

fn warmth(pane: &DriftPane<'_>) -> Option<Vec<Span<'static>>> {
    let theme = pane.theme;
    let (_, now) = pane.temperatures.last()?;
    let (_, then) = pane.temperatures.first()?;
    let text = if pane.temperatures.len() > 1 {
        let rise = pane.view.precision.cents(rise_of_winds(*then, *now));
        format!(
            "{:.1} \u{b0}C, now {:.1} \u{b0}C: winds {rise} expected",
            then.get(),
            now.get()
        )
    } else {
        format!("{:.1} \u{b0}C", now.get())
    };
    Some(vec![Span::styled(text, theme.text)])
}

/// The selected trumpet's own series, and the habits of its partials.
pub(super) fn series(pane: &DriftPane<'_>, width: u16) -> Vec<Line<'static>> {
    let theme = pane.theme;
    let Some(player) = pane.selected() else {
        return Vec::new();
    };
    debug_assert_eq!(player.instrument.family, Family::Trumpets);
    let name = text::shortened(&player.name, 18);
    let Some(series) = pane.series else {
        let text = format!(" {name}: too few notes yet to measure its own series");
        return vec![Line::styled(text, theme.faint)];
    };
    let precision = pane.view.precision;
    let unsigned = |cents: crate::units::Cents| {
        let text = precision.cents(cents.abs());
        text.trim_start_matches(['+', '\u{b1}']).to_owned()
    };
    let uses = match pane.adopt_key {
        "" => String::new(),
        key => format!(", {key} uses it"),
    };
    let pieces = [
        (format!(" {name}: "), theme.player),
        (
            format!("1 = {:.2} Hz", series.fundamental.get()),
            theme.nature,
        ),
        (
            format!(" \u{b1}{} cents", unsigned(series.margin)),
            theme.nature,
        ),
        (
            format!(
                ", {} from the one used",
                precision.cents(series.from_planned)
            ),
            theme.text,
        ),
        (format!(", {} notes", series.count), theme.faint),
        (uses, theme.faint),
    ];
    let mut spans = Vec::new();
    let mut room = usize::from(width);
    for (text, style) in pieces {
        let needed = text.chars().count();
        if needed > room {
            break;
        }
        room -= needed;
        spans.push(Span::styled(text, style));
    }
    vec![Line::from(spans), habits(pane, series, width, &unsigned)]
}

fn habits(
    pane: &DriftPane<'_>,
    series: &crate::rehearsal::TrueSeries,
    width: u16,
    unsigned: &dyn Fn(crate::units::Cents) -> String,
) -> Line<'static> {
    let theme = pane.theme;
    let lead = format!(" partials from it, {NATURE} (not counted):");
    let mut room = usize::from(width).saturating_sub(lead.chars().count() + 1);
    let mut spans = vec![Span::styled(lead, theme.faint)];
    for habit in &series.habits {
        let cents = pane.view.precision.cents(habit.cents);
        let spread = unsigned(habit.spread);
        let number = habit.partial.number();
        let text = if habit.counts {
            format!("  {number} {cents} \u{b1}{spread}")
        } else {
            format!("  ({number} {cents} \u{b1}{spread})")
        };
        let needed = text.chars().count();
        if needed > room {
            spans.push(Span::styled(" \u{2026}", theme.faint));
            break;
        }
        room -= needed;
        let style = if habit.counts {
            theme.nature
        } else {
            theme.text
        };
        spans.push(Span::styled(text, style));
    }
    Line::from(spans)
}

/// A moment below the chart.
pub(super) fn moment(seconds: f64) -> String {
    text::clock(Seconds::new(seconds))
}
