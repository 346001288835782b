//! What it was, when, how long, and who played.

use maud::{Markup, html};

use super::cells::name;
use crate::report::Digest;
use crate::report::wording::{day, length, plain, time_of_day};
use crate::units::Seconds;

pub(super) fn header(digest: &Digest<'_>, alone: bool) -> Markup {
    let chronicle = digest.chronicle();
    let occasion = &digest.occasion;
    let ended = chronicle.ended();
    let sittings = digest.sittings();
    html! {
        header {
            @if alone { h1 { (name(&digest.title())) } } @else { h2.title { (name(&digest.title())) } }
            p.when {
                (day(occasion.begun)) ", "
                (time_of_day(occasion.begun, Seconds::default())) " to "
                (time_of_day(occasion.begun, ended)) " (" (length(ended)) ")"
                @if sittings.len() > 1 {
                    ", in " (sittings.len()) " sittings: "
                    @for (index, (sat_down, rose)) in sittings.iter().enumerate() {
                        @if index > 0 { ", " }
                        (time_of_day(occasion.begun, *sat_down)) "\u{2013}"
                        (time_of_day(occasion.begun, *rose))
                    }
                }
                "."
            }
            @if chronicle.players().is_empty() {
                p.faint { "Nobody is down as playing." }
            } @else {
                p.who {
                    @for (index, player) in chronicle.players().iter().enumerate() {
                        @if index > 0 { ", " }
                        (name(&plain(&player.name)))
                        @let title = plain(&player.instrument.title);
                        @if !same(&title, &player.name) { " " small { "(" (name(&title.to_lowercase())) ")" } }
                    }
                    "."
                }
            }
            @if occasion.is_running {
                p.notice { "This rehearsal is being recorded." }
            } @else if !occasion.ended_well {
                p.notice { "The record breaks off: the end of this rehearsal may be missing." }
            }
            @if let Some(notice) = &occasion.notice { p.notice { (name(&plain(notice))) } }
        }
    }
}

/// Whether the player's name says the instrument already: "Trumpet II" does.
fn same(instrument: &str, player: &str) -> bool {
    player.to_lowercase().contains(&instrument.to_lowercase())
}
