//! What differs between several rehearsals.

use maud::{Markup, html};

use super::cells::{agreed, cents, name, nature, tempered};
use crate::report::wording::{NOTHING, hertz, plain, short_day, signed};
use crate::report::{ComparedPitch, Comparison, Digest};

/// So many pitches are listed.
const MOST: usize = 12;

pub(super) fn section(digests: &[Digest<'_>]) -> Markup {
    let comparison = Comparison::of(digests);
    html! {
        article {
            section {
                h2 { "From one to the next" }
                (levels(&comparison))
                (pitches(&comparison))
                (agreements(&comparison))
            }
        }
    }
}

fn levels(comparison: &Comparison<'_>) -> Markup {
    html! {
        ol {
            @for digest in comparison.digests() {
                li {
                    (short_day(digest.occasion.begun)) ", " (name(&digest.title())) ": "
                    @match Comparison::level(digest) {
                        Some((start, end)) => { "A4 from " (hertz(start)) " to " (hertz(end)) "." }
                        None => { "the pitch of the ensemble was not measured." }
                    }
                }
            }
        }
    }
}

fn pitches(comparison: &Comparison<'_>) -> Markup {
    if comparison.pitches.is_empty() {
        return html! {
            p.faint { "No pitch of one player was measured in more than one of them." }
        };
    }
    let n_digests = comparison.digests().len();
    html! {
        p.faint {
            "Each rehearsal in cents from " (nature()) " and from " (tempered())
            "; first what came near its place and moved away again, then the largest changes beside everyone's"
            @if comparison.pitches.len() > MOST { "; " (MOST) " of " (comparison.pitches.len()) }
            "."
        }
        table.stacks.numbers {
            thead {
                tr {
                    th scope="col" { "pitch" }
                    @for number in 1..=n_digests { th scope="col" { (number) ". " (nature()) " " (tempered()) } }
                    th scope="col" { "change" }
                }
            }
            tbody { @for pitch in comparison.pitches.iter().take(MOST) { (row(pitch)) } }
        }
    }
}

fn row(pitch: &ComparedPitch) -> Markup {
    html! {
        tr {
            th scope="row" { (name(&plain(&pitch.player))) " " (pitch.label) }
            @for (index, stand) in pitch.stands.iter().enumerate() {
                td data-label={ (index + 1) ". \u{25c7} \u{25a1}" } {
                    @match stand {
                        Some(stand) => {
                            @match stand.from_partial {
                                Some(from) => { span.nature { (signed(from.median)) } }
                                None => { (NOTHING) }
                            }
                            " " span.tempered { (signed(stand.from_tempered.median)) }
                        }
                        None => { (NOTHING) }
                    }
                }
            }
            td data-label="change" {
                b { (cents(pitch.change)) }
                @if pitch.came_back { " " small { "came back" } }
            }
        }
    }
}

fn agreements(comparison: &Comparison<'_>) -> Markup {
    html! {
        @if !comparison.agreements.is_empty() {
            table.stacks {
                thead {
                    tr {
                        th scope="col" { (agreed()) " agreed" }
                        @for number in 1..=comparison.digests().len() { th scope="col" { (number) "." } }
                    }
                }
                tbody {
                    @for row in &comparison.agreements {
                        tr {
                            th scope="row" { (row.note) }
                            @for (index, words) in row.agreed.iter().enumerate() {
                                td data-label={ (index + 1) "." } { (words.as_deref().unwrap_or(NOTHING)) }
                            }
                        }
                    }
                }
            }
        }
    }
}
