//! Sizes that are only claimed, depths that no file needs, and what opening would wait for.

use std::fs;
use std::io::Write;
use std::path::Path;

use crate::program::{program_under, run_in, said};

/// Exit code, stdout and stderr of a run that may have 400 MB of addresses, of which the program's
/// threads take a part.
#[cfg(target_os = "linux")]
fn run_within(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    let mut program = program_under("ulimit -v 400000");
    said(program.current_dir(folder).args(arguments))
}

/// Such a run ends with this code and says this, and neither it nor the system has failed.
#[cfg(target_os = "linux")]
fn within(folder: &Path, arguments: &[&str], code: i32, part: &str) {
    let (found, out, errors) = run_within(folder, arguments);
    assert_eq!(found, code, "{arguments:?}: {errors}");
    assert!(errors.contains(part), "{arguments:?}: {errors}");
    for failed in ["its own fault", "memory allocation", "overflowed its stack"] {
        assert!(!errors.contains(failed), "{arguments:?}: {errors}");
    }
    assert!(out.len() < 100_000, "{arguments:?}");
}

#[cfg(target_os = "linux")]
#[test]
fn claimed_sizes_of_recordings_cost_no_memory() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, bytes: &[u8]| fs::write(folder.path().join(name), bytes).unwrap();
    let analyse = |name: &str, code: i32, part: &str| {
        within(folder.path(), &["analyse", name], code, part);
    };
    let wav = |riff: &[u8; 4], extra: &[u8], claimed: u32, bytes_per_second: u32| {
        let mut wav = riff.to_vec();
        wav.extend(u32::MAX.to_le_bytes());
        wav.extend(b"WAVE");
        wav.extend(extra);
        wav.extend(b"fmt \x10\0\0\0\x01\0\x01\0\x80\xbb\0\0");
        wav.extend(bytes_per_second.to_le_bytes());
        wav.extend(b"\x02\0\x10\0data");
        wav.extend(claimed.to_le_bytes());
        wav.extend(vec![0; 20_000]);
        wav
    };
    // What is there is heard, and told to be all.
    let breaks_off = "breaks off at 0:00.2";
    write("two.wav", &wav(b"RIFF", b"", 2_147_483_646, 96_000));
    analyse("two.wav", 0, breaks_off);
    write("four.wav", &wav(b"RIFF", b"", u32::MAX - 1, u32::MAX));
    analyse("four.wav", 0, breaks_off);
    let mut ds64 = b"ds64\x1c\0\0\0".to_vec();
    ds64.extend((1_u64 << 60).to_le_bytes().repeat(3));
    ds64.extend([0; 4]);
    write("long.wav", &wav(b"RF64", &ds64, u32::MAX, 96_000));
    analyse("long.wav", 0, breaks_off);
    write(
        "list.wav",
        b"RIFF\xff\xff\xff\xffWAVELIST\xfe\xff\xff\xff....",
    );
    analyse("list.wav", 1, "it ends within its header");
    // FLAC: a block of metadata, an application's, of 16 MB; then a picture that claims 4 GB.
    let flac = fs::read("tests/fixtures/tone.flac").unwrap();
    let (head, sound) = flac.split_at(42);
    let mut streaminfo = head.to_vec();
    streaminfo[4] &= 0x7f;
    let with = |block: &[u8]| [&streaminfo, block, sound].concat();
    write("block.flac", &with(b"\x02\xff\xff\xff...."));
    analyse("block.flac", 1, "cannot be played");
    let mut picture = b"\x06\0\0\x20\0\0\0\x03\xff\xff\xff\xff".to_vec();
    picture.resize(4 + 32, 0xff);
    write("picture.flac", &with(&picture));
    let mut comment = b"\x04\0\0\x10".to_vec();
    comment.extend([0xff; 16]);
    write("comment.flac", &with(&comment));
    for name in ["picture.flac", "comment.flac"] {
        let (code, _, errors) = run_within(folder.path(), &["analyse", name]);
        assert!(matches!(code, 0 | 1), "{name}: {errors}");
    }
    // An ID3 tag of 256 MB before nothing, and a Vorbis comment of 4 GB.
    write(
        "tag.mp3",
        b"ID3\x04\0\0\x7f\x7f\x7f\x7fTALB\x7f\x7f\x7f\x7f\0\0",
    );
    analyse("tag.mp3", 1, "cannot be played");
    let mut ogg = fs::read("tests/fixtures/tone.ogg").unwrap();
    let comment = ogg
        .windows(7)
        .position(|part| part == b"\x03vorbis")
        .unwrap();
    ogg[comment + 7..comment + 11].fill(0xff);
    write("comment.ogg", &ogg);
    analyse("comment.ogg", 1, "cannot be played");
}

#[cfg(target_os = "linux")]
#[test]
fn claimed_sizes_and_depths_of_scores_cost_no_memory() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, bytes: &[u8]| fs::write(folder.path().join(name), bytes).unwrap();
    let plan = |name: &str, part: &str| within(folder.path(), &["plan", name], 1, part);
    let deep = [
        "<score-partwise>".to_owned(),
        "<part>".repeat(10_000),
        "</part>".repeat(10_000),
        "</score-partwise>".to_owned(),
    ];
    write("deep.xml", deep.concat().as_bytes());
    plan("deep.xml", "nested deeper");
    write("open.xml", "<a>".repeat(1_000_000).as_bytes());
    plan("open.xml", "nested deeper");
    let entity = |n: u32| format!("<!ENTITY e{n} '&e{};&e{};'>", n - 1, n - 1);
    let bomb = (1..30).map(entity).collect::<Vec<_>>().concat();
    let bomb =
        format!("<!DOCTYPE x [<!ENTITY e0 'ha'>{bomb}]><score-partwise>&e29;</score-partwise>");
    write("bomb.xml", bomb.as_bytes());
    plan("bomb.xml", "declares an entity");
    // A track that claims 4 GB, and an event that claims 2^28 bytes.
    let header = b"MThd\0\0\0\x06\0\x01\0\x01\0\x60";
    write(
        "track.mid",
        &[&header[..], b"MTrk\xff\xff\xff\xff\0\x90\x3e\x40"].concat(),
    );
    plan("track.mid", "MIDI");
    let event = b"MTrk\0\0\0\x0c\0\xff\x03\xff\xff\xff\x7f\0\xff\x2f\0\0";
    write("event.mid", &[&header[..], event].concat());
    plan("event.mid", "MIDI");
    let mut many = b"MThd\0\0\0\x06\0\x01\xff\xff\0\x60".to_vec();
    many.extend(b"MTrk\0\0\0\x04\0\xff\x2f\0".repeat(65_535));
    write("tracks.mid", &many);
    plan("tracks.mid", "tracks");
}

/// An archive of these files, packed.
fn archive(files: &[(&str, &[u8])]) -> Vec<u8> {
    let mut archive = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for (name, bytes) in files {
        archive
            .start_file(*name, zip::write::SimpleFileOptions::default())
            .unwrap();
        archive.write_all(bytes).unwrap();
    }
    archive.finish().unwrap().into_inner()
}

#[cfg(target_os = "linux")]
#[test]
fn packed_scores_that_burst_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, bytes: &[u8]| fs::write(folder.path().join(name), bytes).unwrap();
    let plan = |name: &str, part: &str| within(folder.path(), &["plan", name], 1, part);
    let container: &[u8] =
        b"<container><rootfiles><rootfile full-path='s.xml'/></rootfiles></container>";
    let container = ("META-INF/container.xml", container);
    // 150 MB of blanks in 150 kB; one that holds another; and a container that never ends.
    let blanks = vec![b' '; 150_000_000];
    write("blanks.mxl", &archive(&[container, ("s.xml", &blanks)]));
    plan("blanks.mxl", "larger than 128 MB");
    let inner = archive(&[container, ("s.xml", b"<score-partwise/>")]);
    write("nested.mxl", &archive(&[container, ("s.xml", &inner)]));
    plan("nested.mxl", "is not in UTF-8");
    write(
        "long.mxl",
        &archive(&[("META-INF/container.xml", &blanks[..10_000_000])]),
    );
    plan("long.mxl", "does not say which of its files is the score");
    // A name that leads elsewhere is looked for in the archive alone.
    let outside: &[u8] = b"<container><rootfile full-path='../../../etc/passwd'/></container>";
    write(
        "outside.mxl",
        &archive(&[("META-INF/container.xml", outside)]),
    );
    plan("outside.mxl", "passwd");
    // The directory claims that a file has 4 GB.
    let mut claims = archive(&[container, ("s.xml", b"<score-partwise/>")]);
    let last = claims
        .windows(4)
        .rposition(|part| part == b"PK\x01\x02")
        .unwrap();
    claims[last + 24..last + 28].fill(0xfe);
    write("claims.mxl", &claims);
    within(
        folder.path(),
        &["plan", "claims.mxl"],
        1,
        "concento: 'claims.mxl'",
    );
}

#[cfg(target_os = "linux")]
#[test]
fn long_and_deep_files_of_our_own_forms_cost_no_memory() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| fs::write(folder.path().join(name), text).unwrap();
    for (place, open) in ["(", "[", "{1:", "Some(", "A(", "(a:", "/*", "-", "r#\""]
        .into_iter()
        .enumerate()
    {
        let deep = open.repeat(900_000 / open.len());
        for (kind, before) in [
            ("bare", ""),
            ("title", "(version: 1, title: "),
            ("temperament", "(version: 1, title: \"x\", temperament: "),
            ("list", "(version: 1, temperaments: ["),
            ("exercises", "(version: 1, exercises: [(name: "),
            ("unknown", "(version: 1, unknown: "),
            ("keys", "(version: 1, keys: "),
        ] {
            let name = format!("{kind}{place}.ron");
            write(&name, &format!("{before}{deep}"));
            // Each form is given to every reader of it, which says where it stopped.
            let place = format!("{name}:1:");
            let commands: &[&[&str]] = match kind {
                "temperament" => &[&["rehearse", &name], &["rehearse", "--plan", &name]],
                "list" => &[&["temperaments", "--file", &name]],
                "exercises" => &[&["practise", "--list", "--exercises", &name]],
                "keys" | "unknown" => &[&["setup", "--help"]],
                _ => &[
                    &["rehearse", &name],
                    &["rehearse", "--plan", &name],
                    &["temperaments", "--file", &name],
                ],
            };
            for command in commands {
                if command[1] != "--help" {
                    within(folder.path(), command, 1, &place);
                }
            }
            let path = folder.path().join(&name);
            let error = concento::settings::load_from(&path)
                .unwrap_err()
                .to_string();
            assert!(error.contains(&place), "{error}");
        }
        write(
            "deep.session",
            &format!("(version: 1, journal: \"concento\")\n{}\n", &deep[..60_000]),
        );
        within(folder.path(), &["report", "deep.session"], 0, "");
        write(
            "head.session",
            &format!("(version: 1, x: {}\n", &deep[..60_000]),
        );
        within(
            folder.path(),
            &["report", "head.session"],
            1,
            "is no session",
        );
    }
    // Files with holes, which take no room on the disk: none of it is held.
    let hole = |name: &str, megabytes: u64| {
        let mut file = fs::File::create(folder.path().join(name)).unwrap();
        file.write_all(b"(version: 1, journal: \"concento\")\n")
            .unwrap();
        file.set_len(megabytes * 1_000_000).unwrap();
    };
    hole("line.session", 500);
    within(
        folder.path(),
        &["report", "line.session"],
        1,
        "larger than 400 MB",
    );
    hole("line.session", 300);
    within(folder.path(), &["sessions", "."], 0, "");
    hole("large.ron", 3_000);
    within(
        folder.path(),
        &["rehearse", "large.ron"],
        1,
        "larger than 1 MB",
    );
    hole("large.mid", 3_000);
    within(
        folder.path(),
        &["plan", "large.mid"],
        1,
        "larger than 32 MB",
    );
    within(
        folder.path(),
        &["retune", "--into", "large.mid", "-o", "x.mid"],
        1,
        "larger than 64 MB",
    );
}

/// What opening would wait for.
#[cfg(unix)]
#[test]
fn pipes_are_not_waited_for() {
    let folder = tempfile::tempdir().unwrap();
    let made = std::process::Command::new("mkfifo")
        .arg(folder.path().join("pipe"))
        .status()
        .unwrap();
    assert!(made.success());
    fs::create_dir(folder.path().join("folder")).unwrap();
    for name in ["pipe", "folder", "/dev/zero"] {
        for arguments in [
            &["rehearse", name][..],
            &["rehearse", "--plan", name],
            &["record", name, "--session", "x.session"],
            &["analyse", name],
            &["practise", "--list", "--exercises", name],
            &["temperaments", "--file", name],
            &["plan", name],
            &["report", name],
            &["retune", "-o", "x.mid", "--into", name],
        ] {
            let (code, _, errors) = run_in(folder.path(), arguments);
            assert!(matches!(code, 1 | 2), "{arguments:?}: {errors}");
            assert!(errors.contains(name), "{arguments:?}: {errors}");
        }
    }
}
