//! The least that windows can cost: their real FFTs and nothing else.

use std::sync::Arc;

use concento::analysis::window_lengths;
use concento::units::SampleRate;
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};

/// Real FFTs in single precision of the latest samples, one for each window.
pub(crate) struct BareFfts {
    transforms: Vec<Transform>,
}

struct Transform {
    plan: Arc<dyn RealToComplex<f32>>,
    input: Vec<f32>,
    output: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
}

impl BareFfts {
    /// Plans of the estimator's windows at `rate`.
    pub(crate) fn new(rate: SampleRate) -> Self {
        Self::of(&window_lengths(rate))
    }

    /// Plans of windows of these `lengths`, in samples.
    pub(crate) fn of(lengths: &[usize]) -> Self {
        let mut planner = RealFftPlanner::new();
        let transforms = lengths.iter().map(|&length| {
            let plan = planner.plan_fft_forward(length);
            Transform {
                input: plan.make_input_vec(),
                output: plan.make_output_vec(),
                scratch: plan.make_scratch_vec(),
                plan,
            }
        });
        Self {
            transforms: transforms.collect(),
        }
    }

    /// Samples of the longest window.
    pub(crate) fn longest(&self) -> usize {
        self.transforms
            .iter()
            .map(|t| t.input.len())
            .max()
            .unwrap_or(0)
    }

    /// Transforms the end of `recent`, which holds at least the longest window. Copying the
    /// samples is part of it, as a transform destroys its input.
    pub(crate) fn run(&mut self, recent: &[f32]) {
        for transform in &mut self.transforms {
            let start = recent.len() - transform.input.len();
            transform.input.copy_from_slice(&recent[start..]);
            transform
                .plan
                .process_with_scratch(
                    &mut transform.input,
                    &mut transform.output,
                    &mut transform.scratch,
                )
                .expect("the plan itself made its buffers");
            std::hint::black_box(&transform.output);
        }
    }
}
