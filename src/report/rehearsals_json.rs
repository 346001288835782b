//! Whole rehearsals as JSON, with everything that is computed from them.

use serde::Serialize;
use serde_json::{Value, json};

use super::digest::Digest;
use super::layout::{self, rounded};
use super::notes_data::{NoteRow, word};
use super::practice;
use super::wording::family;
use crate::rehearsal::{
    Approach, Decision, DriftLine, Finding, GroupRow, LedgerRow, Meeting, Resolution, Spread,
    Trial, TrueSeries,
};
use crate::tuning::Partial;
use crate::units::{Cents, Seconds};

/// These rehearsals as one object:
/// `{"version":1,"rehearsals":[{..}]}`, each with
///
/// * `name`, `begun` (RFC 3339), `title`, `length_s`, `ended_well`, `running`, `notice`, `blocks_lost`;
/// * `sittings`: `begun_s`, `ended_s`;
/// * `players`: `name`, `family`, `instrument`; elsewhere `player` is such a name;
/// * `tunings`: `at_s`, `a4_hz`, `kept_by`, `temperament`, `chain`, `trumpet_key`,
///   `fundamental_hz`;
/// * `notes`: the fields of the comma-separated form without session and date;
/// * `pitches` (one of one player): `player`, `label`, `note`, `partial`, `tempered_cents` and
///   `partial_cents` (medians), `tempered_spread_cents`, `partial_spread_cents`, `notes`,
///   `sounding_s`, `trend_cents_per_minute`, `last_s`;
/// * `meetings` (a note in all octaves): `note`, `partial`, `gap_cents`, `apart_cents`,
///   `together_s`, and `groups` with `family`, medians and spreads as above, `notes`,
///   `sounding_s`;
/// * `decisions` in order: `at_s`, `note`, `decision` (null takes back), `meet_cents` (of
///   `meet-between`), `remark`; `agreements`: the same, what holds in the end;
/// * `drift`: `ensemble` and `series` (points with `at_s`, `cents`, `margin_cents`, `notes`),
///   `players` (`player`, `points`), `expected` (`at_s`, `cents`), `findings` (`kind`: too-early,
///   still, everyone, one or series, with `player`, `cents` and `since_s` where they apply);
/// * `series` (a trumpet's own): `player`, `fundamental_hz`, `margin_cents`,
///   `from_planned_cents`, `notes`, `habits` (`partial`, `cents`, `spread_cents`, `notes`,
///   `counts`);
/// * `trials` (a note of an exercise): `exercise`, `note`, `partial`, `place` (partial, tempered
///   or agreed), `target_hz`, `tolerance_cents`, `begun_s`, `ended_s`, `inside_s`, `off_cents`,
///   `spread_cents`, `drift_cents_per_second`, `approach` (below, above or direct), `blind`;
/// * `marks` and `faults` (`at_s`, `text`), `temperatures` (`at_s`, `celsius`).
///
/// Moments are seconds from the beginning of the first sitting, distances cents upwards, names
/// of notes ASCII. What is not known is null.
///
/// # Panics
///
/// Never: it holds only text and finite numbers.
pub fn rehearsals_json(digests: &[Digest<'_>]) -> String {
    let rehearsals: Vec<Value> = digests.iter().map(rehearsal).collect();
    layout::json(&Document {
        version: 1,
        rehearsals,
    })
}

#[derive(Serialize)]
struct Document {
    version: u32,
    rehearsals: Vec<Value>,
}

fn rehearsal(digest: &Digest<'_>) -> Value {
    let chronicle = digest.chronicle();
    let occasion = &digest.occasion;
    let notes = chronicle.notes().iter();
    let rows = |rows: &[LedgerRow]| list(rows, |row| pitch(digest, row));
    json!({
        "name": occasion.name,
        "begun": occasion.begun,
        "title": digest.title(),
        "length_s": seconds(chronicle.ended()),
        "ended_well": occasion.ended_well,
        "running": occasion.is_running,
        "notice": occasion.notice,
        "blocks_lost": chronicle.blocks_lost(),
        "sittings": list(chronicle.sittings(), |sitting| json!({
            "begun_s": seconds(sitting.begun), "ended_s": seconds(sitting.ended),
        })),
        "players": list(chronicle.players(), |player| json!({
            "name": player.name,
            "family": family(player.instrument.family),
            "instrument": player.instrument.name,
        })),
        "tunings": list(chronicle.tunings(), |(at, tuning)| json!({
            "at_s": seconds(*at),
            "a4_hz": rounded(tuning.standard().a4().get()),
            "kept_by": tuning.standard().kept().ascii(),
            "temperament": tuning.scale().temperament().name,
            "chain": format!("{:#}", tuning.scale().chain()),
            "trumpet_key": tuning.series().key().ascii(),
            "fundamental_hz": rounded(tuning.series().fundamental().get()),
        })),
        "notes": notes.filter_map(|note| NoteRow::new(chronicle, note)).collect::<Vec<_>>(),
        "pitches": rows(&digest.ledger.rows),
        "meetings": list(&digest.ledger.meetings, meeting),
        "decisions": list(chronicle.decisions(), decision),
        "agreements": list(&chronicle.agreements(), |agreed| decision(agreed)),
        "drift": drift(digest),
        "series": list(&digest.series, |series| own_series(digest, series)),
        "trials": list(chronicle.trials(), trial),
        "marks": list(chronicle.marks(), |mark| json!({
            "at_s": seconds(mark.at), "text": mark.text,
        })),
        "faults": list(chronicle.faults(), |(at, text)| json!({
            "at_s": seconds(*at), "text": text,
        })),
        "temperatures": list(chronicle.temperatures(), |(at, celsius)| json!({
            "at_s": seconds(*at), "celsius": celsius.get(),
        })),
    })
}

fn trial(trial: &Trial) -> Value {
    json!({
        "exercise": trial.exercise,
        "note": trial.note.ascii(),
        "partial": trial.partial.map(Partial::number),
        "place": practice::word(trial.place),
        "target_hz": rounded(trial.target.get()),
        "tolerance_cents": cents(trial.tolerance),
        "begun_s": seconds(trial.begun),
        "ended_s": seconds(trial.ended),
        "inside_s": seconds(trial.inside),
        "off_cents": cents(trial.off),
        "spread_cents": cents(trial.spread),
        "drift_cents_per_second": cents(trial.drift_per_second),
        "approach": match trial.approach {
            Approach::Below => "below",
            Approach::Above => "above",
            Approach::Direct => "direct",
        },
        "blind": trial.was_blind,
    })
}

fn list<T>(values: &[T], one: impl Fn(&T) -> Value) -> Value {
    values.iter().map(one).collect()
}

fn seconds(seconds: Seconds) -> f64 {
    rounded(seconds.get())
}

fn cents(cents: Cents) -> f64 {
    rounded(cents.get())
}

fn name(digest: &Digest<'_>, player: usize) -> Option<String> {
    digest.channel(player).map(|channel| channel.name.clone())
}

fn median(spread: Option<Spread>) -> Option<f64> {
    spread.map(|spread| cents(spread.median))
}

fn width(spread: Option<Spread>) -> Option<f64> {
    spread.map(|spread| cents(spread.spread))
}

fn pitch(digest: &Digest<'_>, row: &LedgerRow) -> Value {
    json!({
        "player": name(digest, row.player),
        "label": format!("{:#}", row.label),
        "note": row.tempered.note.ascii(),
        "partial": row.partial.map(|partial| partial.partial.number()),
        "tempered_cents": cents(row.from_tempered.median),
        "tempered_spread_cents": cents(row.from_tempered.spread),
        "partial_cents": median(row.from_partial),
        "partial_spread_cents": width(row.from_partial),
        "notes": row.count,
        "sounding_s": seconds(row.sounding),
        "trend_cents_per_minute": row.trend_per_minute.map(cents),
        "last_s": seconds(row.last),
    })
}

fn meeting(meeting: &Meeting) -> Value {
    let group = |group: &GroupRow| {
        json!({
            "family": family(group.family),
            "tempered_cents": cents(group.from_tempered.median),
            "tempered_spread_cents": cents(group.from_tempered.spread),
            "partial_cents": median(group.from_partial),
            "partial_spread_cents": width(group.from_partial),
            "notes": group.count,
            "sounding_s": seconds(group.sounding),
        })
    };
    json!({
        "note": meeting.note.ascii(),
        "partial": meeting.partial,
        "gap_cents": meeting.gap.map(cents),
        "apart_cents": meeting.apart.map(cents),
        "together_s": seconds(meeting.together),
        "groups": list(&meeting.groups, group),
    })
}

fn decision(decision: &Decision) -> Value {
    let meet = match decision.resolution {
        Some(Resolution::MeetBetween(place)) => Some(cents(place)),
        _ => None,
    };
    json!({
        "at_s": seconds(decision.at),
        "note": decision.note.ascii(),
        "decision": decision.resolution.map(word),
        "meet_cents": meet,
        "remark": decision.remark,
    })
}

fn drift(digest: &Digest<'_>) -> Value {
    let drift = &digest.drift;
    let points = |line: &DriftLine| {
        list(&line.points, |point| {
            json!({
                "at_s": seconds(point.at),
                "cents": cents(point.cents),
                "margin_cents": cents(point.margin),
                "notes": point.count,
            })
        })
    };
    json!({
        "ensemble": points(&drift.ensemble),
        "series": points(&drift.series),
        "players": list(&drift.players, |(player, line)| json!({
            "player": name(digest, *player), "points": points(line),
        })),
        "expected": list(&drift.expected, |(at, rise)| json!({
            "at_s": seconds(*at), "cents": cents(*rise),
        })),
        "findings": list(&drift.findings, |finding| match finding {
            Finding::TooEarly => json!({ "kind": "too-early" }),
            Finding::Still => json!({ "kind": "still" }),
            Finding::Everyone { cents: by, since } => json!({
                "kind": "everyone", "cents": cents(*by), "since_s": seconds(*since),
            }),
            Finding::One { player, cents: by, since } => json!({
                "kind": "one", "player": name(digest, *player), "cents": cents(*by),
                "since_s": seconds(*since),
            }),
            Finding::Series { cents: by, since } => json!({
                "kind": "series", "cents": cents(*by), "since_s": seconds(*since),
            }),
        }),
    })
}

fn own_series(digest: &Digest<'_>, series: &TrueSeries) -> Value {
    json!({
        "player": name(digest, series.player),
        "fundamental_hz": rounded(series.fundamental.get()),
        "margin_cents": cents(series.margin),
        "from_planned_cents": cents(series.from_planned),
        "notes": series.count,
        "habits": list(&series.habits, |habit| json!({
            "partial": habit.partial.number(),
            "cents": cents(habit.cents),
            "spread_cents": cents(habit.spread),
            "notes": habit.count,
            "counts": habit.counts,
        })),
    })
}
