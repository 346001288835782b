//! How player and drone beat: by their pitches, and by what the microphone hears.

use crate::drone::Sounding;
use crate::rehearsal::Pulse;
use crate::tuning::{Ratio, beat_between};
use crate::units::{Hertz, Seconds};

/// Beats between the player and the tone of the drone that is nearest to a pure interval.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Beats {
    /// By the pitches; none where nothing sounds, or no partials of both are near each other.
    pub computed: Option<Beating>,
    /// Beats a second, counted from the loudness of what the microphone hears; none where they
    /// cannot be heard there.
    pub measured_hz: Option<f64>,
    /// The swell of the computed beats.
    pub pulse: Option<Pulse>,
}

/// Which partials beat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beating {
    /// The drone's tone, by its place.
    pub tone: usize,
    /// The pure interval from it to the player, nearly.
    pub ratio: Ratio,
    /// Beats a second; positive where the player lies above the pure place.
    pub rate_hz: f64,
}

/// Beats faster than this are heard as roughness.
const FASTEST_HZ: f64 = 20.0;

impl Beats {
    /// Lets time pass while the player is at `player` and the drone sounds `tones`.
    pub(super) fn go_on(
        &mut self,
        player: Option<Hertz>,
        tones: &[Sounding],
        measured_hz: Option<f64>,
        elapsed: Seconds,
    ) {
        self.measured_hz = measured_hz;
        self.computed = player.and_then(|player| nearest(player, tones));
        match (self.computed, &mut self.pulse) {
            (Some(beating), Some(pulse)) => pulse.go_on(beating.rate_hz, elapsed),
            (Some(beating), none) => *none = Some(Pulse::new(beating.rate_hz)),
            (None, pulse) => *pulse = None,
        }
    }
}

/// The tone whose low partials meet the player's most nearly: slow beats first, and of those as
/// slow the simplest interval.
fn nearest(player: Hertz, tones: &[Sounding]) -> Option<Beating> {
    let beatings = tones.iter().enumerate().filter_map(|(tone, sounding)| {
        let beat = beat_between(sounding.hertz, player)?;
        let ratio = Ratio::new(beat.of_lower, beat.of_upper);
        let ratio = if player >= sounding.hertz {
            ratio
        } else {
            Ratio::new(ratio.under(), ratio.over())
        };
        let rate_hz = ratio.beats_hz(player, sounding.hertz);
        Some(Beating {
            tone,
            ratio,
            rate_hz,
        })
    });
    beatings
        .filter(|beating| beating.rate_hz.abs() <= FASTEST_HZ)
        .min_by(|a, b| {
            let simple = |beating: &Beating| beating.ratio.over() + beating.ratio.under();
            simple(a).cmp(&simple(b))
        })
}
