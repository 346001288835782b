//! What is noticed of a live input besides its sound: that nothing comes through it, and that the
//! program itself has stood still. No sound system reports either.

use super::Rehearsal;
use crate::analysis::Reading;
use crate::rehearsal::{Entry, Meter};
use crate::sound::SourceState;
use crate::units::Seconds;

/// A microphone that delivers nothing but zeros on all its channels is told of after so long:
/// just longer than a device takes to begin.
const ALL_DEAD: Seconds = Seconds::new(2.5);
/// One of several inputs may be muted for a moment on purpose.
const ONE_DEAD: Seconds = Seconds::new(10.0);
/// An input that has been silent for so long is told of: nobody's rest is so long that a
/// microphone hears nothing at all meanwhile.
const LONG_SILENCE: Seconds = Seconds::new(120.0);
/// A program that was not asked for anything for so long did not run: no frame takes a second.
const STOOD_STILL: Seconds = Seconds::new(2.0);

/// Inputs that deliver the same are told of after so long with sound.
const COPIES: Seconds = Seconds::new(3.0);
/// What is wrong with a recording is kept again after so long at the earliest: each damaged piece
/// changes it, and there may be thousands.
const DAMAGE_EVERY: Seconds = Seconds::new(60.0);
/// The least level at which being the same says anything, in dBFS.
const SOUND_DBFS: f64 = -78.0;

/// Inputs through which nothing comes, though the stream runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Silence {
    /// Their numbers, from 1.
    pub inputs: Vec<usize>,
    /// Whether these are all that are listened to.
    pub is_all: bool,
    /// Whether they deliver nothing but zeros, as a connected microphone never does.
    pub is_dead: bool,
    /// For how long.
    pub lasting: Seconds,
}

/// What was noticed so far.
#[derive(Debug, Clone, Default)]
pub(super) struct Attention {
    /// Whether it is a microphone, and not a recording, in which zeros are nothing special.
    is_live: bool,
    /// Whether it is recorded that nothing but zeros comes.
    is_dead_kept: bool,
    /// For how long the program stood still, until that is told.
    stood_still: Option<Seconds>,
    /// What is wrong with a recording, until that is told.
    damage: Option<String>,
    /// When it was last kept.
    damage_kept: Option<Seconds>,
    /// Channels in pairs whose inputs deliver the same, and for how long.
    copies: Vec<(usize, usize, Seconds)>,
}

impl Rehearsal {
    /// The same, heard through a microphone.
    #[must_use]
    pub fn through_microphone(mut self) -> Self {
        self.attention.is_live = true;
        self
    }

    /// Inputs through which nothing comes, if that must be told.
    pub fn silence(&self) -> Option<Silence> {
        let n_inputs = self.format()?.channels;
        let inputs: Vec<(usize, &Meter)> = self
            .live()
            .filter(|(channel, _)| channel.input <= n_inputs)
            .map(|(channel, state)| (channel.input, state.meter()))
            .collect();
        let lasting = |is_dead: bool, at_least: Seconds| {
            let lasting = |meter: &Meter| {
                if is_dead {
                    meter.dead_for()
                } else {
                    meter.silent_for()
                }
            };
            let silent = inputs.iter().map(|(input, meter)| (*input, lasting(meter)));
            let silent: Vec<(usize, Seconds)> =
                silent.filter(|(_, lasting)| *lasting >= at_least).collect();
            let (_, first) = *silent.first()?;
            let each = silent.iter().map(|(_, lasting)| *lasting);
            Some(Silence {
                is_all: silent.len() == inputs.len(),
                is_dead,
                lasting: each.fold(first, |a, b| if b < a { b } else { a }),
                inputs: silent.into_iter().map(|(input, _)| input).collect(),
            })
        };
        let dead = |at_least| lasting(true, at_least).filter(|_| self.attention.is_live);
        dead(ALL_DEAD)
            .filter(|silence| silence.is_all)
            .or_else(|| dead(ONE_DEAD))
            .or_else(|| lasting(false, LONG_SILENCE))
    }

    /// Inputs, by their numbers, that deliver the very same sound though different players are
    /// to be heard through them. A sound server does that which was asked for more channels than
    /// the device has, and says nothing; no two microphones do.
    pub fn copied_inputs(&self) -> Vec<usize> {
        if self.follows_inputs {
            return Vec::new();
        }
        let channels = &self.ensemble.channels;
        let pairs = self.attention.copies.iter();
        let lasting = pairs.filter(|(_, _, lasting)| *lasting >= COPIES);
        let inputs = lasting.flat_map(|(one, other, _)| [channels.get(*one), channels.get(*other)]);
        let mut inputs: Vec<usize> = inputs.flatten().map(|channel| channel.input).collect();
        inputs.sort_unstable();
        inputs.dedup();
        inputs
    }

    /// Compares every two inputs. Levels of samples that differ at all differ, too.
    fn compare_inputs(&mut self, elapsed: Seconds) {
        let channels: Vec<(usize, usize, Reading)> = self
            .live()
            .enumerate()
            .filter_map(|(index, (channel, state))| Some((index, channel.input, *state.latest()?)))
            .collect();
        let mut copies = Vec::new();
        for (position, (one, input, reading)) in channels.iter().enumerate() {
            for (other, another_input, another) in &channels[position + 1..] {
                if input == another_input {
                    continue;
                }
                let before = self.attention.copies.iter();
                let before = before.filter(|(a, b, _)| (a, b) == (one, other));
                let before = before.map(|(_, _, lasting)| *lasting).next();
                let before = before.unwrap_or_default();
                let has_sound = reading.level.get() > SOUND_DBFS;
                let at_once = reading.available == another.available;
                if !at_once || !has_sound && another.level.get() <= SOUND_DBFS {
                    // Nothing is known of this moment.
                    copies.push((*one, *other, before));
                } else if reading.level == another.level {
                    copies.push((*one, *other, before + elapsed));
                }
            }
        }
        self.attention.copies = copies;
    }

    /// For how long the program stood still, to be told once.
    pub fn take_stood_still(&mut self) -> Option<Seconds> {
        self.attention.stood_still.take()
    }

    /// What is wrong with the recording that is heard is kept, and told once.
    pub(super) fn take_damage(&mut self, text: String) {
        let at = self.now;
        let kept = self.attention.damage_kept;
        if kept.is_none_or(|kept| at - kept >= DAMAGE_EVERY) {
            self.attention.damage_kept = Some(at);
            self.recording.keep(Entry::Fault {
                at,
                text: text.clone(),
            });
        }
        self.attention.damage = Some(text);
    }

    /// What is wrong with the recording that is heard, to be told once.
    pub fn take_told_damage(&mut self) -> Option<String> {
        self.attention.damage.take()
    }

    /// Time passes by `elapsed`: what is noticed is kept.
    pub(super) fn attend(&mut self, elapsed: Seconds) {
        if !self.attention.is_live {
            return;
        }
        let at = self.now;
        self.compare_inputs(elapsed);
        if elapsed >= STOOD_STILL {
            self.attention.stood_still = Some(elapsed);
            self.recording.keep(Entry::Fault {
                at,
                text: format!(
                    "the program stood still for {:.0} s and heard nothing",
                    elapsed.get()
                ),
            });
        }
        if self.source != SourceState::Running {
            // Whatever is wrong now is kept as such, and so is its end.
            self.attention.is_dead_kept = false;
            return;
        }
        let is_dead = self
            .silence()
            .is_some_and(|silence| silence.is_all && silence.is_dead);
        if is_dead == self.attention.is_dead_kept {
            return;
        }
        self.attention.is_dead_kept = is_dead;
        self.recording.keep(if is_dead {
            Entry::Fault {
                at,
                text: "nothing but zeros from the microphone".to_owned(),
            }
        } else {
            Entry::Running {
                at,
                source: self
                    .format
                    .as_ref()
                    .map(|f| f.name.clone())
                    .unwrap_or_default(),
            }
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::NoPitch;
    use crate::rehearsal::Update;
    use crate::rehearsal::tests::{reading, rehearsal, unpitched};
    use crate::sound::StreamFormat;
    use crate::units::{Dbfs, SampleRate};

    fn zeros() -> Reading {
        Reading {
            level: Dbfs::SILENCE,
            ..unpitched(NoPitch::Silence)
        }
    }

    fn hiss() -> Reading {
        Reading {
            level: Dbfs::new(-85.0),
            ..unpitched(NoPitch::Silence)
        }
    }

    /// Two players whose stream runs.
    struct Hall {
        rehearsal: Rehearsal,
        now: f64,
    }

    impl Hall {
        fn new(is_live: bool) -> Self {
            let rehearsal = rehearsal(&["Violin I", "Violin II"]);
            let mut hall = Self {
                rehearsal: if is_live {
                    rehearsal.through_microphone()
                } else {
                    rehearsal
                },
                now: 0.0,
            };
            hall.start();
            hall
        }

        fn start(&mut self) {
            self.rehearsal.take(Update::Started(StreamFormat {
                name: "box".to_owned(),
                rate: SampleRate::new(48_000).unwrap(),
                channels: 2,
            }));
            self.rehearsal.take(Update::State(SourceState::Running));
        }

        /// Both inputs say this for so long.
        fn hear(&mut self, seconds: f64, said: [Reading; 2]) {
            for _ in 0..(seconds * 100.0).round() as usize {
                self.now += 0.01;
                self.rehearsal.tick(Seconds::new(self.now));
                for (input, said) in said.iter().enumerate() {
                    let available = Seconds::new(self.now);
                    self.rehearsal
                        .take(Update::Reading(input, Reading { available, ..*said }));
                }
            }
        }

        fn told(&self) -> Option<(Vec<usize>, bool, bool)> {
            let silence = self.rehearsal.silence()?;
            Some((silence.inputs, silence.is_all, silence.is_dead))
        }

        fn faults(&self) -> Vec<&str> {
            let faults = self.rehearsal.chronicle().faults().iter();
            faults.map(|(_, text)| text.as_str()).collect()
        }
    }

    #[test]
    fn a_microphone_that_goes_dead_is_told_of_within_three_seconds_and_recorded() {
        let mut hall = Hall::new(true);
        hall.hear(5.0, [reading(440.0), hiss()]);
        assert_eq!(hall.told(), None);
        hall.hear(2.0, [zeros(), zeros()]);
        assert_eq!(hall.told(), None);
        hall.hear(1.0, [zeros(), zeros()]);
        assert_eq!(hall.told(), Some((vec![1, 2], true, true)));
        hall.hear(60.0, [zeros(), zeros()]);
        assert_eq!(hall.faults(), ["nothing but zeros from the microphone"]);
        hall.hear(0.1, [hiss(), hiss()]);
        assert_eq!(hall.told(), None);
        let entries = hall.rehearsal.take_entries();
        let last = entries.iter().rfind(|e| matches!(e, Entry::Running { .. }));
        assert!(last.is_some_and(|entry| entry.at().get() > 67.9));
    }

    #[test]
    fn one_dead_input_beside_a_living_one_is_named_later() {
        let mut hall = Hall::new(true);
        hall.hear(9.0, [hiss(), zeros()]);
        assert_eq!(hall.told(), None);
        hall.hear(2.0, [hiss(), zeros()]);
        assert_eq!(hall.told(), Some((vec![2], false, true)));
        assert!(hall.faults().is_empty());
    }

    #[test]
    fn zeros_of_a_recording_are_silence_like_any_other() {
        let mut hall = Hall::new(false);
        hall.hear(119.0, [zeros(), hiss()]);
        assert_eq!(hall.told(), None);
        hall.hear(2.0, [zeros(), hiss()]);
        assert_eq!(hall.told(), Some((vec![1], false, false)));
        assert!(hall.faults().is_empty());
    }

    #[test]
    fn inputs_that_deliver_the_same_are_named_unless_nobody_was_seated_there() {
        let mut hall = Hall::new(true);
        hall.hear(10.0, [hiss(), hiss()]);
        assert!(hall.rehearsal.copied_inputs().is_empty(), "no sound");
        hall.hear(2.0, [reading(440.0), reading(440.0)]);
        assert!(hall.rehearsal.copied_inputs().is_empty(), "not yet");
        hall.hear(2.0, [reading(440.0), reading(440.0)]);
        assert_eq!(hall.rehearsal.copied_inputs(), [1, 2]);
        let softer = Reading {
            level: Dbfs::new(-20.001),
            ..reading(440.0)
        };
        hall.hear(0.1, [reading(440.0), softer]);
        assert!(hall.rehearsal.copied_inputs().is_empty(), "they differ");

        let mut hall = Hall::new(true);
        hall.rehearsal = hall.rehearsal.following_inputs();
        hall.hear(5.0, [reading(440.0), reading(440.0)]);
        assert!(hall.rehearsal.copied_inputs().is_empty());
    }

    #[test]
    fn a_new_stream_is_given_its_time() {
        let mut hall = Hall::new(true);
        hall.hear(5.0, [zeros(), zeros()]);
        hall.start();
        hall.hear(2.0, [zeros(), zeros()]);
        assert_eq!(hall.told(), None);
    }

    #[test]
    fn a_recording_in_a_thousand_pieces_is_told_of_and_kept_once_a_minute() {
        let mut hall = Hall::new(false);
        hall.start();
        for piece in 1..=1_000 {
            let text = format!("{piece} pieces could not be read");
            hall.rehearsal.take(Update::Damaged(text.clone()));
            assert_eq!(hall.rehearsal.take_told_damage(), Some(text));
            hall.now += 0.1;
            hall.rehearsal.tick(Seconds::new(hall.now));
        }
        assert_eq!(hall.rehearsal.take_told_damage(), None);
        let faults = hall.faults();
        assert_eq!(faults.len(), 2, "{faults:?}");
        assert_eq!(faults[0], "1 pieces could not be read");
    }

    #[test]
    fn a_program_that_stood_still_heard_nothing_meanwhile() {
        let mut hall = Hall::new(true);
        hall.hear(3.0, [reading(440.0), hiss()]);
        // Stopped for ten seconds in the middle of a note that is still held afterwards.
        hall.now += 10.0;
        hall.hear(3.0, [reading(440.0), hiss()]);
        let lasting = hall.rehearsal.take_stood_still();
        assert!(lasting.is_some_and(|s| (s.get() - 10.0).abs() < 0.1));
        assert_eq!(hall.rehearsal.take_stood_still(), None);
        assert_eq!(
            hall.faults(),
            ["the program stood still for 10 s and heard nothing"]
        );
        hall.rehearsal.finish();
        let notes = hall.rehearsal.chronicle().notes();
        let spans: Vec<(f64, f64)> = notes
            .iter()
            .map(|note| (note.begun.get(), note.ended.get()))
            .collect();
        let [first, second] = spans[..] else {
            panic!("the hole parts the note in two: {spans:?}")
        };
        assert!(first.0 < 0.2 && (first.1 - 3.0).abs() < 0.1, "{spans:?}");
        assert!(
            (second.0 - 13.0).abs() < 0.1 && second.1 > 15.9,
            "{spans:?}"
        );
    }
}
