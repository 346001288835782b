//! What the next rehearsal can begin with: facts of this one, and what follows from them.

use maud::{Markup, html};

use super::cells::{agreed, cents, name};
use super::practice;
use crate::rehearsal::{Finding, Meeting};
use crate::report::Digest;
use crate::report::wording::{self, family, hertz, size, way};
use crate::units::{Cents, Seconds};

/// Open notes that are named.
const MOST_OPEN: usize = 5;
/// Families nearer than this are not worth a line: a choice of this program.
const WORTH_NAMING: Cents = Cents::new(5.0);

pub(super) fn section(digest: &Digest<'_>) -> Markup {
    let pitch = pitch(digest);
    let moved = moved(digest);
    let open = open(digest);
    let agreements = digest.chronicle().agreements();
    let far = practice::farthest(digest);
    html! {
        section {
            h2 { "To begin with next time" }
            ul {
                @if let Some(pitch) = pitch { (pitch) }
                @for sentence in moved { li { (sentence) } }
                @for series in digest.series.iter().filter(|series| series.has_moved()) {
                    li {
                        (name(&digest.player(series.player))) ": reckon with a fundamental of "
                        b { (format!("{:.2}", series.fundamental.get())) "\u{a0}Hz" } " ("
                        (cents(series.from_planned)) " from this time\u{2019}s)."
                    }
                }
                @if !agreements.is_empty() {
                    li {
                        (agreed()) " Keep what was agreed on "
                        @for (index, decision) in agreements.iter().enumerate() {
                            @if index > 0 { ", " }
                            b { (decision.note) }
                        }
                        "."
                    }
                }
                @if !open.is_empty() {
                    li {
                        "Still open, with the largest distances: "
                        @for (index, meeting) in open.iter().enumerate() {
                            @if index > 0 { "; " }
                            (apart(meeting))
                        }
                        "."
                    }
                } @else if digest.ledger.meetings.is_empty() {
                    li.faint { "Which notes are still open cannot be said, as none was measured." }
                }
                @if !far.is_empty() {
                    li {
                        "In practice these lay farthest from their places: "
                        @for (index, row) in far.iter().enumerate() {
                            @if index > 0 { ", " }
                            b { (crate::report::practice::pitch(row)) } " " (practice::mark(row.place))
                            " " (size(row.distance)) " cents"
                        }
                        "."
                    }
                }
            }
        }
    }
}

fn pitch(digest: &Digest<'_>) -> Option<Markup> {
    let standard = digest.tuning()?.standard();
    let line = &digest.drift.ensemble;
    let ends = line.start().zip(line.end()).and_then(|(start, end)| {
        let first = digest.implied_a4(start.cents)?;
        Some((first, digest.implied_a4(end.cents)?, end.margin))
    });
    Some(html! {
        li {
            "The pitch standard is A\u{a0}=\u{a0}" (standard.a4().get()) "\u{a0}Hz. "
            @if let Some((first, last, margin)) = ends {
                "The ensemble began at " b { (hertz(first)) } " and ended at " b { (hertz(last)) }
                " (\u{b1}" (wording::margin(margin)) "\u{a0}cents). Proposal: tune to " b { (hertz(last)) }
                " if the room is as at the end, to " (hertz(first)) " if it is as at the beginning."
            } @else {
                "Where the ensemble stood was not measured."
            }
        }
    })
}

/// Who moved against the others.
fn moved(digest: &Digest<'_>) -> Vec<Markup> {
    let sentence = |finding: &Finding| match finding {
        Finding::One { player, cents, .. } => Some(html! {
            (name(&digest.player(*player))) " moved " (way(*cents)) " by " (size(*cents))
            " cents against the others: compare pitches with this one first."
        }),
        Finding::Series { cents, .. } => Some(html! {
            "The trumpets moved " (way(*cents)) " by " (size(*cents))
            " cents against the tempered players: compare the pitches of both first."
        }),
        Finding::TooEarly | Finding::Still | Finding::Everyone { .. } => None,
    };
    digest.drift.findings.iter().filter_map(sentence).collect()
}

/// Notes without an agreement on which families stood apart.
fn open<'a>(digest: &'a Digest<'_>) -> Vec<&'a Meeting> {
    let is_open = |meeting: &&Meeting| {
        let decided = digest.chronicle().decision(meeting.note).is_some();
        let met = Seconds::new(0.0) < meeting.together;
        met && !decided
            && meeting
                .apart
                .is_some_and(|apart| WORTH_NAMING <= apart.abs())
    };
    let open = digest.ledger.meetings.iter().filter(is_open);
    let mut open: Vec<&Meeting> = open.collect();
    let distance = |meeting: &Meeting| meeting.apart.unwrap_or_default().abs().get();
    open.sort_by(|a, b| distance(b).total_cmp(&distance(a)));
    open.truncate(MOST_OPEN);
    open
}

/// The note and the two families that stood farthest apart.
fn apart(meeting: &Meeting) -> Markup {
    let by_place = |a: &&_, b: &&_| {
        let place = |group: &crate::rehearsal::GroupRow| group.from_tempered.median.get();
        place(a).total_cmp(&place(b))
    };
    let low = meeting.groups.iter().min_by(by_place);
    let high = meeting.groups.iter().max_by(by_place);
    html! {
        b { (meeting.note) }
        @if let Some(apart) = meeting.apart { " " (size(apart)) " cents" }
        @if let (Some(low), Some(high)) = (low, high) {
            " (" (family(high.family)) " above " (family(low.family)) ")"
        }
    }
}
