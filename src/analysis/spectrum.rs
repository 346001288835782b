//! One windowed spectrum: a real FFT of the latest samples, and the Hann-windowed spectrum
//! with its time derivative, both read off the same transform.

use std::sync::Arc;

use realfft::RealFftPlanner;
use realfft::RealToComplex;
use rustfft::num_complex::Complex;

use crate::units::SampleRate;

/// Highest frequency looked at, in hertz: the fifth partial of a trumpet's highest note and
/// twenty of a violin's lowest.
const HIGHEST_HZ: f64 = 8_000.0;

/// The spectrum of the latest samples through a Hann window of one length.
pub(super) struct Spectrum {
    fft: Arc<dyn RealToComplex<f32>>,
    input: Vec<f32>,
    output: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    /// Power of the Hann-windowed spectrum, scaled so that a sine of peak amplitude A on a
    /// bin has A^2.
    power: Vec<f32>,
    bin_hz: f64,
}

/// A Hann-windowed value and the derivative by which its frequency is found.
#[derive(Debug, Clone, Copy)]
struct HannBin {
    value: Complex<f32>,
    derivative: Complex<f32>,
}

impl Spectrum {
    /// A spectrum over `length` samples (even) at `rate`.
    pub(super) fn new(length: usize, rate: SampleRate, planner: &mut RealFftPlanner<f32>) -> Self {
        let fft = planner.plan_fft_forward(length);
        let bin_hz = rate.hz() / length as f64;
        let bins = ((HIGHEST_HZ / bin_hz) as usize).min(length / 2 - 2);
        Self {
            input: fft.make_input_vec(),
            output: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            fft,
            power: vec![0.0; bins],
            bin_hz,
        }
    }

    /// Samples in the window.
    pub(super) fn length(&self) -> usize {
        self.input.len()
    }

    /// Width of a bin in hertz.
    pub(super) fn bin_hz(&self) -> f64 {
        self.bin_hz
    }

    /// The highest frequency looked at.
    pub(super) fn highest_hz(&self) -> f64 {
        (self.power.len() - 1) as f64 * self.bin_hz
    }

    /// The power spectrum, bin by bin from zero.
    pub(super) fn power(&self) -> &[f32] {
        &self.power
    }

    /// Mean square of everything between two frequencies.
    pub(super) fn mean_square_between(&self, low_hz: f64, high_hz: f64) -> f64 {
        let bin = |hz: f64| ((hz / self.bin_hz).max(0.0) as usize).min(self.power.len());
        let (low, high) = (bin(low_hz), bin(high_hz));
        let sum: f32 = self.power[low..high.max(low)].iter().sum();
        // A sine of amplitude A spreads A^2 (1 + 2/4) over its bins: its mean square A^2/2
        // is a third of that.
        f64::from(sum) / 3.0
    }

    /// Transforms the last samples of `recent`, which holds at least a window's length.
    pub(super) fn transform(&mut self, recent: &[f32]) {
        let start = recent.len() - self.input.len();
        self.input.copy_from_slice(&recent[start..]);
        self.fft
            .process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch)
            .expect("buffers were made by the plan itself");
        // Multiplying by a Hann window is a convolution of three bins: 1/2, -1/4, -1/4.
        // A sine of amplitude A on a bin has |X| = A N / 4 there.
        let scale = (4.0 / self.input.len() as f32).powi(2);
        self.power[0] = 0.0;
        for (power, bins) in self.power[1..].iter_mut().zip(self.output.windows(3)) {
            let hann = bins[1] * 0.5 - (bins[0] + bins[2]) * 0.25;
            *power = hann.norm_sqr() * scale;
        }
    }

    /// How far the frequency at bin `bin` lies from the bin's centre, in bins.
    ///
    /// Frequency reassignment (Auger and Flandrin, IEEE Trans. Signal Processing 43, 1995):
    /// the derivative of the phase is the bin's frequency minus Im(X' / X), where X' uses
    /// the derivative of the window. Exact for a steady sine that is alone in the bin.
    pub(super) fn offset(&self, bin: usize) -> f64 {
        let HannBin { value, derivative } = self.hann(bin);
        let power = f64::from(value.norm_sqr());
        if power <= 0.0 {
            return 0.0;
        }
        // The Hann window's derivative is (pi / N) sin, whose transform is
        // (pi / N) (X[k-1] - X[k+1]) / 2i; N / (2 pi) turns radians a sample into bins.
        -f64::from((derivative * value.conj()).im) / power * 0.5
    }

    /// The Hann-windowed spectrum at `bin`, scaled so that a sine of peak amplitude A on a bin
    /// has magnitude A.
    pub(super) fn value(&self, bin: usize) -> Complex<f32> {
        self.hann(bin).value * (4.0 / self.input.len() as f32)
    }

    fn hann(&self, bin: usize) -> HannBin {
        let [left, centre, right] = [self.output[bin - 1], self.output[bin], self.output[bin + 1]];
        let half = (left - right) * 0.5;
        HannBin {
            value: centre * 0.5 - (left + right) * 0.25,
            // Division by i.
            derivative: Complex::new(half.im, -half.re),
        }
    }
}

/// A length near `seconds` that the FFT handles fast: even, with no prime factor above 5.
pub(super) fn fast_length(seconds: f64, rate: SampleRate) -> usize {
    let wanted = (seconds * rate.hz()).round().max(64.0) as usize;
    let smooth = |mut n: usize| {
        for p in [2, 3, 5] {
            while n.is_multiple_of(p) {
                n /= p;
            }
        }
        n == 1
    };
    (wanted..2 * wanted)
        .find(|n| n.is_multiple_of(2) && smooth(*n))
        .unwrap_or(wanted)
}
