//! Sound systems, devices, and what the microphone delivers.

use super::{Finding, counted};
use crate::sound::device::{Direction, Offer, Survey};

/// Below this mean level a channel delivers nothing but the last bits of a converter.
const SILENT_DBFS: f64 = -90.0;

/// What runs between programs and sound cards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Server {
    /// `PulseAudio`, or something that stands in for it.
    PulseAudio,
    /// `PipeWire`, without the other's door.
    PipeWire,
}

/// The devices of sound cards in the file system.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Nodes {
    /// There are none.
    None,
    /// All of them may be opened.
    Usable,
    /// Some may not.
    Refused,
}

/// What Linux says of its sound cards. Other systems need no such look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cards {
    /// Their devices in `/dev/snd`.
    pub nodes: Nodes,
    /// Whether the user belongs to the group `audio`.
    pub in_audio_group: bool,
    /// The sound server whose socket was found.
    pub server: Option<Server>,
    /// Whether ALSA's way to that server is installed.
    pub has_bridge: bool,
}

/// What came in a second from the input that is used when none is named.
#[derive(Debug, Clone, PartialEq)]
pub struct Heard {
    /// The device.
    pub name: String,
    /// Frames a second.
    pub rate_hz: u32,
    /// The mean level of each channel, in dBFS; none where every sample was 0.
    pub levels_dbfs: Vec<Option<f64>>,
}

/// What came of opening the input.
#[derive(Debug, Clone, PartialEq)]
pub enum Hearing {
    /// It was not tried, as there is none or the sound system does not answer.
    NotTried,
    /// It cannot be opened; why, and what to do.
    Fault(String),
    /// It was opened and delivered nothing in the time allowed.
    Nothing,
    /// Sound, or silence.
    Heard(Heard),
}

/// All that was asked about sound.
#[derive(Debug, Clone, PartialEq)]
pub struct Sound {
    /// The devices; none if the sound system did not answer.
    pub survey: Option<Survey>,
    /// What Linux says of its sound cards; none elsewhere.
    pub cards: Option<Cards>,
    /// What came of opening the input.
    pub hearing: Hearing,
}

pub(super) fn examine(sound: &Sound) -> Vec<Finding> {
    let Some(survey) = &sound.survey else {
        let mut findings = vec![Finding::trouble(
            "sound system",
            "does not answer",
            "restart the sound server, or unplug the audio interface and connect it again",
        )];
        findings.extend(sound.cards.map(|cards| bridge(cards, false)));
        return findings;
    };
    let of = |direction| {
        let of_it = survey
            .offers
            .iter()
            .filter(move |o| o.direction == direction);
        of_it.collect::<Vec<&Offer>>()
    };
    let (inputs, outputs) = (of(Direction::Input), of(Direction::Output));
    let mut findings = vec![system(survey)];
    if let Some(cards) = sound.cards {
        findings.push(permission(cards, !inputs.is_empty()));
        findings.push(bridge(cards, !inputs.is_empty()));
    }
    findings.extend(inputs.iter().map(|offer| device("input", offer)));
    if inputs.is_empty() {
        findings.push(Finding::trouble(
            "input",
            "none can be listened to",
            "connect a microphone or an audio interface, then ask again",
        ));
    }
    findings.extend(outputs.iter().map(|offer| device("output", offer)));
    if outputs.is_empty() {
        findings.push(Finding::note(
            "output",
            "none can be played on",
            "a rehearsal needs none; for a drone connect a loudspeaker or headphones",
        ));
    }
    findings.extend(hearing(&sound.hearing));
    findings
}

fn system(survey: &Survey) -> Finding {
    let hosts = match survey.hosts.as_slice() {
        [] => "unknown".to_owned(),
        hosts => hosts.join(", "),
    };
    let closed = match survey.closed {
        0 => String::new(),
        1 => "; 1 entry of it cannot be opened now".to_owned(),
        closed => format!("; {closed} entries of it cannot be opened now"),
    };
    Finding::fine("sound system", format!("{hosts}{closed}"))
}

fn permission(cards: Cards, is_anything_heard: bool) -> Finding {
    const TOPIC: &str = "sound cards";
    let group = if cards.in_audio_group {
        "in group audio"
    } else {
        "not in group audio"
    };
    match cards.nodes {
        Nodes::None if is_anything_heard => {
            Finding::fine(TOPIC, "none of its own; sound comes through a sound server")
        }
        Nodes::None => Finding::note(
            TOPIC,
            "the system knows of none",
            "connect one; on a computer without sound, a sound server elsewhere can stand in",
        ),
        Nodes::Usable => Finding::fine(TOPIC, format!("may be used ({group})")),
        Nodes::Refused if is_anything_heard => Finding::fine(
            TOPIC,
            format!("through a sound server only: /dev/snd may not be opened ({group})"),
        ),
        Nodes::Refused => Finding::trouble(
            TOPIC,
            format!("/dev/snd may not be opened ({group})"),
            if cards.in_audio_group {
                "log out and in again; if that does not help, look at who owns /dev/snd"
            } else {
                "let an administrator type 'adduser YOU audio' with your name, then log in again"
            },
        ),
    }
}

fn bridge(cards: Cards, is_anything_heard: bool) -> Finding {
    const TOPIC: &str = "sound server";
    let (name, package) = match cards.server {
        None => {
            return Finding::fine(TOPIC, "none found; sound cards are used directly");
        }
        Some(Server::PulseAudio) => ("PulseAudio or the like", "libasound2-plugins"),
        Some(Server::PipeWire) => ("PipeWire", "pipewire-alsa"),
    };
    match (cards.has_bridge, is_anything_heard) {
        (true, _) => Finding::fine(TOPIC, format!("{name}, with ALSA's way to it")),
        (false, true) => Finding::note(
            TOPIC,
            format!("{name}, without ALSA's way to it"),
            format!("to share inputs with other programs, install '{package}'"),
        ),
        (false, false) => Finding::trouble(
            TOPIC,
            format!("{name}, without ALSA's way to it"),
            format!("install '{package}': the sound server may hold the sound card"),
        ),
    }
}

fn device(topic: &'static str, offer: &Offer) -> Finding {
    let channels = match offer.channels {
        (least, most) if least == most => counted(most, "channel"),
        (least, most) => format!("{least} to {most} channels"),
    };
    let rates = match offer.rates_hz {
        (least, most) if least == most => format!("{most} Hz"),
        (least, most) => format!("{least} to {most} Hz"),
    };
    let default = if offer.is_default {
        ", used unless another is named"
    } else {
        ""
    };
    let found = format!(
        "{} ({}): {channels}, {rates}, {}{default}",
        offer.id,
        offer.description,
        offer.formats.join(" ")
    );
    Finding::fine(topic, found)
}

fn hearing(hearing: &Hearing) -> Option<Finding> {
    const TOPIC: &str = "microphone";
    Some(match hearing {
        Hearing::NotTried => return None,
        Hearing::Fault(fault) => match fault.split_once(": ") {
            Some((found, advice)) => Finding::trouble(TOPIC, found, advice),
            None => Finding::trouble(TOPIC, fault, "close other programs, or name another input"),
        },
        Hearing::Nothing => Finding::trouble(
            TOPIC,
            "the input was opened and delivers nothing",
            "unplug it and connect it again, or restart the sound server",
        ),
        Hearing::Heard(heard) => heard_finding(TOPIC, heard),
    })
}

fn heard_finding(topic: &'static str, heard: &Heard) -> Finding {
    let count = heard.levels_dbfs.len();
    let is_silent = |level: &Option<f64>| level.is_none_or(|dbfs| dbfs < SILENT_DBFS);
    let silent: Vec<String> = heard
        .levels_dbfs
        .iter()
        .enumerate()
        .filter(|(_, level)| is_silent(level))
        .map(|(channel, _)| (channel + 1).to_string())
        .collect();
    let opened = format!(
        "'{}', {} at {} Hz",
        heard.name,
        counted(count, "channel"),
        heard.rate_hz
    );
    if silent.len() == count {
        return Finding::note(
            topic,
            format!("{opened}: silence"),
            "is the microphone on, and its level turned up? Speak into it and ask again; \
             '--input' takes another",
        );
    }
    let levels: Vec<String> = heard
        .levels_dbfs
        .iter()
        .map(|level| match level {
            Some(dbfs) => format!("{dbfs:.0}").replace('-', "−"),
            None => "none".to_owned(),
        })
        .collect();
    let found = format!("{opened}: sound ({} dBFS)", levels.join(", "));
    if silent.is_empty() {
        return Finding::fine(topic, found);
    }
    let which = match silent.as_slice() {
        [one] => format!("channel {one} is silent: is its microphone on?"),
        many => format!(
            "channels {} are silent: are their microphones on?",
            many.join(", ")
        ),
    };
    Finding::note(topic, found, which)
}
