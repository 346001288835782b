//! How the notes of exercises were held: where, how steadily, and how each came to its place.

mod picture;

use maud::{Markup, html};

use super::cells::{cents, name};
use crate::rehearsal::{Place, Tally, TallyRow};
use crate::report::Digest;
use crate::report::practice::{pitch, shape, share};
use crate::report::wording::{plain, size};
use crate::units::Cents;

pub(super) fn section(digest: &Digest<'_>, index: usize) -> Markup {
    let trials = digest.chronicle().trials();
    if trials.is_empty() {
        return html! {};
    }
    let tally = Tally::of(trials);
    html! {
        section.practice {
            h2 { "Practice" }
            p.faint {
                "Cents from the place of the note with the spread of one note, away on either side of "
                "it, all medians. Inside: how much of the time lay within the exercise\u{2019}s "
                "tolerance. Below, above, direct: how many came to their place so."
            }
            table.stacks.numbers {
                thead {
                    tr {
                        th scope="col" { "note" }
                        th scope="col" { "notes" }
                        th scope="col" { "median" }
                        th scope="col" { "away" }
                        th scope="col" { "inside" }
                        th scope="col" { "below" }
                        th scope="col" { "above" }
                        th scope="col" { "direct" }
                    }
                }
                tbody { @for row in &tally.rows { (held(row)) } }
            }
            (picture::over_time(digest, index))
        }
    }
}

/// A place as a shape in its colour.
pub(super) fn mark(place: Place) -> Markup {
    match place {
        Place::Partial => super::cells::nature(),
        Place::Tempered => super::cells::tempered(),
        Place::Agreed => html! { span.agreed { (shape(place)) } },
    }
}

fn held(row: &TallyRow) -> Markup {
    html! {
        tr {
            th scope="row" { (who(row)) }
            td data-label="notes" { (row.count) }
            td data-label="median" { (cents(row.off)) " " small { "\u{b1}" (size(row.spread)) } }
            td data-label="away" { (size(row.distance)) }
            td data-label="inside" { (share(row)) }
            td data-label="below" { (row.from_below) }
            td data-label="above" { (row.from_above) }
            td data-label="direct" { (row.direct) }
        }
    }
}

/// The note, its place and the exercise.
pub(super) fn who(row: &TallyRow) -> Markup {
    html! { (pitch(row)) " " (mark(row.place)) " " small { (name(&plain(&row.exercise))) } }
}

/// Notes that are named.
const MOST_FAR: usize = 3;
/// One note says nothing of the others.
const FEWEST: usize = 3;
/// Nearer ones are not worth a line: a choice of this program.
const WORTH_NAMING: Cents = Cents::new(5.0);

/// The notes that lay farthest from their places; none where nothing was practised.
pub(super) fn farthest(digest: &Digest<'_>) -> Vec<TallyRow> {
    let mut rows = Tally::of(digest.chronicle().trials()).rows;
    rows.retain(|row| row.count >= FEWEST && WORTH_NAMING <= row.distance);
    rows.sort_by(|a, b| b.distance.get().total_cmp(&a.distance.get()));
    rows.truncate(MOST_FAR);
    rows
}
