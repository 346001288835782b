//! What is read of scores, as CSV to compare with another reader's: for each file, part and
//! sounding note how often it is played and for how many quarter notes altogether, exactly.
//! `cargo run --example scores -- FILE...`; `--spelling` tells for each MIDI file how many notes
//! are spelled as in the MusicXML file before it, `--times` how long each took to read.

use std::collections::BTreeMap;
use std::error::Error;
use std::io::Write;
use std::path::Path;
use std::time::Instant;

use concento::score::{LARGEST_SCORE, Score, read};

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments: Vec<String> = std::env::args().skip(1).collect();
    let mut out = std::io::stdout().lock();
    match arguments.first().map(String::as_str) {
        Some("--spelling") => {
            let files = arguments.split_off(1);
            let (pairs, _) = files.as_chunks::<2>();
            for [written, midi] in pairs {
                match (load(written), load(midi)) {
                    (Ok(score), Ok(guess)) => {
                        let (right, all) = spelled_alike(&score, &guess);
                        writeln!(out, "{written},{right},{all}")?;
                    }
                    (Err(error), _) | (_, Err(error)) => writeln!(out, "{written},{error}")?,
                }
            }
        }
        Some("--times") => {
            for file in arguments.split_off(1) {
                let begun = Instant::now();
                let score = load(&file)?;
                let took = begun.elapsed().as_secs_f64() * 1e3;
                let notes: usize = score.parts.iter().map(|part| part.notes.len()).sum();
                let (parts, bars) = (score.parts.len(), score.bars.all().len());
                writeln!(
                    out,
                    "{file}: {parts} parts, {bars} bars, {notes} notes, {took:.1} ms"
                )?;
            }
        }
        _ => {
            let mut table = csv::Writer::from_writer(out);
            table.write_record(["file", "part", "note", "count", "quarters"])?;
            for file in arguments {
                match load(&file) {
                    Ok(score) => sums(&mut table, &file, &score)?,
                    Err(error) => {
                        table.write_record([&file, "error", &error.to_string(), "", ""])?;
                    }
                }
            }
            table.flush()?;
        }
    }
    Ok(())
}

fn load(file: &str) -> Result<Score, Box<dyn Error>> {
    let path = Path::new(file);
    if path.metadata()?.len() > LARGEST_SCORE {
        return Err("too large".into());
    }
    let name = path.file_stem().unwrap_or_default().to_string_lossy();
    Ok(read(&std::fs::read(path)?, &name)?)
}

/// A row for each note of each part; parts are numbered, as others name them otherwise.
fn sums<W: Write>(
    table: &mut csv::Writer<W>,
    file: &str,
    score: &Score,
) -> Result<(), Box<dyn Error>> {
    for (index, part) in score.parts.iter().enumerate() {
        let mut sums = BTreeMap::new();
        for note in &part.notes {
            let key = (note.note.key_number(), note.note.ascii());
            let (count, ticks) = sums.entry(key).or_insert((0, 0));
            *count += 1;
            *ticks += (note.end - note.onset).get();
        }
        for ((_, note), (count, ticks)) in sums {
            let quarters = fraction(ticks, score.bars.ticks_per_quarter());
            table.write_record([
                file,
                &(index + 1).to_string(),
                &note,
                &count.to_string(),
                &quarters,
            ])?;
        }
    }
    Ok(())
}

/// In lowest terms, as other languages write it: "37/2", "5".
fn fraction(above: u64, below: u64) -> String {
    let (mut common, mut rest) = (above, below);
    while rest > 0 {
        (common, rest) = (rest, common % rest);
    }
    match below / common {
        1 => (above / common).to_string(),
        below => format!("{}/{below}", above / common),
    }
}

/// How many notes that both have at the same time on the same key have the same name in both.
fn spelled_alike(written: &Score, guessed: &Score) -> (usize, usize) {
    let notes = |score: &Score| {
        let mut names = BTreeMap::new();
        for note in score.parts.iter().flat_map(|part| &part.notes) {
            // To a thousandth, as MIDI files round triplets.
            let onset = (score.bars.quarters(note.onset) * 1000.0).round() as i64;
            names.insert((onset, note.note.key_number()), note.note.ascii());
        }
        names
    };
    let (written, guessed) = (notes(written), notes(guessed));
    let pairs = || {
        guessed
            .iter()
            .filter_map(|(key, name)| Some((written.get(key)?, name)))
    };
    (
        pairs().filter(|(one, other)| one == other).count(),
        pairs().count(),
    )
}
