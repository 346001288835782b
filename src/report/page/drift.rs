//! How the pitch moved: in sentences, as a picture and as a table.

use maud::{Markup, PreEscaped, html};

use super::cells::{cents, name, nothing};
use super::chart;
use crate::rehearsal::DriftLine;
use crate::report::Digest;
use crate::report::findings::sentences;
use crate::report::wording::{NOTHING, hertz, margin};
use crate::units::Cents;

const HEADING: &str = "How the pitch moved";

pub(super) fn section(digest: &Digest<'_>, index: usize) -> Markup {
    let sentences = sentences(digest);
    let lines = lines(digest);
    if lines.is_empty() {
        return nothing(HEADING, &sentences.join(" "));
    }
    let told = sentences.join(" ");
    let picture = chart::drift(digest, index, HEADING, &told).unwrap_or_default();
    html! {
        section.drift {
            h2 { (HEADING) }
            p { (told) }
            div.beside {
                figure {
                    (PreEscaped(picture))
                    figcaption.faint {
                        "Cents from the pitch standard of the beginning over the minutes of the rehearsal."
                        @if !digest.drift.expected.is_empty() {
                            " Dotted: what winds should do by the temperatures."
                        }
                    }
                }
                (table(digest, &lines))
            }
        }
    }
}

/// Every line with its name.
fn lines<'a>(digest: &'a Digest<'_>) -> Vec<(String, &'a DriftLine, bool)> {
    let drift = &digest.drift;
    let all = [
        ("\u{25a1}\u{a0}ensemble".to_owned(), &drift.ensemble, true),
        ("\u{25c7}\u{a0}series".to_owned(), &drift.series, false),
    ];
    let players = drift.players.iter();
    let players = players.map(|(player, line)| (digest.player(*player), line, false));
    let all = all.into_iter().chain(players);
    all.filter(|(_, line, _)| !line.points.is_empty()).collect()
}

fn table(digest: &Digest<'_>, lines: &[(String, &DriftLine, bool)]) -> Markup {
    html! {
        table.numbers {
            thead {
                tr {
                    th scope="col" { "line" }
                    th scope="col" { "start" }
                    th scope="col" { "lowest" }
                    th scope="col" { "highest" }
                    th scope="col" { "end" }
                    th scope="col" { "moved" }
                }
            }
            tbody {
                @for (who, line, is_all) in lines {
                    tr {
                        th scope="row" { (name(who)) }
                        @match (line.start(), line.end()) {
                            (Some(start), Some(end)) => {
                                td { (cents(start.cents)) }
                                td { (cents(extreme(line, f64::min))) }
                                td { (cents(extreme(line, f64::max))) }
                                td { (cents(end.cents)) " " small { "\u{b1}" (margin(end.margin)) } }
                                td { @match line.moved() { Some(moved) => { b { (cents(moved)) } }, None => { (NOTHING) } } }
                            }
                            _ => { td colspan="5" { (NOTHING) } }
                        }
                    }
                    @if *is_all { (in_hertz(digest, line)) }
                }
            }
        }
    }
}

/// The same as the pitch of A.
fn in_hertz(digest: &Digest<'_>, line: &DriftLine) -> Markup {
    let a4 = |cents: Cents| digest.implied_a4(cents).map_or_else(String::new, hertz);
    let ends = line.start().zip(line.end());
    html! {
        @if let Some((start, end)) = ends {
            tr.faint {
                th scope="row" { "its\u{a0}A4" }
                td colspan="5" { "from " (a4(start.cents)) " to " (a4(end.cents)) }
            }
        }
    }
}

fn extreme(line: &DriftLine, choose: fn(f64, f64) -> f64) -> Cents {
    let all = line.points.iter().map(|point| point.cents.get());
    Cents::new(all.reduce(choose).unwrap_or_default())
}
