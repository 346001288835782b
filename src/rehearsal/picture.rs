//! Everything that sounds at one moment: what a view draws and a frozen picture keeps.

use std::collections::BTreeMap;

use super::chord::ChordState;
use super::purity::{ChordNote, Purity};
use super::steady::SteadyPart;
use super::{Channel, ChannelState, Ensemble, Family, HeldVoice, Match, Told, Voice, VoiceLabel};
use crate::analysis::chord::Company;
use crate::tuning::Tuning;
use crate::units::{Cents, Seconds};

/// A chord can be held this long after it has stopped: the time to reach for the key.
const JUST_SOUNDED: Seconds = Seconds::new(1.5);

/// Voices that stop within this time of one another sounded as one chord.
const ONE_CHORD: Seconds = Seconds::new(0.5);

/// How often the purity of the chord is told anew.
const PURITY_EVERY: Seconds = Seconds::new(1.0);

/// A voice by its channel and, on a shared one, its identity.
type Key = (usize, Option<u32>);

/// The state of every channel and what follows from them together.
#[derive(Debug, Clone)]
pub(super) struct Picture {
    pub(super) channels: Vec<ChannelState>,
    pub(super) chords: Vec<ChordState>,
    matches: BTreeMap<Key, Match>,
    purity: Option<LivePurity>,
    purity_at: Seconds,
    pub(super) now: Seconds,
}

/// A trumpet that may belong to the chord to be held.
#[derive(Debug)]
struct Candidate {
    voice: HeldVoice,
    /// When it was last heard.
    ended: Seconds,
    channel: usize,
    source: Source,
    margin: Cents,
}

/// How a trumpet is heard, the best way first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Source {
    /// By a microphone of its own.
    Solo,
    /// By one that only trumpets share.
    Trumpets,
    /// By one for everybody.
    Room,
}

/// How pure the chord is that sounds, and who plays its notes.
#[derive(Debug, Clone, PartialEq)]
pub struct LivePurity {
    /// The intervals.
    pub purity: Purity,
    /// A name for each note of the chord.
    pub names: Vec<String>,
}

impl Picture {
    pub(super) fn new(n_channels: usize) -> Self {
        Self {
            channels: vec![ChannelState::new(); n_channels],
            chords: vec![ChordState::new(); n_channels],
            matches: BTreeMap::new(),
            purity: None,
            purity_at: Seconds::new(f64::NEG_INFINITY),
            now: Seconds::new(0.0),
        }
    }

    /// Lets time pass.
    pub(super) fn tick(&mut self, now: Seconds) {
        self.now = now;
        for state in &mut self.channels {
            state.tick(now);
        }
        for chord in &mut self.chords {
            chord.tick(now);
        }
    }

    /// Forgets what shared channels remember beyond what sounds.
    pub(super) fn forget(&mut self) {
        for chord in &mut self.chords {
            chord.forget();
        }
    }

    pub(super) fn remeasure(&mut self, tunings: &[Tuning]) {
        for (state, tuning) in self.channels.iter_mut().zip(tunings) {
            state.remeasure(tuning);
        }
        for (chord, tuning) in self.chords.iter_mut().zip(tunings) {
            chord.remeasure(tuning);
        }
    }

    /// All voices that sound on the channels of `ensemble`, in its order.
    pub(super) fn voices<'a>(
        &'a self,
        ensemble: &'a Ensemble,
        tunings: &'a [Tuning],
    ) -> impl Iterator<Item = Voice<'a>> {
        let channels = ensemble.channels.iter().zip(tunings).enumerate();
        channels.flat_map(move |(index, (player, tuning))| {
            let alone = self.channels.get(index).filter(|_| !player.is_shared());
            let alone = alone.and_then(|state| {
                let sounding = state.sounding()?;
                let note = sounding.places().tempered.note;
                Some(Voice {
                    channel: index,
                    identity: None,
                    player,
                    label: VoiceLabel::of_player(player, sounding.needle().hertz(), note, tuning),
                    sounding,
                    margin: state.margin(),
                    told: Told::Alone(state.doing()),
                    matched: self.matches.get(&(index, None)),
                })
            });
            let chord = self.chords.get(index).filter(|_| player.is_shared());
            let span = chord.map(ChordState::span).unwrap_or_default();
            let shared = chord.into_iter().flat_map(ChordState::voices);
            let shared = shared.map(move |voice| Voice {
                channel: index,
                identity: Some(voice.identity()),
                player,
                label: voice.label(),
                sounding: voice.sounding(),
                margin: voice.margin(),
                told: Told::InChord {
                    standing: voice.standing(),
                    together: voice.together(),
                    is_named: voice.is_named(),
                    or_label: voice.or_label(),
                    span,
                },
                matched: self.matches.get(&(index, Some(voice.identity()))),
            });
            alone.into_iter().chain(shared)
        })
    }

    /// The match of a solo channel.
    pub(super) fn matched(&self, channel: usize) -> Option<&Match> {
        self.matches.get(&(channel, None))
    }

    /// The trumpets' chord that sounds or has just sounded, from low to high. Every voice is
    /// taken from the channel that knows it best, and no channel gives the same one twice.
    pub(super) fn trumpets(&self, ensemble: &Ensemble, tunings: &[Tuning]) -> Vec<HeldVoice> {
        let mut candidates = self.candidates(ensemble, tunings);
        let ended = candidates.iter().map(|candidate| candidate.ended.get());
        let last = ended.fold(f64::NEG_INFINITY, f64::max);
        if self.now.get() - last >= JUST_SOUNDED.get() {
            return Vec::new();
        }
        candidates.retain(|candidate| last - candidate.ended.get() < ONE_CHORD.get());
        // The latest heard of a channel first, which alone counts there, then the best known.
        let by_margin = |a: &Candidate, b: &Candidate| a.margin.get().total_cmp(&b.margin.get());
        candidates.sort_by(|a, b| {
            let latest_first = b.ended.get().total_cmp(&a.ended.get());
            latest_first.then_with(|| by_margin(a, b))
        });
        let mut heard: Vec<Candidate> = Vec::new();
        for candidate in candidates {
            let is_same = |other: &Candidate| {
                other.channel == candidate.channel && other.voice.label == candidate.voice.label
            };
            if !heard.iter().any(is_same) {
                heard.push(candidate);
            }
        }
        heard.sort_by(|a, b| a.source.cmp(&b.source).then_with(|| by_margin(a, b)));
        let mut voices: Vec<HeldVoice> = Vec::new();
        for Candidate { source, voice, .. } in heard {
            // Two who have a microphone each may well play the same.
            if source == Source::Solo || voices.iter().all(|other| other.label != voice.label) {
                voices.push(voice);
            }
        }
        voices.sort_by(|a, b| a.hertz.get().total_cmp(&b.hertz.get()));
        voices
    }

    /// Every trumpet that can still be held, of whatever channel.
    fn candidates(&self, ensemble: &Ensemble, tunings: &[Tuning]) -> Vec<Candidate> {
        let mut found = Vec::new();
        for (index, (player, tuning)) in ensemble.channels.iter().zip(tunings).enumerate() {
            let is_solo = !player.is_shared() && player.instrument.family == Family::Trumpets;
            let alone = self.channels.get(index).filter(|_| is_solo);
            if let Some((state, (part, ended))) = alone.and_then(|s| Some((s, s.steady()?))) {
                let note = tuning.place(part.hertz).tempered.note;
                let label = VoiceLabel::of_player(player, part.hertz, note, tuning);
                found.push(Candidate {
                    voice: held(label, part, player),
                    ended,
                    channel: index,
                    source: Source::Solo,
                    margin: state.margin(),
                });
            }
            let chord = self.chords.get(index).filter(|_| player.is_shared());
            let source = match player.instrument.family.companies() {
                [Company::Trumpets] => Source::Trumpets,
                _ => Source::Room,
            };
            for voice in chord.into_iter().flat_map(ChordState::remembered) {
                let label = voice.label();
                let is_trumpet = label.company() == Company::Trumpets;
                if let Some(part) = voice.steady().filter(|_| is_trumpet) {
                    let mut held = held(label, part, player);
                    held.or_label = voice.or_label();
                    found.push(Candidate {
                        voice: held,
                        ended: voice.heard_at(),
                        channel: index,
                        source,
                        margin: voice.margin(),
                    });
                }
            }
        }
        found
    }

    /// Finds everyone's place beside `held`, or beside the trumpets that sound where no chord
    /// is held.
    pub(super) fn rematch(
        &mut self,
        held: Option<&[HeldVoice]>,
        ensemble: &Ensemble,
        tunings: &[Tuning],
        elapsed: Seconds,
    ) {
        let live: Vec<HeldVoice>;
        let reference = if let Some(held) = held {
            held
        } else {
            live = self.sounding_trumpets(ensemble, tunings);
            &live
        };
        let mut matches = BTreeMap::new();
        for voice in self
            .voices(ensemble, tunings)
            .filter(|voice| !voice.is_absent())
        {
            let key = (voice.channel, voice.identity);
            let before = self.matches.get(&key);
            let hertz = voice.sounding.needle().hertz();
            let found = if voice.is_trumpet() {
                // A trumpet has its own place in the held chord, and none beside itself.
                let own = reference.iter().filter(|own| own.label == voice.label);
                let nearest = own.min_by(|a, b| {
                    let off = |own: &HeldVoice| hertz.above(own.hertz).abs().get();
                    off(a).total_cmp(&off(b))
                });
                held.and(nearest)
                    .map(|own| Match::own(hertz, own, before, elapsed))
            } else {
                Match::find(hertz, reference, before, elapsed)
            };
            if let Some(found) = found {
                matches.insert(key, found);
            }
        }
        self.matches = matches;
    }

    fn sounding_trumpets(&self, ensemble: &Ensemble, tunings: &[Tuning]) -> Vec<HeldVoice> {
        let trumpets = self.voices(ensemble, tunings);
        trumpets
            .filter(|voice| voice.is_trumpet() && !voice.is_absent())
            .map(|voice| HeldVoice {
                label: voice.label,
                hertz: voice.sounding.needle().hertz(),
                spread: voice.margin,
                channel: voice.player.name.clone(),
                or_label: None,
            })
            .collect()
    }

    /// Tells the purity of all that sounds, once a second at the most, so that it can be read.
    pub(super) fn weigh(&mut self, ensemble: &Ensemble, tunings: &[Tuning]) {
        if self.now - self.purity_at < PURITY_EVERY {
            return;
        }
        self.purity_at = self.now;
        let voices = self.voices(ensemble, tunings);
        let voices: Vec<Voice<'_>> = voices
            .filter(|voice| !voice.is_absent() && voice.player.visible)
            .collect();
        let notes: Vec<ChordNote> = voices
            .iter()
            .map(|voice| ChordNote {
                hertz: voice.sounding.needle().hertz(),
                partial: voice.label.partial(),
                reach: voice.reach(),
            })
            .collect();
        let names = voices.iter().map(Voice::name).collect();
        self.purity = Purity::of(&notes).map(|purity| LivePurity { purity, names });
    }

    /// The purity last told.
    pub(super) fn purity(&self) -> Option<&LivePurity> {
        self.purity.as_ref()
    }

    /// Whether something on the screen moves by itself.
    pub(super) fn is_moving(&self) -> bool {
        let sounds = self.channels.iter().any(|state| {
            state.meter().level().get() > -90.0 || state.trail().points().next().is_some()
        });
        sounds
            || self
                .chords
                .iter()
                .any(|chord| chord.voices().next().is_some())
    }
}

fn held(label: VoiceLabel, part: SteadyPart, player: &Channel) -> HeldVoice {
    HeldVoice {
        label,
        hertz: part.hertz,
        spread: part.spread,
        channel: player.name.clone(),
        or_label: None,
    }
}
