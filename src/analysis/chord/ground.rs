//! One voice before the background of the others, over the whole span.

use super::evidence::{Background, Line, MOST_PARTIALS, explain};
use super::span::{Span, WINDOWS};
use super::trail::Trail;

/// The backgrounds of all windows.
#[derive(Debug, Default)]
pub(super) struct Ground {
    backgrounds: [Background; WINDOWS],
    highest_hz: f64,
    pitches: Vec<f64>,
}

impl Ground {
    /// Puts every voice but those `left_out` into the background, with lines up to
    /// `highest_hz`.
    pub(super) fn set(
        &mut self,
        span: &Span,
        trails: &[Trail],
        left_out: &[usize],
        highest_hz: f64,
    ) {
        self.highest_hz = highest_hz;
        for (index, background) in self.backgrounds.iter_mut().enumerate() {
            let others = trails
                .iter()
                .enumerate()
                .filter(|(voice, _)| !left_out.contains(voice));
            self.pitches.clear();
            self.pitches
                .extend(others.map(|(_, trail)| trail.hz_in(index)));
            background.set(&span.windows[index], &self.pitches, highest_hz);
        }
    }

    /// The evidence of the background.
    pub(super) fn evidence(&self) -> f64 {
        let windows = self.backgrounds.iter().enumerate();
        windows
            .map(|(index, background)| Span::share(index) * background.evidence())
            .sum()
    }

    /// What a voice adds to the evidence.
    pub(super) fn gain(&mut self, span: &Span, trail: &Trail) -> f64 {
        self.gain_of_lines(span, trail, MOST_PARTIALS)
    }

    /// What the first `most_lines` lines of a voice add to the evidence.
    pub(super) fn gain_of_lines(&mut self, span: &Span, trail: &Trail, most_lines: usize) -> f64 {
        (0..WINDOWS)
            .map(|index| {
                let hz = trail.hz_in(index);
                Span::share(index) * self.gain_in(span, index, hz, most_lines)
            })
            .sum()
    }

    /// What the first `most_lines` lines of a voice at `hz` add to the evidence of one window.
    pub(super) fn gain_in(&mut self, span: &Span, index: usize, hz: f64, most_lines: usize) -> f64 {
        self.backgrounds[index].gain(&span.windows[index], hz, self.highest_hz, most_lines)
    }

    /// What a voice adds to the evidence, and what is known of it beforehand.
    pub(super) fn score(&mut self, span: &Span, trail: &Trail) -> f64 {
        self.gain(span, trail) + trail.prior()
    }
}

/// The lines of all voices in window `index`, explained together.
pub(super) fn lines_in(span: &Span, trails: &[Trail], index: usize, highest_hz: f64) -> Vec<Line> {
    let pitches: Vec<f64> = trails.iter().map(|trail| trail.hz_in(index)).collect();
    explain(&span.windows[index], &pitches, highest_hz)
}
