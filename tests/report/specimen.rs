//! An invented rehearsal for looking at reports: two trumpets, a violin, a dulcian, a singer and
//! an organ over an hour and a half in a room that warms up.

use concento::rehearsal::{
    Channel, Chronicle, Decision, Drift, DriftLine, DriftPoint, Ensemble, Entry, Family, Finding,
    GroupRow, Habit, Ledger, LedgerRow, Mark, Meeting, Note, Resolution, Spread, TrueSeries,
    VoiceLabel,
};
use concento::report::{Digest, Occasion};
use concento::session::{default_ensemble, instrument};
use concento::tuning::{Partial, Tuning};
use concento::units::{Celsius, Cents, Dbfs, Hertz, NoteName, Seconds};

/// When it began.
pub(crate) const BEGUN: &str = "2026-11-25T19:30:00+01:00";

/// Whatever is text in it.
pub(crate) struct Words {
    pub(crate) title: &'static str,
    /// Names and instruments.
    pub(crate) players: [(&'static str, &'static str); 6],
    pub(crate) remark: &'static str,
    pub(crate) mark: &'static str,
    pub(crate) fault: &'static str,
}

/// As a band would write it.
pub(crate) const USUAL: Words = Words {
    title: "Music for a winter evening",
    players: [
        ("Trumpet I", "natural-trumpet"),
        ("Trumpet II", "natural-trumpet"),
        ("Violin", "violin"),
        ("Dulcian", "dulcian"),
        ("Soprano", "soprano"),
        ("Organ", "organ"),
    ],
    remark: "violins too, bar 41",
    mark: "the last chord rings",
    fault: "the microphone has gone: waiting for it",
};

/// As somebody would who means harm, or knows no measure.
pub(crate) const STRANGE: Words = Words {
    title: "<script>alert(1)</script>",
    players: [
        ("\"><img src=x onerror=alert(1)>", "natural-trumpet"),
        ("</title><script>alert(2)</script>", "natural-trumpet"),
        ("Strings & \u{202e}sgnirts", "violin"),
        (
            "The_second_dulcian_of_the_three_who_sit_behind_the_pillar_where_nobody_sees_them",
            "dulcian",
        ),
        ("'Soprano' --> <style>*{display:none}</style>", "soprano"),
        ("Organ &amp; <b>bellows</b>", "organ"),
    ],
    remark: "</td></tr></table><h1>no</h1>",
    mark: "<svg onload=alert(3)> & \u{2066}more",
    fault: "&#60;iframe src='//example.invalid'>",
};

fn cents(cents: f64) -> Cents {
    Cents::new(cents)
}

fn note_name(text: &str) -> NoteName {
    text.parse().unwrap()
}

/// The band under these names.
pub(crate) fn ensemble(title: &str, names: &[(&str, &str)]) -> Ensemble {
    let channels = names
        .iter()
        .enumerate()
        .map(|(index, (name, kind))| Channel {
            name: (*name).to_owned(),
            instrument: instrument(kind).unwrap().clone(),
            input: index + 1,
            visible: true,
            chain: None,
            players: 1,
        });
    Ensemble {
        title: title.to_owned(),
        tuning: default_ensemble(1).tuning,
        channels: channels.collect(),
    }
}

/// A note of the player at this place, so many cents above `name`'s tempered place.
pub(crate) fn note(tuning: &Tuning, channel: usize, name: &str, off: f64, begun: f64) -> Note {
    let place = tuning.scale().frequency(name.parse().unwrap());
    let hertz = place.raised(cents(off));
    let places = tuning.place(hertz);
    let label = match places.partial {
        Some(partial) if channel < 2 => VoiceLabel::Partial(partial.partial),
        _ => VoiceLabel::Note(places.tempered.note),
    };
    Note {
        channel,
        label,
        begun: Seconds::new(begun),
        ended: Seconds::new(begun + 2.5),
        steady: Seconds::new(1.8),
        hertz,
        margin: cents(0.6),
        spread: cents(3.2),
        level: Dbfs::new(-24.0),
        goes_on: false,
        places,
    }
}

/// What the journal of the rehearsal says.
pub(crate) fn chronicle(words: &Words) -> Chronicle {
    let seated = ensemble(words.title, &words.players);
    let tuning = seated.tuning.clone();
    let mut entries = vec![Entry::Seated {
        at: Seconds::new(0.0),
        ensemble: Box::new(seated),
    }];
    for (channel, name, off) in [
        (0, "G#5", -36.4),
        (1, "A5", 3.6),
        (2, "G#5", -8.0),
        (3, "F#3", 2.0),
        (4, "F#5", -4.0),
        (5, "G#4", 0.2),
    ] {
        for time in 0..8 {
            let begun = 60.0 + 600.0 * f64::from(time) + channel as f64;
            entries.push(Entry::Note(note(&tuning, channel, name, off, begun)));
        }
    }
    let decision = |at: f64, note: &str, resolution, remark: &str| {
        Entry::Decided(Decision {
            at: Seconds::new(at),
            note: note_name(note),
            resolution: Some(resolution),
            remark: remark.to_owned(),
        })
    };
    entries.extend([
        decision(1_800.0, "G#", Resolution::FollowPartial, words.remark),
        decision(2_000.0, "F#", Resolution::FollowTemperament, ""),
        decision(
            2_600.0,
            "C",
            Resolution::KeyboardLeavesOut,
            "second verse only",
        ),
        decision(2_700.0, "B", Resolution::MeetBetween(cents(4.0)), ""),
    ]);
    for (at, degrees) in [(120.0, 16.5), (2_700.0, 18.0), (5_200.0, 20.5)] {
        entries.push(Entry::Warmth {
            at: Seconds::new(at),
            celsius: Celsius::new(degrees).unwrap(),
        });
    }
    let mark = |at: f64, text: &str| {
        Entry::Marked(Mark {
            at: Seconds::new(at),
            text: text.to_owned(),
        })
    };
    entries.extend([
        mark(2_460.0, words.mark),
        mark(4_020.0, ""),
        Entry::Fault {
            at: Seconds::new(3_030.0),
            text: words.fault.to_owned(),
        },
        mark(5_640.0, "once more from the fugue"),
    ]);
    entries.sort_by(|a, b| a.at().get().total_cmp(&b.at().get()));
    let mut chronicle = Chronicle::default();
    for entry in &entries {
        chronicle.take(entry);
    }
    chronicle
}

/// The rehearsal with computed results as they might be.
pub(crate) fn digest(chronicle: &Chronicle) -> Digest<'_> {
    let occasion = Occasion {
        name: "winter-evening-2",
        begun: BEGUN,
        chronicle,
        ended_well: true,
        is_running: false,
        notice: None,
    };
    Digest {
        ledger: ledger(chronicle),
        drift: drift(),
        series: vec![series(0, 69.51, 5.2), series(1, 69.36, 1.4)],
        occasion,
    }
}

fn spread(median: f64, spread: f64) -> Spread {
    Spread {
        median: cents(median),
        spread: cents(spread),
    }
}

/// A row of the table: who, what, and where.
pub(crate) fn row(tuning: &Tuning, player: usize, name: &str, off: f64) -> LedgerRow {
    let note = note(tuning, player, name, off, 0.0);
    LedgerRow {
        player,
        label: note.label,
        tempered: note.places.tempered,
        partial: note.places.partial,
        from_tempered: spread(off, 3.0 + off.abs() * 0.1),
        from_partial: note.places.partial.map(|p| spread(p.cents.get(), 3.4)),
        count: 14,
        sounding: Seconds::new(62.0),
        trend_per_minute: Some(cents(0.14)),
        last: Seconds::new(5_200.0),
    }
}

fn ledger(chronicle: &Chronicle) -> Ledger {
    let tuning = &chronicle.tunings()[0].1;
    let rows = [
        (0, "A4", 2.0),
        (0, "D5", 3.8),
        (0, "E5", 6.2),
        (0, "F#5", -9.4),
        (0, "G#5", -36.4),
        (0, "A5", 4.2),
        (0, "B5", 42.0),
        (1, "D4", 1.1),
        (1, "A4", 2.9),
        (1, "D5", 0.6),
        (1, "F#5", -8.2),
        (2, "A4", 4.0),
        (2, "F#5", -3.0),
        (2, "G#5", -8.0),
        (3, "D3", 7.0),
        (3, "A2", 9.0),
        (3, "F#3", 2.0),
        (4, "F#5", -4.0),
        (4, "A4", 6.0),
        (5, "D4", 0.1),
        (5, "A4", 0.3),
        (5, "G#4", 0.2),
    ];
    let rows = rows.map(|(player, name, off)| row(tuning, player, name, off));
    let meetings = [
        ("B", Some((13, 55.4)), &[42.0, 6.0, 5.0, 4.0, 0.4][..]),
        ("G#", Some((11, -38.9)), &[-36.4, -8.0, 0.0, -2.0, 0.2]),
        ("C", Some((7, -24.4)), &[-22.0, 3.0, 6.0, 2.0, 0.1]),
        ("F#", Some((5, -7.2)), &[-9.0, -3.0, 2.0, -4.0, 0.2]),
        ("D", Some((1, 0.0)), &[2.0, 4.0, 7.0, 5.0, 0.1]),
        ("A", Some((3, 3.6)), &[3.1, 4.0, 9.0, 6.0, 0.3]),
        ("E", Some((9, 7.2)), &[6.2, 4.4, 8.0, 5.1, 0.0]),
        ("G", Some((11, 49.7)), &[12.0, 3.0, 5.5, 4.0, 0.2]),
        ("C#", Some((15, -3.6)), &[-2.0, 1.0, 4.4, 2.0, 0.3]),
        ("Bb", Some((13, -62.0)), &[-50.0, 2.0, 1.0, 3.3, 0.0]),
        ("F", None, &[0.0, 2.0, 6.4, 3.3, 0.0][1..]),
        ("Eb", None, &[0.0, 3.0, 1.2, 2.3, 0.2][1..]),
        ("D#", None, &[0.0, -4.0, 1.2, -2.3][1..]),
        ("E#", None, &[0.0, -4.0][1..]),
        ("A#", None, &[0.0, 4.0][1..]),
        ("B#", None, &[0.0, 14.0][1..]),
    ];
    let meetings = meetings.map(|(name, partial, offs)| meeting(chronicle, name, partial, offs));
    let mut meetings = Vec::from(meetings);
    let apart = |meeting: &Meeting| meeting.apart.unwrap_or_default().get();
    meetings.sort_by(|a, b| apart(b).total_cmp(&apart(a)));
    Ledger {
        rows: rows.into(),
        meetings,
    }
}

fn meeting(chronicle: &Chronicle, name: &str, partial: Option<(u8, f64)>, offs: &[f64]) -> Meeting {
    let all = [
        Family::Trumpets,
        Family::Strings,
        Family::Winds,
        Family::Voices,
        Family::Keyboard,
    ];
    let families = &all[usize::from(partial.is_none())..];
    let group = |(family, off): (&Family, &f64)| GroupRow {
        family: *family,
        from_tempered: spread(*off, 2.0 + off.abs() * 0.1),
        from_partial: partial.map(|(_, gap)| spread(off - gap, 2.0)),
        count: 21,
        sounding: Seconds::new(80.0),
    };
    let groups: Vec<GroupRow> = families.iter().zip(offs).map(group).collect();
    let lowest = offs.iter().copied().fold(f64::INFINITY, f64::min);
    let highest = offs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Meeting {
        note: note_name(name),
        gap: partial.map(|(_, gap)| cents(gap)),
        partial: partial.map(|(number, _)| number),
        apart: (groups.len() > 1).then(|| cents(highest - lowest)),
        groups,
        together: Seconds::new(74.0),
        decision: chronicle.decision(note_name(name)).cloned(),
        rows: Vec::new(),
    }
}

fn line(start_min: f64, end_min: f64, moves: impl Fn(f64) -> f64) -> DriftLine {
    let points = (0..=12).map(|step| {
        let minute = start_min + (end_min - start_min) * f64::from(step) / 12.0;
        DriftPoint {
            at: Seconds::new(60.0 * minute),
            cents: cents(moves(minute)),
            margin: cents(1.6),
            count: 25,
        }
    });
    DriftLine {
        points: points.collect(),
    }
}

fn drift() -> Drift {
    Drift {
        ensemble: line(3.0, 94.0, |m| 0.8 + 0.13 * m - (m / 9.0).sin()),
        series: line(6.0, 90.0, |m| 1.2 + 0.16 * m + (m / 7.0).sin()),
        players: vec![
            (
                2,
                line(4.0, 92.0, |m| 2.0 + 0.12 * m + 1.5 * (m / 5.0).sin()),
            ),
            (3, line(8.0, 93.0, |m| 3.0 + 0.14 * m + (m / 6.0).cos())),
            (
                4,
                line(20.0, 88.0, |m| 4.0 + 0.12 * m - 2.0 * (m / 8.0).sin()),
            ),
            (5, line(3.0, 94.0, |m| 0.2 + 0.04 * m)),
        ],
        winds: DriftLine::default(),
        expected: [(2.0, 0.5), (45.0, 4.9), (87.0, 12.3)]
            .map(|(minute, rise)| (Seconds::new(60.0 * minute), cents(rise)))
            .into(),
        findings: vec![
            Finding::Everyone {
                cents: cents(12.4),
                since: Seconds::new(840.0),
            },
            Finding::One {
                player: 5,
                cents: cents(-8.1),
                since: Seconds::new(1_500.0),
            },
        ],
    }
}

fn series(player: usize, hz: f64, from_planned: f64) -> TrueSeries {
    let habits = [
        (3, 1.0),
        (4, 0.4),
        (5, -2.1),
        (6, 0.8),
        (7, 9.0),
        (8, 0.1),
        (9, -0.7),
        (10, -3.0),
        (11, 6.2),
        (12, 0.9),
        (13, -11.4),
        (14, 4.0),
        (16, -1.2),
    ];
    TrueSeries {
        player,
        fundamental: Hertz::new(hz).unwrap(),
        margin: cents(0.8),
        from_planned: cents(from_planned),
        count: 112,
        habits: habits
            .map(|(number, off)| Habit {
                partial: Partial::new(number).unwrap(),
                cents: cents(off),
                spread: cents(2.4),
                count: 9,
                counts: !matches!(number, 7 | 11 | 13 | 14),
            })
            .into(),
    }
}
