//! The trumpets' true series, and where their players put the partials.

use maud::{Markup, html};

use super::cells::{cents, name, nature};
use crate::rehearsal::TrueSeries;
use crate::report::Digest;
use crate::report::wording::{margin, size};

pub(super) fn section(digest: &Digest<'_>) -> Markup {
    html! {
        section {
            h2 { "The trumpets\u{2019} own series" }
            @if digest.series.is_empty() {
                p.faint { "Too little was heard of the trumpets to tell their own series." }
            } @else {
                p.faint {
                    "Each partial in cents from its place " (nature())
                    " in the series that fits this player best. Those with * are bent by players and do not count for the fundamental."
                }
                @for series in &digest.series { (one(digest, series)) }
            }
        }
    }
}

pub(super) fn one(digest: &Digest<'_>, series: &TrueSeries) -> Markup {
    html! {
        div.series {
            p {
                b { (name(&digest.player(series.player))) }
                ": fundamental " (format!("{:.2}", series.fundamental.get())) "\u{a0}Hz \u{b1}"
                (margin(series.margin)) ", that is " (cents(series.from_planned))
                " from the one reckoned with; " (series.count) " notes."
            }
            ul.habits {
                @for habit in &series.habits {
                    li {
                        span.faint { "p" (habit.partial.number()) @if !habit.counts { "*" } }
                        " " (cents(habit.cents))
                        " " small { "\u{b1}" (size(habit.spread)) }
                    }
                }
            }
        }
    }
}
