//! What differs between several rehearsals.

use maud::{Markup, html};

use super::cells::{agreed, cents, name, nature, tempered};
use super::practice::who;
use crate::report::comparison::points;
use crate::report::practice::share;
use crate::report::wording::{NOTHING, hertz, plain, short_day, signed, size};
use crate::report::{ComparedPitch, ComparedPractice, Comparison, Digest};

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
                (practice(&comparison))
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

fn practice(comparison: &Comparison<'_>) -> Markup {
    html! {
        @if !comparison.practice.is_empty() {
            p.faint {
                "Practice, each time: how many notes, the median of their cents from the place on "
                "either side of it, how much of the time was inside; last, what changed."
            }
            table.stacks.numbers {
                thead {
                    tr {
                        th scope="col" { "note" }
                        @for number in 1..=comparison.digests().len() {
                            th scope="col" { (number) ". notes, away, inside" }
                        }
                        th scope="col" { "away" }
                        th scope="col" { "inside" }
                    }
                }
                tbody { @for one in &comparison.practice { (practised(one)) } }
            }
        }
    }
}

fn practised(one: &ComparedPractice) -> Markup {
    html! {
        tr {
            th scope="row" { @if let Some(row) = one.row() { (who(row)) } }
            @for (index, tally) in one.tallies.iter().enumerate() {
                td data-label={ (index + 1) "." } {
                    @match tally {
                        Some(row) => {
                            small { (row.count) "\u{d7}" } " " (size(row.distance)) " " small { (share(row)) }
                        }
                        None => { (NOTHING) }
                    }
                }
            }
            td data-label="away" {
                @match one.change() { Some(change) => { b { (cents(change)) } }, None => { (NOTHING) } }
            }
            td data-label="inside" {
                @match one.change_inside() { Some(change) => { (points(change)) }, None => { (NOTHING) } }
            }
        }
    }
}
