//! The pitch and the temperament, and what was changed during the rehearsal.

use maud::{Markup, html};

use super::cells::{name, nothing};
use crate::report::Digest;
use crate::report::wording::{plain, time_of_day};
use crate::tuning::Tuning;
use crate::units::NoteName;

const HEADING: &str = "Pitch and temperament";

pub(super) fn section(digest: &Digest<'_>) -> Markup {
    let tunings = digest.tunings_that_stood();
    let Some(((_, first), later)) = tunings.split_first() else {
        return nothing(HEADING, "Nothing is known of the tuning.");
    };
    let begun = digest.occasion.begun;
    let later = later.iter();
    let changes: Vec<(String, Markup)> = later
        .map(|(at, tuning)| (time_of_day(begun, *at), in_words(tuning)))
        .collect();
    html! {
        section {
            h2 { (HEADING) }
            p { (in_words(first)) "." }
            @if !changes.is_empty() {
                ul { @for (at, words) in &changes { li { "From " (at) " on: " (words) "." } } }
            }
        }
    }
}

fn in_words(tuning: &Tuning) -> Markup {
    let standard = tuning.standard();
    let series = tuning.series();
    let title = plain(&tuning.scale().temperament().title);
    html! {
        @if standard.kept() == NoteName::A {
            "A\u{a0}=\u{a0}" (standard.a4().get()) "\u{a0}Hz"
        } @else {
            (standard.kept()) " where equal temperament from A\u{a0}=\u{a0}" (standard.a4().get())
            "\u{a0}Hz has it"
        }
        ", " (name(&title)) " with " (tuning.scale().chain())
        ", trumpets in " (series.key()) " on a fundamental of "
        (format!("{:.2}", series.fundamental().get())) "\u{a0}Hz"
    }
}
