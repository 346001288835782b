//! Files that are no scores, or mean harm: each is refused by name, soon and in little memory.

use std::io::Write;

use proptest::prelude::*;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use super::*;

const PLAIN: &str = "<score-partwise><part id='P'><measure number='1'><attributes><divisions>1</divisions>\
    </attributes><note><pitch><step>D</step><octave>5</octave></pitch><duration>1</duration></note>\
    </measure></part></score-partwise>";
const CONTAINER: &str =
    "<container><rootfiles><rootfile full-path='score.xml'/></rootfiles></container>";
const SONATA: &[u8] = include_bytes!("../../tests/data/scores/sonata.musicxml");
const PACKED: &[u8] = include_bytes!("../../tests/data/scores/sonata.mxl");
const MIDI: &[u8] = include_bytes!("../../tests/data/scores/sonata.mid");

fn check(bytes: &[u8], part: &str) {
    let error = read(bytes, "file").unwrap_err().to_string();
    assert!(error.contains(part), "{error}");
    assert!(
        error.len() < 400 && !error.contains(char::is_control),
        "{error}"
    );
}

fn packed(files: &[(&str, &[u8])]) -> Vec<u8> {
    let mut writer = ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
    for (name, content) in files {
        writer.start_file(*name, options).unwrap();
        writer.write_all(content).unwrap();
    }
    writer.finish().unwrap().into_inner()
}

#[test]
fn other_files_are_told_from_scores() {
    check(b"", "neither MusicXML nor a MIDI file");
    check(b"mutes, spare strings", "neither MusicXML");
    check(&[0x89, b'P', b'N', b'G', 0xff, 0x00], "neither MusicXML");
    check(b"<html><p/></html>", "it begins with 'html'");
    check(b"<a\x1b[2J/>", "it begins with 'a [2J'");
    check(b"<score-timewise/>", "export it as score-partwise");
    check(b"<opus/>", "one movement");
    check(b"<score-partwise/>", "no note sounds");
    check(&vec![b' '; LARGEST_SCORE as usize + 1], "larger than 32 MB");
}

#[test]
fn every_form_of_one_score_is_read_alike() {
    let plain = read(SONATA, "file").unwrap();
    assert_eq!(read(PACKED, "file").unwrap(), plain);
    let text = std::str::from_utf8(SONATA).unwrap();
    let mut utf16 = vec![0xff, 0xfe];
    utf16.extend(text.encode_utf16().flat_map(u16::to_le_bytes));
    assert_eq!(read(&utf16, "file").unwrap(), plain);
}

#[test]
fn entities_are_refused_before_they_grow() {
    let nested = (1..10).fold(String::new(), |before, n| {
        let inner = format!("&e{};", n - 1).repeat(10);
        before + &format!("<!ENTITY e{n} \"{inner}\">")
    });
    let nested =
        format!("<!DOCTYPE s [<!ENTITY e0 \"ha\">{nested}]><score-partwise>&e9;</score-partwise>");
    check(nested.as_bytes(), "declares an entity");
    let flat = format!(
        "<!DOCTYPE s [<!ENTITY e \"{}\">]><score-partwise>{}</score-partwise>",
        "x".repeat(100_000),
        "&e;".repeat(100_000)
    );
    check(flat.as_bytes(), "declares an entity");
    let fetched = "<!DOCTYPE s [<!ENTITY e SYSTEM \"file:///etc/passwd\">]><score-partwise>&e;</score-partwise>";
    check(fetched.as_bytes(), "declares an entity");
    check(
        b"<score-partwise><part>&e;</part></score-partwise>",
        "line 1, column 23: '&e;' is not known",
    );
}

#[test]
fn broken_text_is_named_by_its_place() {
    let check_text = |text: &str, part: &str| check(text.as_bytes(), part);
    check_text(
        &PLAIN[..PLAIN.len() / 2],
        "ends in the middle of the score, in line 1",
    );
    check_text(
        &PLAIN.replace("</note>", "</not>"),
        "'<note>' is closed by '</not>'",
    );
    check_text(
        &PLAIN.replace("<note>", "\n<note a='1' a='2'>"),
        "line 2, column ",
    );
    check_text(
        &PLAIN.replace("<note>", &"<note>".repeat(2_000_000)),
        "nested deeper",
    );
    let deep = format!(
        "<score-partwise>{}{}</score-partwise>",
        "<a>".repeat(1_000_000),
        "</a>".repeat(1_000_000)
    );
    check_text(&deep, "nested deeper");
}

#[test]
fn more_than_any_score_has_is_refused() {
    let note = &PLAIN[PLAIN.find("<note>").unwrap()..PLAIN.find("</measure>").unwrap()];
    let part = format!(
        "{}{}",
        "<part id='P'><measure><attributes><divisions>1</divisions></attributes>",
        note.repeat(9_000)
    );
    let parts = format!(
        "<score-partwise>{}</score-partwise>",
        format!("{part}</measure></part>").repeat(112)
    );
    // Too long for a plain file; what comes packed is read in the same way.
    let error = musicxml::read(&parts, "file").unwrap_err().to_string();
    assert!(error.contains("more than 1000000 notes"), "{error}");
    check(
        format!(
            "<score-partwise>{}</score-partwise>",
            "<part id='P'/>".repeat(501)
        )
        .as_bytes(),
        "more than 500 parts",
    );
    check(
        format!(
            "<score-partwise>{}</score-partwise>",
            "<part id='P'/>".repeat(1_000_000)
        )
        .as_bytes(),
        "parts and headings",
    );
    check(
        format!(
            "<score-partwise><part id='P'>{}</part></score-partwise>",
            "<measure/>".repeat(50_001)
        )
        .as_bytes(),
        "more than 50000 bars",
    );
    let odd = PLAIN.replace(
        "</attributes>",
        "</attributes><attributes><divisions>999999937</divisions></attributes>",
    );
    check(
        odd.replace("<divisions>1<", "<divisions>999999929<")
            .as_bytes(),
        "no common measure",
    );
    let numbered = PLAIN.replace("number='1'", &format!("number='{}'", "9".repeat(100_000)));
    let score = read(numbered.as_bytes(), "file").unwrap();
    assert_eq!(score.bars.all()[0].number, "999999999999");
}

#[test]
fn packed_files_are_opened_with_care() {
    let container = |name: &str| CONTAINER.replace("score.xml", name);
    let check_with = |container: &str, part: &str| {
        check(
            &packed(&[
                ("META-INF/container.xml", container.as_bytes()),
                ("score.xml", PLAIN.as_bytes()),
            ]),
            part,
        );
    };
    check(
        &packed(&[("score.xml", PLAIN.as_bytes())]),
        "does not say which",
    );
    check_with("<container/>", "does not say which");
    check_with("no xml", "does not say which");
    check_with(&"<a>".repeat(30_000), "does not say which");
    check_with(
        &container("../../etc/passwd"),
        "names '../../etc/passwd' as its score but holds no such",
    );
    check_with(&container("/etc/passwd"), "holds no such file");
    check_with(&container("other.xml"), "holds no such file");
    check_with(
        &container("META-INF/container.xml"),
        "it begins with 'container'",
    );
    let zeros = vec![b' '; LARGEST_UNPACKED as usize + 1];
    check(
        &packed(&[
            ("META-INF/container.xml", CONTAINER.as_bytes()),
            ("score.xml", &zeros),
        ]),
        "larger than 128 MB",
    );
    check(
        &packed(&[
            ("META-INF/container.xml", &zeros[..200_000]),
            ("score.xml", b""),
        ]),
        "does not say which",
    );
    let many: Vec<(String, &[u8])> = (0..2_000).map(|n| (format!("{n}"), &b""[..])).collect();
    let many: Vec<(&str, &[u8])> = many
        .iter()
        .map(|(name, content)| (name.as_str(), *content))
        .collect();
    check(&packed(&many), "holds 2000 files");
    check(&PACKED[..PACKED.len() / 2], "damaged");
    check(b"PK\x05\x06", "damaged");
}

#[test]
fn sizes_that_lie_do_not_help() {
    let mut archive = packed(&[
        ("META-INF/container.xml", CONTAINER.as_bytes()),
        ("score.xml", &vec![b' '; LARGEST_UNPACKED as usize + 1]),
    ]);
    // The last entry of the directory says that the score is ten bytes long, or 4 GB.
    let entry = archive
        .windows(4)
        .rposition(|window| window == b"PK\x01\x02")
        .unwrap();
    for stated in [10_u32, u32::MAX - 1] {
        archive[entry + 24..entry + 28].copy_from_slice(&stated.to_le_bytes());
        assert!(matches!(
            read(&archive, "file"),
            Err(ScoreError::Unpacked | ScoreError::Packed | ScoreError::Form)
        ));
    }
}

/// A MIDI file of one track with these events.
fn midi(format: u8, division: [u8; 2], events: &[u8]) -> Vec<u8> {
    let mut bytes = b"MThd\0\0\0\x06\0".to_vec();
    bytes.extend([format, 0, 1, division[0], division[1]]);
    bytes.extend(b"MTrk");
    bytes.extend((events.len() as u32 + 4).to_be_bytes());
    bytes.extend(events);
    bytes.extend(b"\0\xff\x2f\0");
    bytes
}

#[test]
fn midi_files_are_read_event_by_event() {
    // Title, 3/4, G major; a trumpet by running status, ended by velocity 0; percussion; a note
    // that is never ended.
    let events = b"\0\xff\x03\x03Air\0\xff\x58\x04\x03\x02\x18\x08\0\xff\x59\x02\x01\0\0\xc0\x38\
                   \0\x90\x4a\x40\x60\x4a\0\0\x4e\x40\x60\x4e\0\0\x99\x23\x40\0\x91\x37\x40\x60\x90\x4f\0";
    let score = read(&midi(0, [0, 96], events), "file").unwrap();
    assert_eq!(score.title, "Air");
    let parts: Vec<_> = score
        .parts
        .iter()
        .map(|part| (part.name.as_str(), part.notes.len()))
        .collect();
    assert_eq!(parts, [("Trumpet", 2), ("Part 2", 1)]);
    let last = score.parts[0].notes[1];
    assert_eq!(
        (last.note.ascii().as_str(), last.onset.get(), last.end.get()),
        ("F#5", 96, 192)
    );
    assert_eq!(score.parts[1].notes[0].end, Ticks::new(288));
    assert_eq!(score.signatures, [(Ticks::new(0), 1)]);
    assert_eq!(score.spelling, Spelling::Guessed);
    assert_eq!(score.remarks.len(), 3, "{:?}", score.remarks);
    assert_eq!(score.bars.all().len(), 1);
}

#[test]
fn a_midi_key_of_128_flats_is_passed_over() {
    // Found by fuzzing: there is no +128 in a byte.
    for (fifths, expected) in [
        (0x80, vec![]),
        (0xf9, vec![-7]),
        (0x07, vec![7]),
        (0x08, vec![]),
    ] {
        let mut events = vec![0, 0xff, 0x59, 2, fifths, 0];
        events.extend(b"\0\x90\x3c\x40\x60\x3c\0");
        let score = read(&midi(0, [0, 96], &events), "file").unwrap();
        let signatures = score.signatures.iter().map(|(_, fifths)| *fifths);
        assert_eq!(signatures.collect::<Vec<_>>(), expected, "{fifths:#x}");
    }
}

#[test]
fn midi_files_that_hold_no_score_are_refused() {
    let note = b"\0\x90\x3c\x40\x60\x3c\0";
    assert!(read(&midi(1, [0, 96], note), "file").is_ok());
    check(&midi(2, [0, 96], note), "format 2");
    check(&midi(0, [0xe8, 40], note), "SMPTE");
    // Found by fuzzing: the opposite of this many frames is no number of a byte.
    check(&midi(0, [0x80, 40], note), "SMPTE");
    check(&midi(0, [0, 0], note), "a quarter note has no ticks");
    check(&midi(0, [0, 96], b""), "no note sounds");
    check(
        &midi(
            0,
            [0, 96],
            b"\0\xff\x58\x04\0\x02\x18\x08\0\x90\x3c\x40\x60\x3c\0",
        ),
        "0 beats",
    );
    // A very long silence in the shortest bars.
    let mut long = b"\0\xff\x58\x04\x01\x07\x18\x08".to_vec();
    long.extend(b"\xff\xff\xff\x7f\xb0\x40\0".repeat(100));
    long.extend(note);
    check(&midi(0, [0, 96], &long), "more than 50000 bars");
    check(
        &midi(0, [0, 96], &b"\0\x90\x3c\x40\x01\x3c\0".repeat(1_100_000)),
        "notes",
    );
    check(&MIDI[..MIDI.len() / 2], "damaged or cut short");
    check(b"MThd", "damaged or cut short");
    let mut tracks = b"MThd\0\0\0\x06\0\x01\xff\xff\0\x60".to_vec();
    tracks.extend(b"MTrk\0\0\0\x04\0\xff\x2f\0".repeat(3_000));
    check(&tracks, "tracks");
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn no_bytes_break_the_reader(bytes in proptest::collection::vec(any::<u8>(), 0..400), form in 0_usize..5) {
        let heads: [&[u8]; 5] = [b"", b"MThd\0\0\0\x06\0\x01\0\x01\0\x60MTrk\0\0\x01\0", b"PK\x03\x04", b"<score-partwise>", b"\xff\xfe"];
        let all = [heads[form], &bytes].concat();
        let _ = read(&all, "file");
    }

    #[test]
    fn no_damage_breaks_the_reader(
        places in proptest::collection::vec((any::<proptest::sample::Index>(), any::<u8>()), 1..6),
        form in 0_usize..3,
    ) {
        let mut bytes = [SONATA, PACKED, MIDI][form].to_vec();
        for (place, byte) in places {
            let place = place.index(bytes.len());
            bytes[place] = byte;
        }
        if let Ok(score) = read(&bytes, "file") {
            for note in score.parts.iter().flat_map(|part| &part.notes) {
                prop_assert!(note.end > note.onset);
            }
        }
    }
}
