//! One channel's ear for chords: samples in, the voices of about the last second out.

use super::follow::Following;
use super::ground::Ground;
use super::heard::{ChordSound, Company, HeardChord, HeardVoice, Sought, VoiceStatus};
use super::pitches::{find, settle};
use super::search::Search;
use super::span::{STEP_S, Span, WINDOWS};
use super::trail::Trail;
use super::verdict::{GIVEN, SEARCHED, judge};
use super::window::Lens;
use crate::analysis::Effort;
use crate::units::{Dbfs, FramePosition, Frames, SampleRate, Seconds};

/// The time from one chord to the next, at full [`Effort`].
pub const CHORD_HOP: Seconds = Seconds::new(STEP_S);

/// The pitch of a voice is its mean over this long, weighed by a Hann window.
const SPAN: Seconds = Seconds::new(1.0);
/// The most voices that can be told apart.
pub const MOST_VOICES: usize = 8;
/// Below this level nothing sounds, in dBFS.
const SILENCE: f64 = -70.0;

/// Hears the voices of one channel.
pub struct ChordEar {
    rate: SampleRate,
    hop: usize,
    sought: Sought,
    lens: Lens,
    /// The latest samples, as many as a window takes.
    recent: Vec<f32>,
    gathered: usize,
    position: FramePosition,
    effort: Effort,
    /// Hops since the last chord that was told.
    passed: u32,
    span: Span,
    /// Hops heard since the start, up to those that fill the span.
    n_windows: usize,
    levels: [f64; WINDOWS],
    ground: Ground,
    following: Following,
}

impl ChordEar {
    /// An ear for sound at `rate` that looks for `sought`.
    pub fn new(rate: SampleRate, sought: Sought) -> Self {
        let lens = Lens::new(rate);
        Self {
            rate,
            hop: rate.frames_in(CHORD_HOP).get() as usize,
            sought,
            recent: vec![0.0; lens.length()],
            lens,
            gathered: 0,
            position: FramePosition::START,
            effort: Effort::Full,
            passed: 0,
            span: Span::default(),
            n_windows: 0,
            levels: [0.0; WINDOWS],
            ground: Ground::default(),
            following: Following::default(),
        }
    }

    /// Looks for something else from now on. Where only the places have moved, as with another
    /// temperament, voices stay who they are.
    pub fn seek(&mut self, sought: Sought) {
        let companies = |sought: &Sought| -> Vec<Company> {
            sought.places().iter().map(|place| place.company).collect()
        };
        if companies(&sought) != companies(&self.sought) {
            self.following.forget();
        }
        self.sought = sought;
    }

    /// Starts afresh at `position`, as after a gap in the stream.
    pub fn restart(&mut self, position: FramePosition) {
        self.recent.fill(0.0);
        self.gathered = 0;
        self.position = position;
        self.passed = 0;
        self.n_windows = 0;
        self.following.forget();
    }

    /// Tells chords as often as this allows, and in a free search no more voices than it allows.
    pub fn spend(&mut self, effort: Effort) {
        self.effort = effort;
    }

    /// Takes samples of this channel and hands each chord that falls due to `each`.
    /// Samples that are not finite count as silence.
    pub fn push(
        &mut self,
        samples: impl IntoIterator<Item = f32>,
        mut each: impl FnMut(&HeardChord),
    ) {
        for sample in samples {
            // The samples move down once a hop, below.
            let at = self.recent.len() - self.hop + self.gathered;
            self.recent[at] = if sample.is_finite() {
                sample.clamp(-8.0, 8.0)
            } else {
                0.0
            };
            self.gathered += 1;
            if self.gathered == self.hop {
                self.gathered = 0;
                self.position = self.position + Frames::new(self.hop as u64);
                self.look();
                self.passed += 1;
                if self.passed >= self.effort.stride() {
                    self.passed = 0;
                    each(&self.hear());
                }
                self.recent.copy_within(self.hop.., 0);
            }
        }
    }

    /// Takes in the newest window: every hop, so that the span has no gaps.
    fn look(&mut self) {
        self.span.windows.rotate_left(1);
        self.levels.rotate_left(1);
        self.levels[WINDOWS - 1] = without_direct_current(&self.recent);
        self.lens
            .look(&self.recent, &mut self.span.windows[WINDOWS - 1]);
        self.n_windows = (self.n_windows + 1).min(WINDOWS + self.first_hops());
    }

    fn hear(&mut self) -> HeardChord {
        let level = Dbfs::of_mean_square(self.levels.iter().sum::<f64>() / WINDOWS as f64);
        let (sound, voices) = if Dbfs::of_mean_square(self.levels[WINDOWS - 1]).get() < SILENCE {
            self.following.forget();
            (ChordSound::Silent, Vec::new())
        } else if self.n_windows < WINDOWS + self.first_hops() {
            (ChordSound::Settling, Vec::new())
        } else {
            self.voices()
        };
        let now = self.position.at(self.rate);
        let window = Frames::new(self.lens.length() as u64).at(self.rate);
        let reach = Seconds::new(0.5 * window.get() - Span::offset_s(0));
        HeardChord {
            time: now - reach,
            available: now,
            span: SPAN,
            level,
            sound,
            voices,
        }
    }

    /// Hops until the first window is full of sound.
    fn first_hops(&self) -> usize {
        self.lens.length().div_ceil(self.hop) - 1
    }

    fn voices(&mut self) -> (ChordSound, Vec<HeardVoice>) {
        let span = &mut self.span;
        span.trust_afresh();
        let (trails, strictness) = match &self.sought {
            Sought::Expected(places) => {
                let mut trails: Vec<Trail> = places
                    .iter()
                    .enumerate()
                    .map(|(index, place)| Trail::at(index, place.hertz.get()))
                    .collect();
                find(span, &mut trails, &mut self.ground);
                (trails, GIVEN)
            }
            Sought::Free { places, most } => {
                let most = (*most).clamp(1, MOST_VOICES.min(self.effort.voices()));
                let followed = self.following.pitches();
                let search = Search::new(span, places, most, &followed);
                let mut trails = search.find(&mut self.ground);
                for trail in &mut trails {
                    trail.bends = [0.0; WINDOWS];
                }
                settle(span, &mut trails, &mut self.ground);
                (trails, SEARCHED)
            }
        };
        let (mut voices, n_moving) = judge(span, &trails, strictness, &mut self.ground);
        let n_held = voices
            .iter()
            .filter(|voice| voice.status != VoiceStatus::Absent)
            .count();
        // One who comes or goes disturbs nobody; where half of them do, the chord changes.
        if n_moving > 0 && n_moving >= n_held {
            return (ChordSound::Settling, Vec::new());
        }
        self.following.name(&mut voices, &self.sought);
        (ChordSound::Held, voices)
    }
}

/// The mean square of a window; direct current is no sound, and a window holds several periods
/// of the lowest note.
fn without_direct_current(window: &[f32]) -> f64 {
    let count = window.len().max(1) as f64;
    let (sum, squares) = window.iter().fold((0.0, 0.0), |(sum, squares), sample| {
        let sample = f64::from(*sample);
        (sum + sample, squares + sample * sample)
    });
    (squares / count - (sum / count).powi(2)).max(0.0)
}
