//! What can be said of two strings from their bands.

use rustfft::num_complex::Complex;

use super::line::line;
use super::partials::{Role, Sought};
use super::pitch::{Pitch, Point};
use super::two_lines::two_lines;
use super::{Beats, Heard, Place, Wanted};
use crate::bearings::{End, Sense};
use crate::units::{Cents, Hertz};

type Window<'a> = &'a [Complex<f64>];

/// A line weaker than this beside another makes no beat that is heard: 26 dB.
const WEAKEST: f64 = 0.05;
/// What is left of the sound may be this much of the weaker line.
const MOST_UNEXPLAINED: f64 = 0.7;
/// Hops without which beats are not counted.
const FOR_BEATS: usize = 60;
/// Turns that two lines must come apart by within a window to be told from one.
const LEAST_TURNS: f64 = 0.25;
/// Standard errors that a margin has: nineteen times in twenty.
const ERRORS: f64 = 2.0;
/// No rate is stated finer.
const FINEST_HZ: f64 = 0.05;
/// A pitch whose standard error is a larger part of it is none: 1.7 cents.
const LEAST_CERTAIN: f64 = 0.001;
/// A line whose standard error is less is no noise.
const CLEAR_HZ: f64 = 0.05;
/// So far from the middle of its band a partial may lie.
const WITHIN_HZ: f64 = 22.0;
/// Two partials of one string depart from each other by no more than this part.
const SAME_STRING: f64 = 0.006;

/// What is heard in the bands' windows, of which some hold sound.
pub(super) fn judge(sought: &Sought, windows: &[Window], sounds: &[bool], hop_s: f64) -> Heard {
    let ears = Ears {
        sought,
        windows,
        sounds,
        hop_s,
    };
    match sought.wanted {
        Wanted::One(target) => match ears.pitch(Role::Upper) {
            Some(pitch) => Heard::One {
                end: End::Upper,
                place: place(pitch.partial(1), target),
            },
            None => Heard::Quiet,
        },
        Wanted::Two {
            lower,
            upper,
            ratio,
        } => ears.two(lower, upper, (ratio.over(), ratio.under())),
    }
}

fn place((hz, error_hz): (f64, f64), target: Hertz) -> Place {
    let hertz = Hertz::new(hz).unwrap_or(target);
    Place {
        hertz,
        from_target: hertz.above(target),
        margin: Cents::of_ratio(hz + ERRORS * error_hz, hz),
    }
}

struct Ears<'a> {
    sought: &'a Sought,
    windows: &'a [Window<'a>],
    sounds: &'a [bool],
    hop_s: f64,
}

/// Two lines and how sure they are.
#[derive(Debug, Clone, Copy)]
struct Apart {
    /// Of both lines, in hertz.
    at_hz: [f64; 2],
    margin_hz: f64,
}

impl Ears<'_> {
    /// The string whose own partials these are, if it sounds.
    fn pitch(&self, role: Role) -> Option<Pitch> {
        let bands = self.sought.bands.iter().enumerate();
        let mut points: Vec<Point> = bands
            .filter(|(place, band)| band.role == role && self.sounds[*place])
            .filter_map(|(place, band)| {
                let line = line(self.windows[place], self.hop_s)?;
                // What lies farther out is the skirt of another string's partial.
                (line.offset_hz.abs() <= WITHIN_HZ).then_some(Point {
                    partial: band.partial,
                    hz: band.centre_hz + line.offset_hz,
                    error_hz: line.error_hz,
                })
            })
            .collect();
        // The lowest one leads: what does not lie near its multiples is another's.
        let lead = points.first().map(|p| p.hz / f64::from(p.partial))?;
        points.retain(|p| (p.hz / f64::from(p.partial) / lead - 1.0).abs() < SAME_STRING);
        // Noise looks like a line now and then, but hardly like two of one string.
        if points.len() < 2 && points.iter().any(|point| point.error_hz > CLEAR_HZ) {
            return None;
        }
        // Partials that hardly agree are no string's.
        Pitch::of(&points).filter(|pitch| {
            let (hz, error) = pitch.partial(1);
            error < LEAST_CERTAIN * hz
        })
    }

    fn has_own(&self, role: Role) -> bool {
        self.sought.bands.iter().any(|band| band.role == role)
    }

    /// The band both share: its middle and its window, if anything sounds there.
    fn shared(&self) -> Option<(f64, Window<'_>)> {
        let mut bands = self.sought.bands.iter().enumerate();
        let (place, band) = bands.find(|(_, band)| band.role == Role::Shared)?;
        self.sounds[place].then_some((band.centre_hz, self.windows[place]))
    }

    fn two(&self, lower: Hertz, upper: Hertz, (of_lower, of_upper): (u32, u32)) -> Heard {
        let low = self.pitch(Role::Lower);
        let high = self.pitch(Role::Upper);
        match (low, high) {
            (Some(low), Some(high)) => {
                let [a, b] = [low.partial(of_lower), high.partial(of_upper)];
                Heard::Both {
                    lower: Some(place(low.partial(1), lower)),
                    upper: Some(place(high.partial(1), upper)),
                    beats: self.beats(a, b),
                    is_sure_of_both: true,
                }
            }
            (Some(low), None) if self.has_own(Role::Upper) => Heard::One {
                end: End::Lower,
                place: place(low.partial(1), lower),
            },
            (Some(low), None) => self.octave(low, lower, upper, (of_lower, of_upper)),
            (None, Some(high)) => Heard::One {
                end: End::Upper,
                place: place(high.partial(1), upper),
            },
            (None, None) => self.upper_alone(upper, of_upper),
        }
    }

    /// The upper string where it has no partial of its own, and the lower one does not sound.
    fn upper_alone(&self, upper: Hertz, of_upper: u32) -> Heard {
        let alone = self.shared().filter(|_| !self.has_own(Role::Upper));
        let line = alone.and_then(|(centre, window)| {
            let line = line(window, self.hop_s)?;
            Some((centre + line.offset_hz, line.error_hz))
        });
        match line {
            Some((hz, error)) => {
                let number = f64::from(of_upper);
                Heard::One {
                    end: End::Upper,
                    place: place((hz / number, error / number), upper),
                }
            }
            None => Heard::Quiet,
        }
    }

    /// A pair whose upper string has no partial of its own: the line that is not the lower
    /// string's is the upper one's.
    fn octave(
        &self,
        low: Pitch,
        lower: Hertz,
        upper: Hertz,
        (of_lower, of_upper): (u32, u32),
    ) -> Heard {
        let lower = Some(place(low.partial(1), lower));
        let apart = self
            .shared()
            .and_then(|(centre, window)| self.apart(centre, window));
        let Some(apart) = apart else {
            let length = self.seconds();
            let beats = if self.windows[0].len() < FOR_BEATS {
                Beats::NotYet
            } else {
                Beats::Still {
                    within_hz: (LEAST_TURNS / length).max(FINEST_HZ),
                }
            };
            return Heard::Both {
                lower,
                upper: None,
                beats,
                is_sure_of_both: false,
            };
        };
        let (expected, error) = low.partial(of_lower);
        let off = apart.at_hz.map(|hz| (hz - expected).abs());
        let [own, other] = if off[0] <= off[1] { [0, 1] } else { [1, 0] };
        // Proved only where the other line cannot be the lower string's.
        let is_proved = off[other] - off[own] > ERRORS * error + apart.margin_hz;
        let rate = apart.at_hz[other] - apart.at_hz[own];
        let number = f64::from(of_upper);
        let error = apart.margin_hz / ERRORS / number;
        Heard::Both {
            lower,
            upper: is_proved.then(|| place((apart.at_hz[other] / number, error), upper)),
            beats: Beats::Counted {
                rate_hz: rate.abs(),
                margin_hz: apart.margin_hz,
                sense: is_proved.then(|| sense(rate)),
            },
            is_sure_of_both: true,
        }
    }

    fn seconds(&self) -> f64 {
        self.windows
            .first()
            .map_or(0.0, |w| w.len() as f64 * self.hop_s)
    }

    /// How two strings beat whose shared partials are expected at `a` and `b`, by their pitches,
    /// each with its standard error.
    fn beats(&self, a: (f64, f64), b: (f64, f64)) -> Beats {
        let expected = b.0 - a.0;
        let error = a.1.hypot(b.1);
        if self.windows[0].len() < FOR_BEATS {
            return Beats::NotYet;
        }
        let apart = self
            .shared()
            .and_then(|(centre, window)| self.apart(centre, window));
        let is_proved = expected.abs() > ERRORS * error;
        let Some(apart) = apart else {
            let least = (LEAST_TURNS / self.seconds()).max(FINEST_HZ);
            return if is_proved && expected.abs() > 2.0 * least {
                Beats::Counted {
                    rate_hz: expected.abs(),
                    margin_hz: (ERRORS * error).max(FINEST_HZ),
                    sense: Some(sense(expected)),
                }
            } else {
                Beats::Still {
                    within_hz: least.max(expected.abs() + ERRORS * error),
                }
            };
        };
        let rate = (apart.at_hz[1] - apart.at_hz[0]).abs();
        let agree = (rate - expected.abs()).abs() <= 3.0 * error + apart.margin_hz + 0.3;
        Beats::Counted {
            rate_hz: rate,
            // Lines that are not where the pitches have them may be others.
            margin_hz: if agree {
                apart.margin_hz
            } else {
                apart.margin_hz.max((rate - expected.abs()).abs())
            },
            sense: (is_proved && agree).then(|| sense(expected)),
        }
    }

    /// Two lines in a window, if there are two.
    fn apart(&self, centre: f64, window: Window) -> Option<Apart> {
        let whole = two_lines(window, self.hop_s)?;
        let turns = |hz: f64| hz.abs() * window.len() as f64 * self.hop_s;
        let gap = whole.offsets_hz[1] - whole.offsets_hz[0];
        let is_there = whole.weaker >= WEAKEST
            && whole.unexplained <= MOST_UNEXPLAINED
            && turns(gap) >= LEAST_TURNS;
        if !is_there || window.len() < FOR_BEATS {
            return None;
        }
        // The same from parts of the window: how much that differs is how sure it is.
        let part = window.len() * 3 / 4;
        let parts = [&window[..part], &window[window.len() - part..]];
        let rates = parts.map(|part| {
            two_lines(part, self.hop_s).map_or(0.0, |found| {
                (found.offsets_hz[1] - found.offsets_hz[0]).abs()
            })
        });
        let differs = rates.map(|rate| (rate - gap.abs()).abs());
        let margin_hz = differs[0].max(differs[1]).max(FINEST_HZ);
        Some(Apart {
            at_hz: whole.offsets_hz.map(|offset| centre + offset),
            margin_hz,
        })
    }
}

fn sense(signed_hz: f64) -> Sense {
    if signed_hz < 0.0 {
        Sense::Narrow
    } else {
        Sense::Wide
    }
}
