//! The sound system's reports: which of them count, and its refusals in a musician's words.

use cpal::ErrorKind;

use super::Direction;
use crate::sound::Fault;

/// What a report from a running stream amounts to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::sound) enum Report {
    /// The program was too slow for the device, and sound was lost between them.
    Overrun,
    /// News, not an error: the stream goes on.
    News,
    /// Any other error.
    Error,
}

/// Judges a report. Real-time safe: it may come by the thousand.
pub(in crate::sound) fn report_of(kind: ErrorKind) -> Report {
    match kind {
        ErrorKind::Xrun => Report::Overrun,
        ErrorKind::DeviceChanged | ErrorKind::RealtimeDenied => Report::News,
        _ => Report::Error,
    }
}

/// Why the device described as `name` cannot be opened, when it was `wanted` by name or as the
/// default.
pub(in crate::sound) fn fault_of(
    error: &cpal::Error,
    direction: Direction,
    wanted: Option<&str>,
    name: &str,
) -> Fault {
    let reason = match error.kind() {
        ErrorKind::DeviceNotAvailable | ErrorKind::HostUnavailable => {
            return match wanted {
                Some(wanted) => direction.no_such(wanted),
                None => direction.nothing(),
            };
        }
        ErrorKind::DeviceBusy => return Fault::Busy(name.to_owned()),
        ErrorKind::PermissionDenied => match direction {
            Direction::Input => {
                "this user may not record; allow microphones in the system's settings, or join \
                 the group 'audio'"
            }
            Direction::Output => "this user may not play sound; join the group 'audio'",
        }
        .to_owned(),
        ErrorKind::UnsupportedOperation => format!("it is no {}", direction.noun()),
        _ => plainly(&error.to_string()),
    };
    refusal(name, reason)
}

/// The device described as `name` cannot be opened, for the reason given.
pub(in crate::sound) fn refusal(name: &str, reason: String) -> Fault {
    Fault::Refused {
        device: name.to_owned(),
        reason,
    }
}

/// The sound system's own words on one line, without the names of its functions.
fn plainly(text: &str) -> String {
    let words: Vec<&str> = text.split_whitespace().collect();
    let line = words.join(" ");
    // "ALSA function 'snd_pcm_open' failed with error 'Connection refused (111)'"
    let core = line
        .split_once("failed with error '")
        .map_or(line.as_str(), |(_, error)| error)
        .trim_end_matches(['.', '\'']);
    if core.starts_with("Connection refused") || core.starts_with("Host is down") {
        "the sound server is not running".to_owned()
    } else {
        core.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(kind: ErrorKind, direction: Direction, wanted: Option<&str>, expected: &str) {
        let error = cpal::Error::with_message(kind, "The plug is\n  loose.");
        let fault = fault_of(&error, direction, wanted, "Desk");
        assert_eq!(fault.to_string(), expected);
    }

    #[test]
    fn refusals_are_put_in_words() {
        check(
            ErrorKind::DeviceNotAvailable,
            Direction::Input,
            None,
            "no microphone found: connect one; it is taken up by itself",
        );
        check(
            ErrorKind::DeviceNotAvailable,
            Direction::Output,
            None,
            "no loudspeaker found: connect one; it is taken up by itself",
        );
        check(
            ErrorKind::DeviceNotAvailable,
            Direction::Input,
            Some("desk"),
            "no input called 'desk': connect it, or see 'concento devices'",
        );
        check(
            ErrorKind::DeviceNotAvailable,
            Direction::Output,
            Some("desk"),
            "no output called 'desk': connect it, or see 'concento devices'",
        );
        check(
            ErrorKind::DeviceBusy,
            Direction::Output,
            None,
            "'Desk' is in use by another program: close that program",
        );
        check(
            ErrorKind::BackendError,
            Direction::Input,
            None,
            "'Desk' cannot be opened (The plug is loose): trying again",
        );
        check(
            ErrorKind::UnsupportedOperation,
            Direction::Output,
            Some("desk"),
            "'Desk' cannot be opened (it is no output): trying again",
        );
    }

    #[test]
    fn the_names_of_functions_are_left_out() {
        let alsa = "ALSA function 'snd_pcm_open' failed with error";
        assert_eq!(
            plainly(&format!("{alsa} 'Connection refused (111)'")),
            "the sound server is not running"
        );
        assert_eq!(plainly(&format!("{alsa} 'I/O error (5)'")), "I/O error (5)");
    }

    #[test]
    fn news_is_no_error() {
        assert_eq!(report_of(ErrorKind::DeviceChanged), Report::News);
        assert_eq!(report_of(ErrorKind::RealtimeDenied), Report::News);
        assert_eq!(report_of(ErrorKind::Xrun), Report::Overrun);
        assert_eq!(report_of(ErrorKind::BackendError), Report::Error);
        assert_eq!(report_of(ErrorKind::DeviceNotAvailable), Report::Error);
    }
}
