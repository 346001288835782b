//! Invented machines and what is said of them.

use super::*;
use crate::sound::device::{Direction, Offer, Survey};

fn offer(direction: Direction) -> Offer {
    Offer {
        direction,
        id: "alsa:default".to_owned(),
        description: "Stage Box".to_owned(),
        is_default: true,
        channels: (1, 8),
        rates_hz: (44_100, 96_000),
        formats: vec!["i16".to_owned(), "f32".to_owned()],
    }
}

const CARDS: Cards = Cards {
    nodes: Nodes::Usable,
    in_audio_group: true,
    server: None,
    has_bridge: false,
};

fn heard(levels_dbfs: &[Option<f64>]) -> Hearing {
    Hearing::Heard(Heard {
        name: "Stage Box".to_owned(),
        rate_hz: 48_000,
        levels_dbfs: levels_dbfs.to_vec(),
    })
}

/// A machine on which everything is as it should be.
fn ready() -> Facts {
    let folder = |purpose| Folder {
        purpose,
        path: "/home/leader/there".to_owned(),
        state: FolderState::Writable,
        free_bytes: Some(80_000_000_000),
    };
    Facts {
        machine: Machine {
            version: "1.0.0".to_owned(),
            system: "linux x86_64".to_owned(),
            n_cores: Some(4),
        },
        sound: Sound {
            survey: Some(Survey {
                hosts: vec!["alsa".to_owned()],
                offers: vec![offer(Direction::Input), offer(Direction::Output)],
                closed: 0,
            }),
            cards: Some(CARDS),
            hearing: heard(&[Some(-38.2), Some(-41.0)]),
        },
        terminal: Terminal {
            is_terminal: true,
            size: Some((100, 30)),
            least: (60, 10),
            term: "xterm-256color".to_owned(),
            colorterm: "truecolor".to_owned(),
            no_color: false,
            colours: Colours::Many,
            locale: Some(("LANG".to_owned(), "de_DE.UTF-8".to_owned())),
            inside: None,
            is_always_utf8: false,
        },
        folders: [
            Purpose::Sessions,
            Purpose::Log,
            Purpose::Settings,
            Purpose::Runtime,
        ]
        .map(folder)
        .to_vec(),
        live: None,
        settings_fault: None,
    }
}

/// Changes the machine and looks at what is said that is not fine: `verdict topic: found → advice`,
/// of which each expected text must be a part, in order.
#[track_caller]
fn check(change: impl Fn(&mut Facts), expected: &[&str]) {
    let mut facts = ready();
    change(&mut facts);
    let said: Vec<String> = examine(&facts)
        .into_iter()
        .filter(|finding| finding.verdict != Verdict::Fine)
        .map(|finding| {
            let advice = finding.advice.expect("whatever is not fine has an advice");
            let (verdict, topic) = (finding.verdict.word(), finding.topic);
            format!("{verdict} {topic}: {} → {advice}", finding.found)
        })
        .collect();
    assert_eq!(said.len(), expected.len(), "{said:#?}");
    for (said, expected) in said.iter().zip(expected) {
        assert!(said.starts_with(expected), "'{said}' is not '{expected}'");
    }
}

#[test]
fn a_machine_that_is_ready_needs_no_advice() {
    check(|_| {}, &[]);
    let findings = examine(&ready());
    assert_eq!(hindrances(&findings), Vec::<&str>::new());
    let found = |topic| {
        let finding = findings.iter().find(|finding| finding.topic == topic);
        finding.unwrap().found.as_str()
    };
    assert_eq!(
        found("input"),
        "alsa:default (Stage Box): 1 to 8 channels, 44100 to 96000 Hz, i16 f32, used unless \
         another is named"
    );
    assert_eq!(
        found("microphone"),
        "'Stage Box', 2 channels at 48000 Hz: sound (−38, −41 dBFS)"
    );
    assert_eq!(found("sessions"), "'/home/leader/there', 80 GB free");
    assert_eq!(
        found("program"),
        "concento 1.0.0 on linux x86_64, 4 processors"
    );
}

#[test]
fn no_input_is_a_hindrance_and_no_output_is_none() {
    let without = |facts: &mut Facts, direction| {
        let survey = facts.sound.survey.as_mut().unwrap();
        survey.offers.retain(|offer| offer.direction != direction);
    };
    check(
        |facts| {
            without(facts, Direction::Input);
            facts.sound.hearing = Hearing::NotTried;
        },
        &["trouble input: none can be listened to → connect a microphone"],
    );
    check(
        |facts| without(facts, Direction::Output),
        &["note output: none can be played on → a rehearsal needs none"],
    );
}

#[test]
fn a_frozen_sound_system_is_all_there_is_to_say_of_it() {
    check(
        |facts| {
            facts.sound.survey = None;
            facts.sound.hearing = Hearing::NotTried;
        },
        &["trouble sound system: does not answer → restart the sound server"],
    );
}

#[test]
fn silence_asks_whether_the_microphone_is_on() {
    check(
        |facts| facts.sound.hearing = heard(&[None, Some(-96.0)]),
        &["note microphone: 'Stage Box', 2 channels at 48000 Hz: silence → is the microphone on"],
    );
    check(
        |facts| facts.sound.hearing = heard(&[Some(-30.0), None, Some(-120.0)]),
        &[
            "note microphone: 'Stage Box', 3 channels at 48000 Hz: sound (−30, none, −120 dBFS) → \
           channels 2, 3 are silent",
        ],
    );
    check(
        |facts| facts.sound.hearing = heard(&[None, Some(-50.0)]),
        &[
            "note microphone: 'Stage Box', 2 channels at 48000 Hz: sound (none, −50 dBFS) → channel 1",
        ],
    );
}

#[test]
fn an_input_that_cannot_be_opened_says_why() {
    let busy = crate::sound::Fault::Busy("Desk".to_owned()).to_string();
    check(
        |facts| facts.sound.hearing = Hearing::Fault(busy.clone()),
        &["trouble microphone: 'Desk' is in use by another program → close that program"],
    );
    check(
        |facts| facts.sound.hearing = Hearing::Nothing,
        &["trouble microphone: the input was opened and delivers nothing → unplug it"],
    );
}

/// Changes what Linux says of its cards, where nothing can be listened to.
#[track_caller]
fn check_cards(cards: Cards, expected: &[&str]) {
    let mut all = expected.to_vec();
    all.push("trouble input: none");
    all.push("note output: none");
    check(
        |facts| {
            facts.sound.cards = Some(cards);
            facts.sound.survey.as_mut().unwrap().offers.clear();
            facts.sound.hearing = Hearing::NotTried;
        },
        &all,
    );
}

#[test]
fn who_may_not_open_the_cards_is_told_how() {
    let refused = Cards {
        nodes: Nodes::Refused,
        in_audio_group: false,
        ..CARDS
    };
    check_cards(
        refused,
        &[
            "trouble sound cards: /dev/snd may not be opened (not in group audio) → let an administrator",
        ],
    );
    let in_group = Cards {
        in_audio_group: true,
        ..refused
    };
    check_cards(
        in_group,
        &["trouble sound cards: /dev/snd may not be opened (in group audio) → log out"],
    );
    // Through a server everything works all the same.
    let served = Cards {
        server: Some(Server::PulseAudio),
        has_bridge: true,
        ..refused
    };
    check(|facts| facts.sound.cards = Some(served), &[]);
    let none = Cards {
        nodes: Nodes::None,
        ..CARDS
    };
    check_cards(none, &["note sound cards: the system knows of none →"]);
    check(|facts| facts.sound.cards = Some(none), &[]);
}

#[test]
fn a_server_without_a_way_to_it_names_the_package() {
    let pipewire = Cards {
        server: Some(Server::PipeWire),
        ..CARDS
    };
    check_cards(
        pipewire,
        &["trouble sound server: PipeWire, without ALSA's way to it → install 'pipewire-alsa'"],
    );
    let pulse = Cards {
        server: Some(Server::PulseAudio),
        ..CARDS
    };
    check(
        |facts| facts.sound.cards = Some(pulse),
        &["note sound server: PulseAudio or the like, without ALSA's way to it → to share inputs"],
    );
}

#[test]
fn a_terminal_that_cannot_show_the_screens_is_a_hindrance() {
    let term = |term: &'static str| move |facts: &mut Facts| facts.terminal.term = term.to_owned();
    check(
        term("dumb"),
        &["trouble terminal: dumb → this terminal cannot"],
    );
    check(term(""), &["trouble terminal: TERM is not set → this"]);
    let size = |columns, rows| move |facts: &mut Facts| facts.terminal.size = Some((columns, rows));
    check(
        size(59, 30),
        &["trouble window: 59 columns by 30 rows → too small: make it 60 by 10"],
    );
    check(
        size(100, 9),
        &["trouble window: 100 columns by 9 rows → too small"],
    );
    check(
        size(60, 10),
        &["note window: 60 columns by 10 rows → 80 by 24 show more"],
    );
    check(size(80, 24), &[]);
    check(
        |facts| facts.terminal.size = None,
        &["note window: its size cannot be told → the screens need 60 columns by 10 rows"],
    );
}

#[test]
fn no_terminal_is_no_hindrance_as_it_may_be_a_script() {
    check(
        |facts| {
            facts.terminal.is_terminal = false;
            facts.terminal.size = None;
            facts.terminal.term.clear();
        },
        &["note terminal: not started from a terminal → the screens need one"],
    );
}

#[test]
fn letters_and_colours_are_told() {
    let locale = |value: Option<&str>| {
        let locale = value.map(|value| ("LC_ALL".to_owned(), value.to_owned()));
        move |facts: &mut Facts| facts.terminal.locale.clone_from(&locale)
    };
    check(
        locale(Some("C")),
        &["note letters: LC_ALL=C → ♯, ♭, ◇ and □ need UTF-8"],
    );
    check(locale(None), &["note letters: LANG is not set → ♯"]);
    check(locale(Some("en_GB.utf8")), &[]);
    check(
        |facts| {
            facts.terminal.locale = None;
            facts.terminal.is_always_utf8 = true;
        },
        &[],
    );
    check(
        |facts| {
            facts.terminal.colours = Colours::Sixteen;
            facts.terminal.colorterm.clear();
        },
        &["note colours: sixteen → if the terminal has more"],
    );
    check(
        |facts| {
            facts.terminal.colours = Colours::None;
            facts.terminal.no_color = true;
        },
        &[],
    );
    check(
        |facts| facts.terminal.inside = Some("tmux"),
        &["note terminal: xterm-256color, inside tmux → inside tmux TERM should"],
    );
    check(
        |facts| {
            facts.terminal.inside = Some("tmux");
            facts.terminal.term = "tmux-256color".to_owned();
        },
        &[],
    );
}

#[test]
fn folders_that_cannot_be_written_to_say_what_is_lost() {
    let state = |place: usize, state| move |facts: &mut Facts| facts.folders[place].state = state;
    check(
        state(0, FolderState::Refused),
        &["note sessions: '/home/leader/there' cannot be written to → rehearsals are not recorded"],
    );
    check(state(0, FolderState::CanBeMade), &[]);
    check(
        state(3, FolderState::Distrusted),
        &["note runtime: '/home/leader/there' is not the user's alone → type 'chmod go-w'"],
    );
    check(
        state(1, FolderState::Refused),
        &["note log: '/home/leader/there' cannot be"],
    );
    check(
        state(2, FolderState::Refused),
        &["note settings: '/home/leader/there' cannot be"],
    );
    check(
        state(3, FolderState::Nowhere),
        &["note runtime: this system has no folder for it → no other program"],
    );
    let free = |bytes| move |facts: &mut Facts| facts.folders[0].free_bytes = Some(bytes);
    check(
        free(99_000_000),
        &["note sessions: '/home/leader/there', 99 MB free → an hour"],
    );
    check(
        free(3_000_000),
        &["note sessions: '/home/leader/there', 3 MB free → the disk is"],
    );
    // The log is small.
    check(|facts| facts.folders[1].free_bytes = Some(3_000_000), &[]);
    check(
        |facts| facts.machine.n_cores = Some(1),
        &["note program: concento 1.0.0 on linux x86_64, 1 processor → one processor"],
    );
}

#[test]
fn hindrances_are_named_once_each() {
    let mut facts = ready();
    facts.terminal.term = "dumb".to_owned();
    facts.sound.survey = None;
    facts.sound.hearing = Hearing::NotTried;
    assert_eq!(hindrances(&examine(&facts)), ["sound system", "terminal"]);
}

#[test]
fn no_screen_is_shown_where_others_may_write_to_its_folders() {
    let mut facts = ready();
    facts.folders[0].state = FolderState::Distrusted;
    facts.folders[1].state = FolderState::Distrusted;
    assert_eq!(hindrances(&examine(&facts)), ["sessions", "log"]);
}

#[test]
fn a_settings_file_that_cannot_be_read_stops_every_screen() {
    let fault = "settings.ron:2:13: there is no theme 'fog'".to_owned();
    let facts = Facts {
        settings_fault: Some(fault.clone()),
        ..ready()
    };
    let findings = examine(&facts);
    let finding = findings.last().unwrap();
    assert_eq!(
        (finding.verdict, &finding.found),
        (Verdict::Trouble, &fault)
    );
    assert_eq!(hindrances(&findings), ["settings file"]);
}
