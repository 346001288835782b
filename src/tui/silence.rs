//! In words that nothing comes through an input, and what to look at.

use super::text;
use crate::rehearsal::Silence;

/// One sentence for the status line.
pub(super) fn sentence(silence: &Silence) -> String {
    let Silence {
        inputs,
        is_all,
        is_dead,
        lasting,
    } = silence;
    let numbers: Vec<String> = inputs.iter().map(usize::to_string).collect();
    let is_one = inputs.len() == 1;
    let place = match (is_all, is_one) {
        (true, _) => String::new(),
        (false, true) => format!(" on input {}", numbers[0]),
        (false, false) => format!(" on inputs {}", numbers.join(", ")),
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
            "no sound on inputs 2, 5 for 2 min: are the microphones on?",
        );
    }
}
