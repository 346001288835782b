use std::fs;
use std::path::Path;

use super::*;
use crate::cli::keeping::tests::plan;

/// A C major scale for a trumpet, as a MIDI file of one track: format 0, 96 ticks a quarter.
fn midi() -> Vec<u8> {
    let mut track = vec![0, 0xff, 0x03, 6];
    track.extend(b"Tromba");
    for key in [72, 74, 76, 79] {
        track.extend([0, 0x90, key, 64, 96, 0x80, key, 64]);
    }
    track.extend([0, 0xff, 0x2f, 0]);
    let mut file = b"MThd\0\0\0\x06\0\0\0\x01\0\x60MTrk".to_vec();
    file.extend((track.len() as u32).to_be_bytes());
    file.extend(track);
    file
}

fn settled(folder: &Path, scores: &str) -> Settled {
    let rest = format!(
        "temperament: \"vallotti\", trumpets: (key: \"C\", anchor: PartialSounds(partial: 12, \
         note: \"G5\")), trumpet_parts: \"*\", pieces: [{scores}]"
    );
    plan(folder, &rest).settled
}

#[test]
fn scores_are_opened_again_and_missing_ones_told() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("here.mid"), midi()).unwrap();
    fs::create_dir(folder.path().join("folder.mid")).unwrap();
    let all = session::temperaments(None).unwrap();
    let check = |scores: &str, pieces: usize, told: Option<&str>| {
        let outlook = outlook(&settled(folder.path(), scores), &all);
        assert_eq!(outlook.told.as_deref(), told, "{scores}");
        let planning = outlook.planning;
        let found = planning.as_ref().map_or(0, |p| p.programme.pieces().len());
        assert_eq!(found, pieces, "{scores}");
        if let Some(planning) = planning {
            assert_eq!(planning.scores.len(), pieces);
            assert_eq!(planning.choice.anchor.number(), 12);
            let key = planning.programme.pieces()[0].key().unwrap();
            assert_eq!(key.name, crate::units::NoteName::C);
        }
    };
    let here = "(score: \"here.mid\", title: \"T\", trumpets: (key: \"C\"))";
    let gone = "(score: \"gone.mid\", title: \"T\")";
    let odd = "(score: \"folder.mid\", title: \"T\")";
    check(here, 1, None);
    check(
        &format!("{gone}, {here}"),
        1,
        Some("the score 'gone.mid' of the plan cannot be read"),
    );
    check(
        &format!("{gone}, {odd}"),
        0,
        Some("2 scores of the plan cannot be read"),
    );
    check("", 0, None);
}

#[test]
fn what_cannot_be_told_apart_any_more_is_told() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("here.mid"), midi()).unwrap();
    let here = "(score: \"here.mid\", title: \"T\")";
    let rest = format!("temperament: \"vallotti\", trumpet_parts: \"Clarino\", pieces: [{here}]");
    let settled = plan(folder.path(), &rest).settled;
    let outlook = outlook(&settled, &session::temperaments(None).unwrap());
    assert_eq!(outlook.planning, None);
    let told = outlook.told.unwrap();
    assert!(told.starts_with("the plan cannot be looked at"), "{told}");
}
