//! What a drone plays, frame by frame, exactly: for whoever has to know it again.

use std::f64::consts::{PI, TAU};

/// One sinusoid.
///
/// Its phase is a whole number of 2⁻⁶⁴ turns and wraps by itself, so that it is the same
/// however long it has been sounding: frame n stands at `start + n * step`. Rounding the step
/// puts the frequency off by less than 3e-15 Hz.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Component {
    /// Phase at frame 0, in 2⁻⁶⁴ turns.
    pub start: u64,
    /// Phase from one frame to the next, in 2⁻⁶⁴ turns.
    pub step: u64,
    /// Peak amplitude on the left and on the right.
    pub amplitude: (f32, f32),
}

/// 2⁶⁴.
const WHOLE: f64 = 18_446_744_073_709_551_616.0;

impl Component {
    /// A sinusoid of `per_frame` turns a frame (0 to 0.5) that stands at `start` turns (0 to
    /// 1) at frame 0.
    pub fn new(per_frame: f64, start: f64, amplitude: (f32, f32)) -> Self {
        Self {
            start: (start.rem_euclid(1.0) * WHOLE) as u64,
            step: (per_frame * WHOLE) as u64,
            amplitude,
        }
    }

    /// Turns a frame.
    pub fn per_frame(&self) -> f64 {
        self.step as f64 / WHOLE
    }

    /// Phase at `frame`, in radians.
    pub fn phase(&self, frame: u64) -> f64 {
        let turns = self.start.wrapping_add(self.step.wrapping_mul(frame));
        turns as f64 * (TAU / WHOLE)
    }

    /// Phase at a moment between frames, in radians.
    pub fn phase_at(&self, frame: f64) -> f64 {
        let whole = frame.floor();
        // Negative frames wrap as they should.
        let turns = self
            .start
            .wrapping_add(self.step.wrapping_mul(whole as i64 as u64));
        turns as f64 * (TAU / WHOLE) + TAU * self.per_frame() * (frame - whole)
    }

    /// Both sides together.
    pub fn mono(&self) -> f64 {
        0.5 * f64::from(self.amplitude.0 + self.amplitude.1)
    }
}

/// What sounds from a frame on. It takes over from what sounded before within `ramp` frames,
/// by raised cosines that add up to one, so that a sinusoid both have in common is not heard to
/// change.
#[derive(Debug, Clone, PartialEq)]
pub struct Passage {
    /// The frame its first sound comes with.
    pub from: u64,
    /// How many frames it takes to be there.
    pub ramp: u64,
    /// Its sinusoids; none is silence.
    pub components: Vec<Component>,
}

impl Passage {
    /// Nothing, from the beginning on.
    pub fn silence() -> Self {
        Self {
            from: 0,
            ramp: 1,
            components: Vec::new(),
        }
    }

    /// How far it has come in at a frame, 0 to 1.
    pub fn risen(&self, frame: f64) -> f64 {
        let along = (frame - self.from as f64) / self.ramp as f64;
        0.5 - 0.5 * (PI * along.clamp(0.0, 1.0)).cos()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn phase_is_exact_after_a_day() {
        let component = Component::new(440.0 / 48_000.0, 0.25, (1.0, 1.0));
        // 440 turns a second are whole turns at every second: the start again.
        let day = 86_400 * 48_000;
        let off = component.phase(day) - component.phase(0);
        assert!(off.abs() < 1e-5, "{off}");
        let between = component.phase_at(1_000.5) - component.phase(1_000);
        assert!((between - 0.5 * TAU * 440.0 / 48_000.0).abs() < 1e-9);
        let before = component.phase(3) - component.phase_at(-5.0);
        let turns = before / TAU - 8.0 * 440.0 / 48_000.0;
        assert!((turns - turns.round()).abs() < 1e-9);
    }

    #[test]
    fn passages_rise_and_make_room() {
        let passage = Passage {
            from: 100,
            ramp: 50,
            components: Vec::new(),
        };
        assert!(passage.risen(99.0) < 1e-12 && passage.risen(150.0) > 1.0 - 1e-12);
        assert!((passage.risen(125.0) - 0.5).abs() < 1e-12);
    }
}
