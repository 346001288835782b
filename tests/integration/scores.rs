//! Scores against another program's reading of them: see `tests/scores/reference.py` for what it
//! counts and `tests/scores/invent.py` for what the invented score holds.

use std::collections::BTreeMap;

use concento::score::{Score, Spelling, read};

use crate::figures::rows;

const OTHERS: &str = include_str!("../data/score_notes_by_music21.csv");

/// How often each note of each part is played, and its quarters times the ticks of a quarter.
type Sums = BTreeMap<(usize, String), (u64, u64)>;

fn ours(score: &Score) -> Sums {
    let mut sums = Sums::new();
    for (index, part) in score.parts.iter().enumerate() {
        for note in &part.notes {
            let sum = sums.entry((index + 1, note.note.ascii())).or_default();
            sum.0 += 1;
            sum.1 += (note.end - note.onset).get();
        }
    }
    sums
}

fn theirs(file: &str, ticks_per_quarter: u64) -> Sums {
    let columns = ["file", "part", "note", "count", "quarters"];
    let of_file = rows(OTHERS, columns)
        .into_iter()
        .filter(|row| row[0] == file);
    of_file
        .map(|[_, part, note, count, quarters]| {
            let (above, below) = quarters.split_once('/').unwrap_or((&quarters, "1"));
            let ticks = above.parse::<u64>().unwrap() * ticks_per_quarter;
            let below: u64 = below.parse().unwrap();
            assert_eq!(ticks % below, 0, "{note}: {quarters}");
            let key = (part.parse().unwrap(), note);
            (key, (count.parse().unwrap(), ticks / below))
        })
        .collect()
}

fn check(file: &str, bytes: &[u8], spelling: Spelling) -> Score {
    let score = read(bytes, "sonata").unwrap();
    let expected = theirs(file, score.bars.ticks_per_quarter());
    assert!(expected.len() > 60, "{file}: {} notes", expected.len());
    assert_eq!(ours(&score), expected, "{file}");
    assert_eq!(score.spelling, spelling);
    score
}

#[test]
fn every_note_is_read_as_another_program_reads_it() {
    let plain = include_bytes!("../data/scores/sonata.musicxml");
    let score = check("sonata.musicxml", plain, Spelling::Written);
    check(
        "sonata.mxl",
        include_bytes!("../data/scores/sonata.mxl"),
        Spelling::Written,
    );
    check(
        "sonata.mid",
        include_bytes!("../data/scores/sonata.mid"),
        Spelling::Guessed,
    );

    // What the other program's sums do not tell.
    assert_eq!(score.title, "Sonata for the rehearsal");
    let names: Vec<_> = score.parts.iter().map(|part| part.name.as_str()).collect();
    assert_eq!(
        names,
        [
            "Tromba I",
            "Tromba II",
            "Tromba III",
            "Timpani",
            "Violino",
            "Violino (2)",
            "Part 7",
            "Violone",
            "Organo"
        ]
    );
    let quarters: Vec<f64> = score
        .bars
        .all()
        .iter()
        .map(|bar| score.bars.quarters(bar.start))
        .collect();
    let expected: Vec<f64> = (0..=24)
        .map(|bar: u32| match bar {
            0 => 0.0,
            1..=17 => 1.0 + 3.0 * f64::from(bar - 1),
            _ => 49.0 + 4.0 * f64::from(bar - 17),
        })
        .collect();
    assert_eq!(quarters, expected);
    let keys: Vec<_> = score
        .signatures
        .iter()
        .map(|&(at, fifths)| (score.bars.place(at).bar, fifths))
        .collect();
    let keys: Vec<_> = keys
        .iter()
        .map(|(bar, fifths)| (bar.as_str(), *fifths))
        .collect();
    assert_eq!(keys, [("0", 2), ("12", 1), ("17", 2)]);
    assert!(score.remarks.is_empty(), "{:?}", score.remarks);
}
