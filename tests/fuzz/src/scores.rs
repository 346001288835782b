//! Scores: read, and planned from where they are not too long for that.

use std::io::{Cursor, Write};
use std::path::PathBuf;

use concento::midi_tuning::{Fineness, KeyTuning, tuned_file};
use concento::plan::{Casting, Choice, Programme, Settled, Weights};
use concento::report::PlanReport;
use concento::score::{Score, read};
use concento::session;
use concento::tuning::{Chain, Partial, Scale};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use super::harmless;

/// Notes of a score that is planned from.
const MOST_NOTES: usize = 600;

/// Nobody but those whose names are known.
pub(super) fn casting() -> Casting {
    Casting {
        known: session::part_names().to_vec(),
        ..Casting::default()
    }
}

/// A score in MusicXML.
pub fn musicxml(bytes: &[u8]) {
    // Other forms have targets of their own.
    if !bytes.starts_with(b"PK") && !bytes.starts_with(b"MThd") {
        scored(bytes);
    }
}

/// A packed score: an archive as it is; or the container and the score of one that is packed here,
/// as checksums would keep any change out.
pub fn mxl(bytes: &[u8]) {
    if bytes.starts_with(b"PK") {
        return scored(bytes);
    }
    let cut = bytes.iter().position(|byte| *byte == 0);
    let (container, score) = match cut {
        Some(cut) => (&bytes[..cut], &bytes[cut + 1..]),
        None => (bytes, &b""[..]),
    };
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    let stored = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
    for (name, content) in [("META-INF/container.xml", container), ("score.xml", score)] {
        archive
            .start_file(name, stored)
            .expect("memory can be written");
        archive.write_all(content).expect("memory can be written");
    }
    scored(archive.finish().expect("memory can be written").get_ref());
}

/// A MIDI file, read as a score and tuned.
pub fn midi(bytes: &[u8]) {
    let temperaments = session::temperaments(None).expect("they are shipped");
    let standard = session::default_ensemble(1).tuning.standard();
    let scale = Scale::new(&temperaments[1], Chain::usual(), standard);
    match tuned_file(bytes, &KeyTuning::of(&scale, Fineness::Full)) {
        Ok(tuned) => {
            let of = |bytes| read(bytes, "x").ok().map(|score| score.parts);
            assert_eq!(of(bytes), of(&tuned), "a tuning changes no note");
        }
        Err(error) => harmless(&error.to_string()),
    }
    if bytes.starts_with(b"MThd") {
        scored(bytes);
    }
}

fn scored(bytes: &[u8]) {
    match read(bytes, "score") {
        Ok(score) => planned(score),
        Err(error) => harmless(&error.to_string()),
    }
}

fn planned(score: Score) {
    harmless(&score.title);
    for part in &score.parts {
        harmless(&part.name);
        assert!(part.notes.iter().all(|note| note.onset < note.end));
    }
    for remark in &score.remarks {
        harmless(remark);
    }
    let _ = score.bars.place(score.end());
    let notes: usize = score.parts.iter().map(|part| part.notes.len()).sum();
    if notes > MOST_NOTES {
        return;
    }
    let casting = casting();
    let programme = match Programme::new(vec![score], &casting, None) {
        Ok(programme) => programme,
        Err(error) => return harmless(&error.to_string()),
    };
    let all = session::temperaments(None).expect("they are shipped");
    let choice = Choice {
        temperament: all[0].clone(),
        chain: Chain::usual(),
        standard: session::default_ensemble(1).tuning.standard(),
        anchor: Partial::new(8).expect("the eighth is a partial"),
    };
    let weights = Weights::default();
    let report = PlanReport::new(&programme, &all[..2], &choice, weights, || {});
    harmless(&report.to_table());
    harmless(&report.to_json());
    let scores = [PathBuf::from("/nonexistent/score.xml")];
    let settled = Settled::new(
        "Title",
        &programme,
        &scores,
        &casting,
        report.chosen(),
        &weights,
    );
    let folder = std::path::Path::new("/nonexistent");
    let written = session::plan_text(&settled, folder);
    let again = session::read_plan(&written, &folder.join("plan.ron"));
    again.unwrap_or_else(|error| panic!("what is written can be read: {error}: {written}"));
}
