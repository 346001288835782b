//! Where the families stood on the same note, those farthest apart first.

use maud::{Markup, html};

use super::cells::{agreed, cents, nature, nothing, spread, tempered};
use crate::rehearsal::{Family, Meeting};
use crate::report::digest::IN_ORDER;
use crate::report::wording::{NOTHING, family, length, size};
use crate::report::{Comparison, Digest};
use crate::units::Seconds;

const HEADING: &str = "Where everybody stood";
/// So many notes are listed.
const MOST: usize = 15;

pub(super) fn section(digest: &Digest<'_>) -> Markup {
    let meetings = &digest.ledger.meetings;
    if meetings.is_empty() {
        return nothing(HEADING, "No note was held long enough to be measured.");
    }
    let shown = &meetings[..meetings.len().min(MOST)];
    let plays = |family: &Family| {
        let mut groups = shown.iter().flat_map(|meeting| &meeting.groups);
        groups.any(|group| group.family == *family)
    };
    let families: Vec<Family> = IN_ORDER.into_iter().filter(plays).collect();
    html! {
        section {
            h2 { (HEADING) }
            p.faint {
                "Cents from " (tempered()) " of the same note in all octaves; first families that sounded together, the farthest apart before others"
                @if meetings.len() > MOST { "; " (MOST) " of " (meetings.len()) " notes" }
                "."
                @if let Some(everyone) = Comparison::everyone(digest).filter(|cents| 0.5 <= cents.abs().get()) {
                    " In the middle all tempered players stood at " (cents(everyone)) ": that is in every number."
                }
            }
            table.stacks.narrow.numbers {
                thead {
                    tr {
                        th scope="col" { "note" }
                        th scope="col" { "partial " (nature()) "\u{2212}" (tempered()) }
                        @for one in &families { th scope="col" { (family(*one)) } }
                        th scope="col" { "apart" }
                        th scope="col" { "together" }
                    }
                }
                tbody { @for meeting in shown { (row(meeting, &families)) } }
            }
        }
    }
}

fn row(meeting: &Meeting, families: &[Family]) -> Markup {
    let is_agreed = meeting
        .decision
        .as_ref()
        .is_some_and(|d| d.resolution.is_some());
    html! {
           tr {
               th scope="row" { (meeting.note) @if is_agreed { " " (agreed()) } }
               @match (meeting.partial, meeting.gap) {
    (Some(partial), Some(gap)) => { td data-label="partial \u{25c7}\u{2212}\u{25a1}" { "p" (partial) " " (cents(gap)) } }
    _ => { td.none { (NOTHING) } }
    }
               @for one in families {
                   @match meeting.groups.iter().find(|group| group.family == *one) {
                       Some(group) => { td data-label=(family(*one)) { (spread(&group.from_tempered)) } }
                       None => { td.none data-label=(family(*one)) { (NOTHING) } }
                   }
               }
               @match meeting.apart {
                   Some(apart) => { td data-label="apart" { b { (size(apart)) } } }
                   None => { td.none { (NOTHING) } }
               }
               @if Seconds::new(0.0) < meeting.together {
                td data-label="together" { (length(meeting.together)) }
            } @else {
                td.none { (NOTHING) }
            }
           }
       }
}
