//! The pitch and the temperament, and what was changed during the rehearsal.

use maud::{Markup, html};

use super::cells::{name, nothing};
use crate::report::Digest;
use crate::report::wording::{plain, time_of_day};
use crate::tuning::Tuning;
use crate::units::NoteName;

const HEADING: &str = "Pitch and temperament";

pub(super) fn section(digest: &Digest<'_>) -> Markup {
    let tunings = digest.chronicle().tunings();
    let Some((_, first)) = tunings.first() else {
        return nothing(HEADING, "Nothing is known of the tuning.");
    };
    let begun = digest.occasion.begun;
    let mut before = first;
    let mut changes = Vec::new();
    for (at, tuning) in &tunings[1..] {
        if tuning != before {
            changes.push((time_of_day(begun, *at), in_words(tuning)));
        }
        before = tuning;
    }
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
