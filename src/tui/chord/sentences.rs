//! What the chord view says in words above the ladder.

use ratatui::text::{Line, Span};

use super::Chord;
use crate::rehearsal::{HeldChord, Moment, Purity};
use crate::tui::axis::HELD;
use crate::tui::keymap::{self, Action};
use crate::tui::text;
use crate::units::Cents;

impl Chord<'_> {
    /// The chord in use, or how to get one.
    pub(super) fn held(&self, width: u16) -> Line<'static> {
        let theme = self.theme;
        let kept_chords = self.rehearsal.shelf();
        let hold = keymap::label(self.status.keys, Action::Hold);
        let kept: Vec<String> = kept_chords
            .chords()
            .map(|(number, _)| number.to_string())
            .collect();
        let Some((number, chord)) = kept_chords.current() else {
            let text = if hold.is_empty() {
                // In a replay nothing can be held.
                format!(" {HELD} no chord in use here")
            } else if kept.is_empty() {
                format!(" {HELD} no chord held: {hold} holds the trumpets' as it sounds")
            } else {
                format!(
                    " {HELD} none in use: {hold} holds one, {} recall",
                    kept.join(" ")
                )
            };
            return Line::styled(text, theme.text);
        };
        let when = match (&chord.moment, self.rehearsal.held_for()) {
            (Moment::Earlier(at), _) => format!("of {}", shortened_date(at)),
            (Moment::Now(_), since) => {
                format!("held {} ago", text::clock(since.unwrap_or_default()))
            }
        };
        let mut spans = vec![
            Span::styled(format!(" {HELD} {number}"), theme.held),
            Span::styled(format!(" {when}: "), theme.faint),
            Span::styled(self.offsets(chord), theme.held),
        ];
        let mut more = Vec::new();
        if let Some(widest) = self
            .rehearsal
            .held_purity()
            .as_ref()
            .and_then(Purity::widest)
        {
            let cents = self.view.precision.cents(widest.cents);
            more.push((format!("   widest {} {cents}", widest.ratio), theme.text));
        }
        if kept.len() > 1 {
            more.push((format!("   kept {}", kept.join(" ")), theme.faint));
        }
        let mut used: usize = spans.iter().map(Span::width).sum();
        for (text, style) in more {
            used += text.chars().count();
            if used < usize::from(width) {
                spans.push(Span::styled(text, style));
            }
        }
        Line::from(spans)
    }

    /// Every interval of the held chord against its pure ratio, and which bend of a trumpet
    /// would help most.
    pub(super) fn intervals(&self) -> Option<Line<'static>> {
        let (_, chord) = self.rehearsal.shelf().current()?;
        let purity = self.rehearsal.held_purity()?;
        let told = purity.intervals.iter().map(|interval| {
            let [high, low] = [interval.high, interval.low].map(|note| chord.voices[note].label);
            let cents = self.view.precision.cents(interval.cents);
            format!("{high} to {low} {} {cents}", interval.ratio)
        });
        let mut text = format!("   {}", told.collect::<Vec<_>>().join(",  "));
        if let Some(best) = purity.best {
            let label = chord.voices[best.note].label;
            text = format!("{text}; would help most: {label} {}", moved(best.by));
        }
        Some(Line::styled(text, self.theme.text))
    }

    /// The voices of a held chord, each with its cents from its own place.
    fn offsets(&self, chord: &HeldChord) -> String {
        let tuning = self.rehearsal.tuning();
        let voices = chord.voices.iter().map(|voice| {
            let cents = voice.hertz.above(voice.label.frequency(tuning));
            format!("{} {}", voice.label, self.view.precision.cents(cents))
        });
        voices.collect::<Vec<_>>().join("  ")
    }

    /// How pure the chord is that sounds, and whose move would help most.
    pub(super) fn sounding(&self) -> Line<'static> {
        let theme = self.theme;
        let Some(told) = self.rehearsal.purity() else {
            let text = if self.rehearsal.voices().next().is_none() {
                " nothing sounds"
            } else {
                " no two notes near a pure interval"
            };
            return Line::styled(text, theme.faint);
        };
        let purity = &told.purity;
        let mut text = format!(
            " sounding: {:.0} cents from pure in the mean",
            purity.mean.get()
        );
        if let Some(best) = purity.best {
            let name = &told.names[best.note];
            text = format!("{text}; most gained by {name} {}", moved(best.by));
        }
        Line::styled(text, theme.text)
    }
}

/// `7 lower`.
fn moved(by: Cents) -> String {
    let way = if by.get() > 0.0 { "higher" } else { "lower" };
    format!("{:.0} {way}", by.abs().get())
}

/// Date and time to the minute: `2026-11-25 19:40` of `2026-11-25T19:40:12+01:00`.
fn shortened_date(at: &str) -> String {
    at.chars().take(16).collect::<String>().replace('T', " ")
}
