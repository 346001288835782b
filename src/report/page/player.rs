//! One player's own page.

use maud::{Markup, html};

use super::cells::{agreed, cents, name, nature, spread, tempered};
use super::series;
use crate::rehearsal::{LedgerRow, Resolution, VoiceLabel};
use crate::report::Digest;
use crate::report::wording::{NOTHING, day, minutes, plain};
use crate::units::Cents;

pub(super) fn page(digest: &Digest<'_>, player: usize) -> Markup {
    let rows: Vec<&LedgerRow> = digest
        .ledger
        .rows
        .iter()
        .filter(|r| r.player == player)
        .collect();
    let own = digest.series.iter().find(|series| series.player == player);
    html! {
        article.player {
            h2.title { (name(&digest.player(player))) }
            p.when { (name(&digest.title())) ", " (day(digest.occasion.begun)) "." }
            section {
                h3 { "All pitches" }
                @if rows.is_empty() {
                    p.faint { "No note was held long enough to be measured." }
                } @else {
                    table.stacks.numbers {
                        thead {
                            tr {
                                th scope="col" { "pitch" }
                                th scope="col" { "notes" }
                                th scope="col" { "minutes" }
                                th scope="col" { "from " (nature()) }
                                th scope="col" { "from " (tempered()) }
                                th scope="col" { "a minute" }
                            }
                        }
                        tbody { @for row in &rows { (pitch(row)) } }
                    }
                }
            }
            (agreements(digest, player, &rows))
            @if let Some(own) = own { section { h3 { "Own series" } (series::one(digest, own)) } }
        }
    }
}

fn pitch(row: &LedgerRow) -> Markup {
    html! {
        tr {
            th scope="row" { (label(row)) }
            td data-label="notes" { (row.count) }
            td data-label="minutes" { (minutes(row.sounding)) }
            td data-label="from \u{25c7}" {
                @match (&row.from_partial, &row.partial) {
                    (Some(from), Some(partial)) => {
                        (spread(from))
                        @if row.label.partial().is_none() { " " small { "(p" (partial) ")" } }
                    }
                    _ => { (NOTHING) }
                }
            }
            td data-label="from \u{25a1}" { (spread(&row.from_tempered)) }
            td data-label="a minute" {
                @match row.trend_per_minute {
                    Some(trend) => { span.number { (format!("{trend:.1}")) } }
                    None => { (NOTHING) }
                }
            }
        }
    }
}

/// A trumpet's partial with the note it is met on.
fn label(row: &LedgerRow) -> String {
    match row.label {
        VoiceLabel::Partial(_) => format!("{} ({})", row.label, row.tempered.note),
        VoiceLabel::Note(_) => row.label.to_string(),
    }
}

/// What was agreed on the notes this player played.
fn agreements(digest: &Digest<'_>, player: usize, rows: &[&LedgerRow]) -> Markup {
    let family = digest
        .channel(player)
        .map(|channel| channel.instrument.family);
    let notes = crate::report::agreed::agreed_notes(digest);
    let plays = |note: crate::units::NoteName| rows.iter().any(|r| r.tempered.note.name() == note);
    let own: Vec<_> = notes
        .iter()
        .filter(|note| plays(note.decision.note))
        .collect();
    html! {
        section {
            h3 { (agreed()) " Agreed on these notes" }
            @if own.is_empty() {
                p.faint { "Nothing was agreed on them." }
            } @else {
                ul {
                    @for note in own {
                        @let place = note.stands.iter().find(|(families, _)| family.is_some_and(|f| families.contains(&f)));
                        @let remark = plain(&note.decision.remark);
                        li {
                            b { (note.decision.note) } ": " (note.resolution)
                            @match place {
                                // Where to meet is said already, unless this player stays elsewhere.
                                Some((_, Some(from))) if is_said(note.resolution, *from) => {}
                                Some((_, Some(from))) => { ", at " (cents(*from)) " from " (tempered()) }
                                Some((_, None)) => { ", silent or without a partial" }
                                None => {}
                            }
                            @if !remark.trim().is_empty() { " " span.remark { (name(&remark)) } }
                        }
                    }
                }
            }
        }
    }
}

/// Whether the words of a resolution say this place already.
fn is_said(resolution: Resolution, from_tempered: Cents) -> bool {
    match resolution {
        Resolution::MeetBetween(cents) => (cents - from_tempered).abs().get() < 0.5,
        _ => false,
    }
}
