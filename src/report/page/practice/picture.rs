//! The notes of exercises one after the other: how far each lay from its place.

use maud::{Markup, html};

use crate::rehearsal::{Place, Trial};
use crate::report::Digest;
use crate::report::wording::time_of_day;

/// Width and height of the drawing, and what its edges leave to numbers.
const WIDTH: f64 = 680.0;
const HEIGHT: f64 = 220.0;
const LEFT: f64 = 44.0;
const FOOT: f64 = 26.0;
const TOP: f64 = 10.0;

/// So many notes are drawn, the last ones.
const MOST: usize = 300;
/// The least and the most that the picture reaches on either side, in cents.
const LEAST_REACH: f64 = 10.0;
const MOST_REACH: f64 = 60.0;

/// The colours are names for the style sheet.
const NATURE: &str = "#9A5B00";
const TEMPERED: &str = "#1D5FA8";
const INK: &str = "#222222";
const RULE: &str = "#CCCCCC";
const FAINT: &str = "#888888";

/// A shape for each note in the order they were held, above or below the line of its place.
pub(super) fn over_time(digest: &Digest<'_>, index: usize) -> Markup {
    let trials = digest.chronicle().trials();
    let trials = &trials[trials.len().saturating_sub(MOST)..];
    let [first, .., last] = trials else {
        return html! {};
    };
    let reach = reach(trials);
    let y = |cents: f64| {
        let half = 0.5 * (HEIGHT - FOOT - TOP);
        TOP + half * (1.0 - cents.clamp(-reach, reach) / reach)
    };
    let begun = digest.occasion.begun;
    let told = format!(
        "{} notes from {} to {}, each above or below the line of its place",
        trials.len(),
        time_of_day(begun, first.begun),
        time_of_day(begun, last.ended),
    );
    let (left, right) = (number(LEFT), number(WIDTH - 6.0));
    html! {
        figure {
            svg.drift viewBox={ "0 0 " (WIDTH) " " (HEIGHT) } role="img"
                aria-labelledby={ "practice-title-" (index) " practice-text-" (index) } {
                title id={ "practice-title-" (index) } { "Practice" }
                desc id={ "practice-text-" (index) } { (told) }
                @for cents in [-reach, 0.0, reach] {
                    line x1=(left) x2=(right) y1=(number(y(cents))) y2=(number(y(cents)))
                        stroke=(if cents == 0.0 { FAINT } else { RULE }) stroke-width="1" {}
                    text x=(number(LEFT - 8.0)) y=(number(y(cents) + 5.0)) text-anchor="end"
                        font-size="15" fill=(FAINT) { (sign(cents)) }
                }
                text x=(left) y=(number(HEIGHT - 5.0)) font-size="15" fill=(FAINT) {
                    (time_of_day(begun, first.begun))
                }
                text x=(right) y=(number(HEIGHT - 5.0)) text-anchor="end" font-size="15" fill=(FAINT) {
                    (time_of_day(begun, last.ended))
                }
                @for (place, trial) in trials.iter().enumerate() {
                    (shape(trial.place, x(place, trials.len()), y(trial.off.get())))
                }
            }
            figcaption.faint {
                "Each note in cents from its place (\u{25c7} partial, \u{25a1} tempered, \u{25c6} agreed), \
                 one after the other."
            }
        }
    }
}

/// As far as nearly all notes lie, in tens.
fn reach(trials: &[Trial]) -> f64 {
    let mut sizes: Vec<f64> = trials.iter().map(|trial| trial.off.abs().get()).collect();
    sizes.sort_by(f64::total_cmp);
    let most = sizes
        .get(sizes.len() * 19 / 20)
        .copied()
        .unwrap_or_default();
    ((most / 10.0).ceil() * 10.0).clamp(LEAST_REACH, MOST_REACH)
}

/// Notes stand side by side: pauses between them say nothing here.
fn x(place: usize, count: usize) -> f64 {
    let room = WIDTH - LEFT - 30.0;
    LEFT + 12.0 + room * place as f64 / (count.max(2) - 1) as f64
}

fn shape(place: Place, x: f64, y: f64) -> Markup {
    let lozenge = |size: f64| {
        let [left, right] = [x - size, x + size].map(number);
        let [top, foot] = [y - size, y + size].map(number);
        let (x, y) = (number(x), number(y));
        format!("M{x} {top}L{right} {y}L{x} {foot}L{left} {y}Z")
    };
    html! {
        @match place {
            Place::Partial => {
                path d=(lozenge(6.0)) fill="none" stroke=(NATURE) stroke-width="2" {}
            }
            Place::Tempered => {
                rect x=(number(x - 4.5)) y=(number(y - 4.5)) width="9" height="9" fill="none"
                    stroke=(TEMPERED) stroke-width="2" {}
            }
            Place::Agreed => { path d=(lozenge(5.5)) fill=(INK) {} }
        }
    }
}

fn number(value: f64) -> String {
    format!("{value:.1}")
}

fn sign(cents: f64) -> String {
    crate::report::wording::signed(crate::units::Cents::new(cents))
}
