//! Moments that were marked, temperatures, and what went wrong with the input.

use maud::{Markup, html};

use super::cells::name;
use crate::report::Digest;
use crate::report::wording::{plain, time_of_day};

pub(super) fn section(digest: &Digest<'_>) -> Markup {
    let chronicle = digest.chronicle();
    let begun = digest.occasion.begun;
    let (marks, faults) = (chronicle.marks(), chronicle.faults());
    let temperatures = chronicle.temperatures();
    let lost = chronicle.blocks_lost();
    if marks.is_empty() && faults.is_empty() && temperatures.is_empty() && lost == 0 {
        return html! {};
    }
    html! {
        section {
            h2 { "Marks and faults" }
            @if !temperatures.is_empty() {
                p {
                    "The room: "
                    @for (index, (at, celsius)) in temperatures.iter().enumerate() {
                        @if index > 0 { ", " }
                        (celsius.get()) "\u{a0}\u{b0}C at " (time_of_day(begun, *at))
                    }
                    "."
                }
            }
            @if !marks.is_empty() {
                ul {
                    @for mark in marks {
                        li {
                            (time_of_day(begun, mark.at)) " "
                            @if mark.text.trim().is_empty() { "marked" } @else { (name(&plain(&mark.text))) }
                        }
                    }
                }
            }
            @if !faults.is_empty() {
                p { "The input failed " (times(faults.len())) ":" }
                ul { @for (at, text) in faults { li { (time_of_day(begun, *at)) " " (name(&plain(text))) } } }
            }
            @if lost > 0 { p { (lost) " blocks of sound were lost." } }
        }
    }
}

fn times(count: usize) -> String {
    match count {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        many => format!("{many} times"),
    }
}
