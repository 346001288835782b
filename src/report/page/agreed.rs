//! What was agreed note by note.

use maud::{Markup, html};

use super::cells::{agreed, cents, name, nature, nothing, tempered};
use crate::report::Digest;
use crate::report::agreed::{AgreedNote, agreed_notes};
use crate::report::wording::{NOTHING, plain};

const HEADING: &str = "What was agreed";

pub(super) fn section(digest: &Digest<'_>) -> Markup {
    let notes = agreed_notes(digest);
    if notes.is_empty() {
        return nothing(HEADING, "Nothing was agreed on any note.");
    }
    html! {
        section {
            h2 { (HEADING) }
            table.stacks.narrow {
                thead {
                    tr {
                        th scope="col" { "note" }
                        th scope="col" { "partial " (nature()) "\u{2212}" (tempered()) }
                        th scope="col" { (agreed()) " agreed" }
                        th scope="col" { "that is, from " (tempered()) }
                    }
                }
                tbody { @for note in &notes { (row(note)) } }
            }
        }
    }
}

fn row(note: &AgreedNote<'_>) -> Markup {
    let partial = note.places.and_then(|places| places.partial);
    let gap = note.places.and_then(|places| places.gap());
    let remark = plain(&note.decision.remark);
    html! {
           tr {
               th scope="row" { (note.decision.note) }
               @match (partial, gap) {
    (Some(partial), Some(gap)) => { td data-label="partial \u{25c7}\u{2212}\u{25a1}" { "p" (partial.partial.number()) " " (cents(gap)) } }
    _ => { td.none { (NOTHING) } }
    }
               td data-label="\u{25c6}" {
                   (note.resolution)
                   @if !remark.trim().is_empty() { " " span.remark { (name(&remark)) } }
               }
               td data-label="from \u{25a1}" {
                   @for (index, (who, place)) in note.stands_in_words().iter().enumerate() {
                       @if index > 0 { "; " }
                       (who) " " span.number { (place) }
                   }
               }
           }
       }
}
