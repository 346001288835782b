//! The page everyone takes home: one HTML file without script or anything to fetch, to be
//! printed or read on a telephone. All text of files is escaped.
//!
//! From top to bottom: what was agreed and what to begin with next time, then what was heard.

mod agreed;
mod cells;
mod chart;
mod compared;
mod drift;
mod heading;
mod meetings;
mod next;
mod pitch;
mod player;
mod practice;
mod remarks;
mod series;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::Digest;

/// Nothing is fetched, and nothing runs, whatever a name may contain.
pub(super) const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:";

/// The page of these rehearsals: a section for each, what differs between them if there are
/// several, and the own page of the player of that name.
pub fn rehearsal_page(digests: &[Digest<'_>], player: Option<&str>) -> String {
    let title = match digests {
        [one] => one.title(),
        _ => format!("{} rehearsals", digests.len()),
    };
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) }
                // Without it a browser would ask for one.
                link rel="icon" href="data:,";
                style { (PreEscaped(include_str!("page/page.css"))) }
            }
            body {
                main {
                    @if digests.len() > 1 { h1 { (title) } (compared::section(digests)) }
                    @for (index, digest) in digests.iter().enumerate() {
                        (rehearsal(digest, index, digests.len() == 1))
                        @if let Some(place) = player.and_then(|name| digest.player_named(name)) {
                            (player::page(digest, place))
                        }
                    }
                }
            }
        }
    };
    page.into_string()
}

fn rehearsal(digest: &Digest<'_>, index: usize, alone: bool) -> Markup {
    html! {
        article {
            (heading::header(digest, alone))
            (pitch::section(digest))
            (cells::legend())
            (agreed::section(digest))
            (next::section(digest))
            (meetings::section(digest))
            (drift::section(digest, index))
            (series::section(digest))
            (practice::section(digest, index))
            (remarks::section(digest))
        }
    }
}
