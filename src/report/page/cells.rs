//! Small pieces that stand in several sections.

use maud::{Markup, html};

use crate::rehearsal::Spread;
use crate::report::wording::{signed, size};
use crate::units::Cents;

/// What the shapes mean.
pub(super) fn legend() -> Markup {
    html! {
        p.legend {
            span { (nature()) " the partial of the trumpets\u{2019} series" } " "
            span { (tempered()) " the note of the temperament" } " "
            span { (agreed()) " agreed" } " "
            span { "numbers are cents, + is higher; \u{b1} is the spread" }
        }
    }
}

/// The shape of nature.
pub(super) fn nature() -> Markup {
    html! { span.nature { "\u{25c7}" } }
}

/// The shape of temperament.
pub(super) fn tempered() -> Markup {
    html! { span.tempered { "\u{25a1}" } }
}

/// The shape of what was agreed.
pub(super) fn agreed() -> Markup {
    html! { span.agreed { "\u{25c6}" } }
}

/// A name of a stranger's file, which keeps its direction of writing to itself.
pub(super) fn name(name: &str) -> Markup {
    html! { bdi { (name) } }
}

/// The middle of several values and how far they spread.
pub(super) fn spread(spread: &Spread) -> Markup {
    html! {
        (cents(spread.median))
        " " small { "\u{b1}" (size(spread.spread)) }
    }
}

/// Cents with their sign. Zero has none here, as it stands before a spread.
pub(super) fn cents(cents: Cents) -> Markup {
    html! { span.number { (signed(cents)) } }
}

/// A section that has nothing to show.
pub(super) fn nothing(heading: &str, sentence: &str) -> Markup {
    html! { section { h2 { (heading) } p.faint { (sentence) } } }
}
