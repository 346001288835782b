//! A scene ready to be played: who plays what when, and exactly how high.

use std::f64::consts::TAU;

use super::hiss::Wander;
use super::{AtEnd, LeaderAct, Room, Sound, VibratoScore};
use crate::tuning::{Chain, Tuning};
use crate::units::{Cents, Hertz, NoteName, Seconds};

/// A checked scene. Made by [`Scene::compose`].
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    pub(super) title: String,
    pub(super) about: String,
    pub(super) temperament: String,
    pub(super) tuning: Tuning,
    pub(super) length_s: f64,
    pub(super) at_end: AtEnd,
    pub(super) room: Option<Room>,
    pub(super) noise_dbfs: Option<f64>,
    pub(super) seed: u64,
    pub(super) leader: Vec<(f64, LeaderAct)>,
    pub(super) players: Vec<Player>,
}

/// One player of a scene: one channel.
#[derive(Debug, Clone, PartialEq)]
pub struct Player {
    pub(super) name: String,
    pub(super) instrument: String,
    pub(super) sound: Sound,
    pub(super) events: Vec<Event>,
    pub(super) wander: Wander,
    pub(super) shimmer: Wander,
}

/// One note of one player.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Event {
    pub(super) start_s: f64,
    pub(super) end_s: f64,
    pub(super) pitch: PitchLine,
    pub(super) vibrato: Option<VibratoScore>,
    /// RMS of the held note.
    pub(super) level_dbfs: f64,
    /// Soft (0) to loud (1).
    pub(super) loud: f64,
    pub(super) attack_s: f64,
    pub(super) release_s: f64,
    /// Whether it is part of a chord of one player.
    pub(super) in_chord: bool,
}

/// How high a note stands as time goes by, without vibrato and chance.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PitchLine {
    pub(super) base: Hertz,
    /// Its own path, and those of the notes it follows.
    pub(super) bends: Vec<Bend>,
    pub(super) drift_cents_per_s: f64,
}

/// A movement that begins at a moment of the scene.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Bend {
    pub(super) start_s: f64,
    pub(super) cents: f64,
    /// Seconds after the start, and cents.
    pub(super) path: Vec<(f64, f64)>,
}

impl Bend {
    fn at(&self, time_s: f64) -> f64 {
        let since = time_s - self.start_s;
        let next = self.path.partition_point(|(at, _)| *at <= since);
        let moved = match (
            next.checked_sub(1).map(|i| self.path[i]),
            self.path.get(next).copied(),
        ) {
            (None, None) => 0.0,
            (None, Some((_, cents))) | (Some((_, cents)), None) => cents,
            (Some((from_s, from)), Some((to_s, to))) => {
                // A glide that starts and ends gently.
                let share = (since - from_s) / (to_s - from_s);
                from + (to - from) * (0.5 - 0.5 * (share * TAU / 2.0).cos())
            }
        };
        self.cents + moved
    }

    /// Its highest point.
    fn most(&self) -> f64 {
        let highest = self.path.iter().map(|(_, cents)| *cents);
        self.cents + highest.fold(f64::NEG_INFINITY, f64::max).max(0.0)
    }
}

impl Event {
    /// The pitch at a moment of the scene, all movement included.
    pub(super) fn pitch_at(&self, player: &Player, time_s: f64) -> Hertz {
        let since = time_s - self.start_s;
        let manner = player.sound.manner();
        let bends: f64 = self.pitch.bends.iter().map(|bend| bend.at(time_s)).sum();
        let vibrato = self.vibrato.map_or(0.0, |vibrato| {
            // Grows over 0.4 s once it has begun.
            let grown = ((since - vibrato.after_s) / 0.4).clamp(0.0, 1.0);
            grown * vibrato.extent_cents * (TAU * vibrato.rate_hz * (since - vibrato.after_s)).sin()
        });
        let scoop = manner.scoop_cents * (-since.max(0.0) / manner.scoop_s).exp();
        let cents = bends + vibrato - scoop
            + self.pitch.drift_cents_per_s * time_s
            + player.wander.at(time_s);
        self.pitch.base.raised(Cents::new(cents))
    }

    /// A pitch it never exceeds before `until_s`.
    pub(super) fn highest(&self, player: &Player, until_s: f64) -> Hertz {
        let bends: f64 = self.pitch.bends.iter().map(Bend::most).sum();
        let vibrato = self.vibrato.map_or(0.0, |vibrato| vibrato.extent_cents);
        let drift = (self.pitch.drift_cents_per_s * until_s).max(0.0);
        self.pitch
            .base
            .raised(Cents::new(bends + vibrato + drift + player.wander.most()))
    }
}

impl Player {
    /// The role: "Trumpet II".
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The instrument's name in files: `natural-trumpet`.
    pub fn instrument(&self) -> &str {
        &self.instrument
    }

    /// What it sounds like.
    pub fn sound(&self) -> Sound {
        self.sound
    }

    /// When the notes begin and end, in order; the notes of a chord one after the other.
    pub fn notes(&self) -> impl Iterator<Item = (Seconds, Seconds)> {
        self.events
            .iter()
            .map(|event| (Seconds::new(event.start_s), Seconds::new(event.end_s)))
    }
}

impl Scene {
    /// The heading.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// One sentence on what is to be heard; may be empty.
    pub fn about(&self) -> &str {
        &self.about
    }

    /// Level of A4 in hertz.
    pub fn a4_hz(&self) -> f64 {
        self.tuning.standard().a4().get()
    }

    /// The temperament's name: `sixth-comma`.
    pub fn temperament(&self) -> &str {
        &self.temperament
    }

    /// The accidentals the keyboard owns.
    pub fn chain(&self) -> Chain {
        self.tuning.scale().chain()
    }

    /// The trumpets' key.
    pub fn key(&self) -> NoteName {
        self.tuning.series().key()
    }

    /// What the notes of the scene are placed by; the trumpets' partial 8 sounds the tonic.
    pub fn tuning(&self) -> &Tuning {
        &self.tuning
    }

    /// How long it lasts, once through.
    pub fn length(&self) -> Seconds {
        Seconds::new(self.length_s)
    }

    /// What happens at its end.
    pub fn at_end(&self) -> AtEnd {
        self.at_end
    }

    /// What the leader types, in the order written: minutes since the start, and what.
    pub fn leader(&self) -> &[(f64, LeaderAct)] {
        &self.leader
    }

    /// The players in the order of their channels; the first one is heard through input 1.
    pub fn players(&self) -> &[Player] {
        &self.players
    }

    /// The exact pitch of a player, counted from 0, at a moment since the start; a repeating
    /// scene goes round. For plucked strings it is that of the first partial.
    ///
    /// `None` where there is no such player, nothing is held (the sound of an ended note may
    /// still be dying) or the player holds a chord.
    pub fn truth(&self, player: usize, time: Seconds) -> Option<Hertz> {
        let player = self.players.get(player)?;
        let time_s = match self.at_end {
            AtEnd::Stop => time.get(),
            AtEnd::Repeat => time.get().rem_euclid(self.length_s),
        };
        let begun = player
            .events
            .partition_point(|event| event.start_s <= time_s);
        let event = &player.events[begun.checked_sub(1)?];
        (time_s < event.end_s && !event.in_chord).then(|| event.pitch_at(player, time_s))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(bend: &Bend, time_s: f64, expected: f64) {
        let cents = bend.at(time_s);
        assert!((cents - expected).abs() < 1e-9, "{time_s}: {cents}");
    }

    #[test]
    fn a_bend_glides_between_its_points_and_rests_outside() {
        let bend = Bend {
            start_s: 10.0,
            cents: 1.0,
            path: vec![(0.5, 18.0), (2.5, -2.0)],
        };
        check(&bend, 9.0, 19.0);
        check(&bend, 10.5, 19.0);
        check(&bend, 11.5, 9.0);
        check(&bend, 12.5, -1.0);
        check(&bend, 99.0, -1.0);
        assert!((bend.most() - 19.0).abs() < 1e-12);
    }

    #[test]
    fn a_note_without_a_path_stays() {
        let bend = Bend {
            start_s: 0.0,
            cents: -3.0,
            path: Vec::new(),
        };
        check(&bend, 0.0, -3.0);
        check(&bend, 5.0, -3.0);
    }
}
