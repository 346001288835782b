//! Which of the measures stands in the cells, and how it is written.

use crate::plan::{Clash, Measures, Side, Weights};
use crate::tui::text::Precision;
use crate::units::Cents;

/// What the cells show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Figure {
    All,
    TrumpetsAndOthers,
    AmongTrumpets,
    AmongOthers,
    Beats,
    Roughness,
}

/// In the order they are gone through.
const FIGURES: [Figure; 6] = [
    Figure::All,
    Figure::TrumpetsAndOthers,
    Figure::AmongTrumpets,
    Figure::AmongOthers,
    Figure::Beats,
    Figure::Roughness,
];

impl Figure {
    /// The one so many steps on, round and round.
    pub(super) fn stepped(self, steps: isize) -> Self {
        let at = FIGURES.iter().position(|figure| *figure == self);
        let count = FIGURES.len() as isize;
        FIGURES[(at.unwrap_or(0) as isize + steps).rem_euclid(count) as usize]
    }

    /// Its value; none where there is no such meeting.
    pub(super) fn of(self, measures: &Measures) -> Option<f64> {
        match self {
            Self::All => measures.weighted.map(Cents::get),
            Self::TrumpetsAndOthers => measures.trumpet_other.map(Cents::get),
            Self::AmongTrumpets => measures.trumpet_trumpet.map(Cents::get),
            Self::AmongOthers => measures.other_other.map(Cents::get),
            Self::Beats => measures.beats_hz,
            Self::Roughness => measures.roughness,
        }
    }

    /// What it is, in a few words.
    pub(super) fn words(self) -> &'static str {
        match self {
            Self::All => "cents from pure (RMS), all meetings",
            Self::TrumpetsAndOthers => "cents from pure (RMS), trumpets with others",
            Self::AmongTrumpets => "cents from pure (RMS), among trumpets",
            Self::AmongOthers => "cents from pure (RMS), without trumpets",
            Self::Beats => "beats a second in the mean, all meetings",
            Self::Roughness => "roughness in the mean, all meetings",
        }
    }

    /// The value as it is written.
    pub(super) fn written(self, value: f64, precision: Precision) -> String {
        match (self, precision) {
            (Self::Roughness, _) => format!("{value:.2}"),
            (Self::Beats, _) | (_, Precision::Tenths) => format!("{value:.1}"),
            (_, Precision::Whole) => format!("{value:.0}"),
        }
    }

    /// Values nearer to each other than this get the same ink.
    pub(super) fn least_span(self) -> f64 {
        match self {
            Self::All | Self::TrumpetsAndOthers | Self::AmongTrumpets | Self::AmongOthers => 1.0,
            Self::Beats => 0.2,
            Self::Roughness => 0.05,
        }
    }

    /// Whether a meeting is in it.
    pub(super) fn counts(self, clash: &Clash, weights: &Weights) -> bool {
        let sides = [clash.lower.side, clash.upper.side];
        let trumpets = sides.iter().filter(|side| **side == Side::Trumpets).count();
        match self {
            Self::TrumpetsAndOthers => trumpets == 1,
            Self::AmongTrumpets => trumpets == 2,
            Self::AmongOthers => trumpets == 0,
            Self::All | Self::Beats | Self::Roughness => sides.iter().all(|side| {
                let weight = match side {
                    Side::Trumpets => weights.trumpets,
                    Side::Keyboard => weights.keyboard,
                    Side::Others => weights.others,
                };
                weight > 0.0
            }),
        }
    }
}

/// More ink for what is farther: from nothing to a full block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Ink {
    nearest: f64,
    farthest: f64,
    span: f64,
}

/// From the least to the most.
const SHADES: [&str; 5] = [" ", "\u{2591}", "\u{2592}", "\u{2593}", "\u{2588}"];

impl Ink {
    /// Ink for these values; none without any.
    pub(super) fn new(values: impl Iterator<Item = f64>, figure: Figure) -> Option<Self> {
        let (mut nearest, mut farthest) = (f64::INFINITY, f64::NEG_INFINITY);
        for value in values {
            nearest = nearest.min(value);
            farthest = farthest.max(value);
        }
        (nearest <= farthest).then_some(Self {
            nearest,
            farthest,
            span: (farthest - nearest).max(figure.least_span()),
        })
    }

    /// The shade of a value.
    pub(super) fn shade(self, value: f64) -> &'static str {
        let part = (value - self.nearest) / self.span;
        let step = (part * SHADES.len() as f64) as usize;
        SHADES[step.min(SHADES.len() - 1)]
    }

    /// The ends of what there is.
    pub(super) fn ends(self) -> (f64, f64) {
        (self.nearest, self.farthest)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_farther_has_more_ink() {
        let ink = Ink::new([8.0, 28.0, 12.0].into_iter(), Figure::All).unwrap();
        let check =
            |value: f64, shade: usize| assert_eq!(ink.shade(value), SHADES[shade], "{value}");
        check(8.0, 0);
        check(11.9, 0);
        check(12.1, 1);
        check(18.0, 2);
        check(28.0, 4);
        assert_eq!(ink.ends(), (8.0, 28.0));
        assert_eq!(Ink::new([].into_iter(), Figure::All), None);
    }

    #[test]
    fn small_differences_are_not_made_large() {
        let ink = Ink::new([8.0, 8.15].into_iter(), Figure::All).unwrap();
        assert_eq!(ink.shade(8.15), SHADES[0]);
        let alone = Ink::new([8.0].into_iter(), Figure::Beats).unwrap();
        assert_eq!(alone.shade(8.0), SHADES[0]);
    }

    #[test]
    fn figures_go_round() {
        let mut figure = Figure::All;
        for _ in 0..6 {
            assert_eq!(figure.stepped(1).stepped(-1), figure);
            figure = figure.stepped(1);
        }
        assert_eq!(figure, Figure::All);
    }
}
