//! How long a plan takes by the size of the programme.
//!
//! ```text
//! cargo bench --bench plan
//! ```
//!
//! The scores are invented: chords over a bass in D, the upper parts in quavers with passing
//! notes, three of them trumpets on their partials. Reading a score from its file is not counted.

use std::hint::black_box;

use concento::plan::{Casting, Choice, Programme, Weights};
use concento::report::PlanReport;
use concento::score::{Bar, Bars, Part, Score, ScoreNote, Spelling, Ticks};
use concento::session::{part_names, temperaments};
use concento::tuning::{Chain, Partial, PitchStandard, Temperament};
use concento::units::Note;
use divan::Bencher;

fn main() {
    divan::main();
}

/// Bars that are planned.
const SIZES: [u64; 3] = [50, 200, 800];

const PARTS: [(&str, [&str; 8]); 14] = [
    (
        "Tromba I",
        ["D5", "E5", "F#5", "G5", "A5", "B5", "C#6", "D6"],
    ),
    (
        "Tromba II",
        ["A4", "D5", "E5", "F#5", "G5", "A5", "F#5", "A5"],
    ),
    (
        "Tromba III",
        ["D4", "F#4", "A4", "D5", "A4", "D5", "F#4", "A4"],
    ),
    ("Timpani", ["D3", "A2", "D3", "A2", "D3", "D3", "A2", "A2"]),
    (
        "Oboe I",
        ["F#5", "G5", "A5", "G#5", "B5", "C#6", "E5", "D5"],
    ),
    (
        "Oboe II",
        ["D5", "E5", "C#5", "E5", "G5", "A5", "C#5", "B4"],
    ),
    (
        "Violino I",
        ["A5", "B5", "D6", "D#5", "E5", "F#5", "G5", "A5"],
    ),
    (
        "Violino II",
        ["F#4", "G4", "E4", "B4", "A4", "G#4", "A4", "D5"],
    ),
    ("Viola", ["D4", "C#4", "F#4", "G4", "E4", "D4", "A3", "B3"]),
    (
        "Soprano",
        ["D5", "C#5", "B4", "A4", "G4", "F#4", "E5", "D5"],
    ),
    ("Alto", ["A4", "G4", "F#4", "E4", "D4", "A4", "G#4", "A4"]),
    (
        "Tenore",
        ["F#4", "E4", "D4", "C#4", "B3", "A3", "G3", "F#3"],
    ),
    ("Basso", ["D3", "E3", "F#3", "G3", "A3", "B3", "A3", "D3"]),
    ("Organo", ["D2", "C#3", "B2", "A#2", "B2", "G2", "A2", "D2"]),
];

/// A score of `count` bars of four quarters, eight quavers each.
fn score(count: u64) -> Score {
    let mut random = fastrand::Rng::with_seed(7);
    let part = |(name, notes): &(&str, [&str; 8])| {
        let notes: Vec<Note> = notes
            .iter()
            .map(|note| note.parse().expect("the notes above are notes"))
            .collect();
        let mut written = Vec::new();
        let mut now = 0;
        while now < 8 * count {
            let lasts = random.u64(1..=3).min(8 * count - now);
            written.push(ScoreNote {
                note: notes[random.usize(0..notes.len())],
                onset: Ticks::new(now),
                end: Ticks::new(now + lasts),
            });
            now += lasts;
        }
        Part {
            name: (*name).to_owned(),
            notes: written,
        }
    };
    let parts = PARTS.iter().map(part).collect();
    let bar = |number: u64| Bar {
        number: (number + 1).to_string(),
        start: Ticks::new(8 * number),
        beat: Ticks::new(2),
    };
    Score {
        title: "Invented".to_owned(),
        parts,
        bars: Bars::new(2, (0..count).map(bar).collect()),
        signatures: Vec::new(),
        spelling: Spelling::Written,
        remarks: Vec::new(),
    }
}

fn casting() -> Casting {
    Casting {
        known: part_names().to_vec(),
        ..Casting::default()
    }
}

fn shipped() -> Vec<Temperament> {
    temperaments(None).expect("the shipped temperaments can be read")
}

fn choice(temperament: &Temperament) -> Choice {
    Choice {
        temperament: temperament.clone(),
        chain: Chain::usual(),
        standard: PitchStandard::new(415.0).expect("415 Hz is within the limits"),
        anchor: Partial::new(8).expect("8 is a partial"),
    }
}

/// Everything `concento plan` works out and writes after reading: all temperaments.
#[divan::bench(args = SIZES)]
fn whole_plan(bencher: Bencher<'_, '_>, bars: u64) {
    let temperaments = shipped();
    let score = score(bars);
    bencher.bench_local(|| {
        let programme = Programme::new(vec![score.clone()], &casting(), None)
            .expect("an invented score is a programme");
        let first = choice(&temperaments[0]);
        let weights = Weights::default();
        let report = PlanReport::new(&programme, &temperaments, &first, weights, || {});
        black_box(report.to_table());
    });
}

/// One temperament, as when a cursor moves.
#[divan::bench(args = SIZES)]
fn one_temperament(bencher: Bencher<'_, '_>, bars: u64) {
    let temperaments = shipped();
    let programme = Programme::new(vec![score(bars)], &casting(), None).expect("as above");
    let choice = choice(&temperaments[0]);
    bencher.bench_local(|| black_box(programme.measure(&choice, &Weights::default())));
}

/// Its worst meetings and proposals.
#[divan::bench(args = SIZES)]
fn worst_and_proposals(bencher: Bencher<'_, '_>, bars: u64) {
    let temperaments = shipped();
    let programme = Programme::new(vec![score(bars)], &casting(), None).expect("as above");
    let choice = choice(&temperaments[0]);
    bencher.bench_local(|| {
        black_box(programme.worst(&choice, 10));
        black_box(programme.proposals(&choice, &Weights::default()));
    });
}
