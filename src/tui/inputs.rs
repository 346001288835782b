//! What is wrong with inputs though the stream runs, in a sentence for the status line: they are
//! overloaded, nothing comes through them, or the same through two.

use super::text;
use crate::rehearsal::{Rehearsal, Silence};

/// What is to be told first.
pub(super) fn warning(rehearsal: &Rehearsal) -> Option<String> {
    let silence = rehearsal.silence();
    let dead = silence.as_ref().filter(|silence| silence.is_all);
    overloaded(rehearsal)
        .or_else(|| dead.map(sentence))
        // A sound server that mixes for want of channels leaves some of them empty, too.
        .or_else(|| copied(&rehearsal.copied_inputs()))
        .or_else(|| silence.as_ref().map(sentence))
}

/// That inputs reach full scale, and whose they are.
fn overloaded(rehearsal: &Rehearsal) -> Option<String> {
    let clipped = rehearsal.live().filter(|(_, s)| s.meter().is_clipped());
    let clipped: Vec<(&str, usize)> = clipped
        .map(|(channel, _)| (channel.name.as_str(), channel.input))
        .collect();
    match clipped[..] {
        [] => None,
        [(name, input)] => Some(format!("{name} overloads input {input}: turn it down")),
        _ => {
            let inputs: Vec<usize> = clipped.iter().map(|(_, input)| *input).collect();
            let inputs = listed(&inputs);
            Some(format!("inputs {inputs} are overloaded: turn them down"))
        }
    }
}

/// `1, 3 and 7`.
fn listed(inputs: &[usize]) -> String {
    let numbers: Vec<String> = inputs.iter().map(usize::to_string).collect();
    match numbers.split_last() {
        Some((last, others)) if !others.is_empty() => format!("{} and {last}", others.join(", ")),
        _ => numbers.concat(),
    }
}

/// That nothing comes through inputs.
fn sentence(silence: &Silence) -> String {
    let Silence {
        inputs,
        is_all,
        is_dead,
        lasting,
    } = silence;
    let is_one = inputs.len() == 1;
    let place = match (is_all, is_one) {
        (true, _) => String::new(),
        (false, true) => format!(" on input {}", listed(inputs)),
        (false, false) => format!(" on inputs {}", listed(inputs)),
    };
    let (what, advice) = match (is_dead, is_one) {
        (true, true) => (
            "nothing but zeros",
            "is the microphone plugged in, is it muted?",
        ),
        (true, false) => (
            "nothing but zeros",
            "are the microphones plugged in, are they muted?",
        ),
        (false, true) => ("no sound", "is the microphone on?"),
        (false, false) => ("no sound", "are the microphones on?"),
    };
    format!("{what}{place} for {}: {advice}", text::lasting(*lasting))
}

/// The same of inputs that deliver one and the same sound.
fn copied(inputs: &[usize]) -> Option<String> {
    let told = format!(
        "the same sound on inputs {}: has the device so many channels?",
        listed(inputs)
    );
    (!inputs.is_empty()).then_some(told)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Seconds;

    fn check(inputs: &[usize], is_all: bool, is_dead: bool, seconds: f64, told: &str) {
        let silence = Silence {
            inputs: inputs.to_vec(),
            is_all,
            is_dead,
            lasting: Seconds::new(seconds),
        };
        assert_eq!(sentence(&silence), told);
    }

    #[test]
    fn inputs_with_the_same_sound_are_named() {
        assert_eq!(copied(&[]), None);
        let told = "the same sound on inputs 1, 3 and 7: has the device so many channels?";
        assert_eq!(copied(&[1, 3, 7]).as_deref(), Some(told));
    }

    #[test]
    fn a_silence_is_told_with_its_place_and_length() {
        check(
            &[1],
            true,
            true,
            3.4,
            "nothing but zeros for 3 s: is the microphone plugged in, is it muted?",
        );
        check(
            &[1, 2, 3],
            true,
            true,
            61.0,
            "nothing but zeros for 1 min: are the microphones plugged in, are they muted?",
        );
        check(
            &[3],
            false,
            true,
            12.0,
            "nothing but zeros on input 3 for 12 s: is the microphone plugged in, is it muted?",
        );
        check(
            &[2, 5],
            false,
            false,
            125.0,
            "no sound on inputs 2 and 5 for 2 min: are the microphones on?",
        );
    }
}
