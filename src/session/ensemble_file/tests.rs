use super::*;
use proptest::prelude::*;

const HEAD: &str = r#"(
    version: 1,
    title: "Test",
    pitch: (a4_hz: 415.0),
    temperament: "sixth-comma",
    trumpets: (key: "D"),
"#;

fn read(text: &str) -> Result<LoadedEnsemble, FileError> {
    read_ensemble(text, Path::new("band.ron"))
}

/// Reads a file whose channels (from line 7) are `channels`.
fn channels(channels: &str) -> Result<LoadedEnsemble, FileError> {
    read(&format!("{HEAD}    channels: [\n{channels}\n    ],\n)"))
}

/// Reads a sound file with one line of its head replaced.
fn with(old: &str, new: &str) -> Result<LoadedEnsemble, FileError> {
    assert!(HEAD.contains(old), "{old}");
    let channel = r#"(name: "Violin", instrument: "violin", input: 1)"#;
    read(&format!("{}channels: [{channel}])", HEAD.replace(old, new)))
}

fn check(outcome: Result<LoadedEnsemble, FileError>, expected: &str) {
    let message = outcome.unwrap_err().to_string();
    assert_eq!(message, expected);
}

#[test]
fn the_example_loads() {
    let loaded = read(include_str!("../../../assets/ensemble.ron")).unwrap();
    let ensemble = loaded.ensemble;
    assert!(ensemble.channels.len() >= 6);
    assert!((ensemble.tuning.standard().a4().get() - 415.0).abs() < 1e-9);
    assert_eq!(ensemble.tuning.scale().temperament().name, "sixth-comma");
    assert_eq!(ensemble.tuning.series().key(), NoteName::D);
    assert!(
        ensemble
            .channels
            .iter()
            .any(|channel| channel.chain.is_some())
    );
}

#[test]
fn everything_that_may_be_said_is_understood() {
    let text = HEAD
        .replace("415.0)", "466, kept_by: \"C\")")
        .replace(
            "\"sixth-comma\"",
            "(name: \"mine\", title: \"Mine\", fifths: Regular(\"-1/7 SC\"))",
        )
        .replace(
            "(key: \"D\")",
            "(key: \"C\", anchor: Fundamental(hz: 69.5)), chain: \"Ab-C#\"",
        );
    let loaded = read(&format!(
        "{text} channels: [\n\
         (name: \"Trumpet I\", instrument: \"natural-trumpet\", input: 3, visible: false),\n\
         (name: \"Violin\", instrument: \"violin\", input: 1, chain: \"Ab-D#\"),\n])"
    ))
    .unwrap();
    let ensemble = loaded.ensemble;
    assert_eq!(ensemble.tuning.standard().kept(), NoteName::C);
    assert_eq!(ensemble.tuning.scale().temperament().title, "Mine");
    assert_eq!(ensemble.tuning.scale().chain(), "Ab-C#".parse().unwrap());
    assert!((ensemble.tuning.series().fundamental().get() - 69.5).abs() < 1e-9);
    let [trumpet, violin] = &ensemble.channels[..] else {
        panic!("{:?}", ensemble.channels)
    };
    assert_eq!((trumpet.input, trumpet.visible), (3, false));
    assert_eq!(violin.chain, Some("Ab-D#".parse().unwrap()));
    assert_eq!(loaded.temperaments.last().unwrap().name, "mine");
}

#[test]
fn faults_of_channels_are_found_where_they_stand() {
    check(
        channels(
            "(name: \"Violin I\", instrument: \"violin\", input: 2),\n\
             (name: \"Violin II\", instrument: \"violin\", input: 2),",
        ),
        "band.ron:9:52: input 2 already belongs to 'Violin I': give 'Violin II' another input",
    );
    check(
        channels(
            "(name: \"Violin\", instrument: \"violin\", input: 1),\n\
             (name: \"Violin\", instrument: \"violin\", input: 2),",
        ),
        "band.ron:9:49: two channels are called 'Violin': give one of them another name, such as \
         'Violin II'",
    );
    let one = |name: &str, instrument: &str, more: &str| {
        channels(&format!(
            "(name: \"{name}\", instrument: \"{instrument}\", {more}),"
        ))
    };
    check(
        one("Violin", "violin", "input: 0"),
        "band.ron:8:48: '0' is no input: inputs are counted from 1 to 32",
    );
    check(
        one("Violin", "violin", "input: 33"),
        "band.ron:8:49: '33' is no input: inputs are counted from 1 to 32",
    );
    check(
        one("Violin", "violin", "input: -1"),
        "band.ron:8:49: '-1' is no input: inputs are counted from 1 to 32",
    );
    check(
        one("Violin", "violn", "input: 1"),
        "band.ron:8:37: no instrument is called 'violn': did you mean 'violin'?",
    );
    check(
        one(" ", "violin", "input: 1"),
        "band.ron:8:11: this text is empty: give a name",
    );
    check(
        one("\u{1b}[31mred", "violin", "input: 1"),
        "band.ron:8:18: '\\u{1b}[31mred' holds control characters: remove them",
    );
    check(
        one("Violin", "violin", "inptu: 1"),
        "band.ron:8:45: 'inptu' is not known here: write 'name', 'instrument', 'input', \
         'visible', 'chain' or 'players'",
    );
    check(
        one("Violins", "violin", "input: 1, players: 9"),
        "band.ron:8:61: '9' players cannot share an input: 1 to 8 can, each with a voice that can \
         be told from the others",
    );
    check(
        one("Violins", "violin", "input: 1, players: 0"),
        "band.ron:8:61: '0' players cannot share an input: 1 to 8 can, each with a voice that can \
         be told from the others",
    );
    check(
        one("Violin", "violin", "input: 1, chain: \"C-G\""),
        "band.ron:8:62: the chain C to G has 2 notes: a keyboard's has 12 (Eb to G#), a player's \
         12 to 21, and the first note is the flattest",
    );
    check(
        one("Violin", "violin", "visible: true"),
        "band.ron:8:53: 'input' is missing before this place: add it",
    );
    check(
        channels(""),
        "band.ron:9:5: there are no channels: add one, such as (name: \"Violin\", instrument: \
         \"violin\", input: 1)",
    );
}

#[test]
fn faults_of_the_head_are_found_where_they_stand() {
    check(
        with("\"sixth-comma\"", "\"sixth-coma\""),
        "band.ron:5:30: no temperament is called 'sixth-coma': did you mean 'sixth-comma'?",
    );
    check(
        with("415.0", "4150"),
        "band.ron:4:24: A4 at 4150 Hz is out of reach: give 350 to 500 (392, 415, 440 and 466 \
         are usual)",
    );
    check(
        with("415.0", "415.0, kept_by: \"H\""),
        "band.ron:4:39: 'H' is no note name: write a letter A to G with up to two accidentals \
         (F#, B\u{266d}, Ebb)",
    );
    check(
        with("version: 1", "version: 7"),
        "band.ron:2:15: version '7' is not known: this program reads version 1, so write 1 or \
         use the program that wrote the file",
    );
    check(
        with(
            "(key: \"D\")",
            "(key: \"D\", anchor: PartialSounds(partial: 8, note: \"C5\"))",
        ),
        "band.ron:6:72: partial 8 of a trumpet in D does not sound C5: it lies near D (in one \
         octave or another)",
    );
    check(
        with(
            "(key: \"D\")",
            "(key: \"D\", anchor: Fundamental(hz: 554.0))",
        ),
        "band.ron:6:57: '554' Hz is no fundamental of a trumpet: it lies within 30 to 150, so \
         divide the frequency you measured by the number of its partial",
    );
    check(
        with(
            "(key: \"D\")",
            "(key: \"D\", anchor: PartialSounds(partial: 25, note: \"C5\"))",
        ),
        "band.ron:6:59: '25' is no partial: they run from 1 to 24",
    );
    check(
        with(
            "\"sixth-comma\"",
            "(name: \"just\", title: \"Mine\", fifths: Regular(\"0\"))",
        ),
        "band.ron:5:68: 'just' comes with the program: give yours another name (my-just)",
    );
    check(
        with("    title: \"Test\",\n", ""),
        "band.ron:6:61: 'title' is missing before this place: add it",
    );
}

#[test]
fn players_who_share_an_input_are_counted() {
    let loaded = channels(
        "(name: \"Trumpets\", instrument: \"natural-trumpet\", input: 1, players: 3),\n\
         (name: \"Violin\", instrument: \"violin\", input: 2),\n\
         (name: \"Room\", instrument: \"room\", input: 3),\n\
         (name: \"Continuo\", instrument: \"section\", input: 4, players: 1),",
    )
    .unwrap();
    let players: Vec<(usize, bool)> = loaded
        .ensemble
        .channels
        .iter()
        .map(|channel| (channel.players, channel.is_shared()))
        .collect();
    assert_eq!(players, [(3, true), (1, false), (8, true), (1, false)]);
    assert!(
        default_ensemble(2)
            .channels
            .iter()
            .all(|channel| !channel.is_shared())
    );
}

#[test]
fn a_temperaments_file_is_looked_for_beside_the_ensemble() {
    let folder = tempfile::tempdir().unwrap();
    let own = folder.path().join("own.ron");
    let band = folder.path().join("band.ron");
    let text = HEAD.replace(
        "\"sixth-comma\"",
        "\"mine\", temperaments_file: \"own.ron\"",
    ) + r#"channels: [(name: "Room", instrument: "room", input: 1)])"#;
    std::fs::write(&band, text).unwrap();
    let missing = load_ensemble(&band).unwrap_err().to_string();
    assert!(
        missing.starts_with(&format!("cannot read '{}' (", own.display())),
        "{missing}"
    );
    std::fs::write(&own, "(version: 1, temperaments: [(name: \"mine\")])").unwrap();
    let faulty = load_ensemble(&band).unwrap_err().to_string();
    let expected = format!("{}:1:42: 'title' is missing", own.display());
    assert!(faulty.starts_with(&expected), "{faulty}");
    let good =
        r#"(version: 1, temperaments: [(name: "mine", title: "Mine", fifths: Regular("0"))])"#;
    std::fs::write(&own, good).unwrap();
    let loaded = load_ensemble(&band).unwrap();
    assert_eq!(loaded.ensemble.tuning.scale().temperament().title, "Mine");
}

#[test]
fn what_is_no_text_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("band.ron");
    std::fs::write(&path, [0xff, 0xfe, 0x00]).unwrap();
    assert!(matches!(
        load_ensemble(&path),
        Err(FileError::NotText { .. })
    ));
    std::fs::write(&path, vec![b' '; 1_000_001]).unwrap();
    assert!(matches!(
        load_ensemble(&path),
        Err(FileError::TooLarge { .. })
    ));
    // A byte order mark is no fault.
    let marked = format!("\u{feff}{}", include_str!("../../../assets/ensemble.ron"));
    std::fs::write(&path, marked).unwrap();
    assert!(load_ensemble(&path).is_ok());
    assert!(matches!(
        load_ensemble(folder.path()),
        Err(FileError::NotAFile { .. })
    ));
}

#[test]
fn without_a_file_every_input_has_a_channel() {
    let ensemble = default_ensemble(4);
    let names: Vec<&str> = ensemble.channels.iter().map(|c| c.name.as_str()).collect();
    assert_eq!(names, ["Input 1", "Input 2", "Input 3", "Input 4"]);
    assert_eq!(ensemble.channels[3].input, 4);
    let tuning = ensemble.tuning;
    assert_eq!(tuning.scale().temperament().name, "sixth-comma");
    // The tonic of trumpets in D at 415: D5 is 498.371 + 3.259 cents ... above A4; a pure
    // fourth and a sixth of a comma, 501.629 cents.
    let d5 = tuning.series().fundamental().get() * 8.0;
    assert!(
        (d5 - 415.0 * 2_f64.powf(501.629 / 1200.0)).abs() < 1e-3,
        "{d5}"
    );
    assert_eq!(default_ensemble(0).channels.len(), 1);
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn a_spoilt_file_is_reported_or_read_but_never_breaks_the_reader(
        at in 0.0..1.0, removed in 0_usize..40, put_in in "[\\PC\n]{0,6}",
    ) {
        let mut text: Vec<char> = include_str!("../../../assets/ensemble.ron").chars().collect();
        let lines = text.iter().filter(|c| **c == '\n').count() + 7;
        let from = (at * text.len() as f64) as usize;
        let to = (from + removed).min(text.len());
        text.splice(from..to, put_in.chars());
        match read(&text.into_iter().collect::<String>()) {
            Ok(loaded) => prop_assert!(!loaded.ensemble.channels.is_empty()),
            Err(FileError::Content { fault, .. }) => {
                prop_assert!((1..=lines).contains(&fault.line) && fault.column >= 1);
                prop_assert!(!fault.message.is_empty());
                prop_assert!(!fault.message.contains(|c: char| c.is_control()), "{}", fault);
            }
            // A temperaments file that was uncommented by the damage is not there.
            Err(other) => prop_assert!(matches!(other, FileError::Read { .. }), "{}", other),
        }
    }
}
