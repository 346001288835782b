//! The time of a hop by what sounds, beside the bare FFTs of the same windows.
//!
//! ```text
//! cargo bench --bench kernels
//! ```
//!
//! Each round is one second of sound, 100 hops; the throughput is printed in hops a second.
//! `instructions.sh` counts instructions instead, which no other program disturbs.

#[path = "../signals/bare_ffts.rs"]
mod bare_ffts;
#[path = "../signals/sounds.rs"]
mod sounds;
#[allow(dead_code, reason = "the hearing bench uses the rest")]
#[path = "../signals/tones.rs"]
mod tones;

use std::hint::black_box;

use concento::analysis::{Estimator, HOP};
use concento::units::SampleRate;
use divan::Bencher;
use divan::counter::ItemsCount;

use bare_ffts::BareFfts;
use sounds::{RATE_HZ, Sound};

fn main() {
    divan::main();
}

fn rate() -> SampleRate {
    SampleRate::new(RATE_HZ).expect("48 kHz is a usable rate")
}

fn hop() -> usize {
    rate().frames_in(HOP).get() as usize
}

/// What hears hop by hop; the first second is heard beforehand, so that the windows are full.
#[divan::bench(args = Sound::ALL.map(Sound::word))]
fn estimator(bencher: Bencher<'_, '_>, word: &str) {
    let sound = Sound::ALL.into_iter().find(|sound| sound.word() == word);
    let second = sound.unwrap_or(Sound::Silence).second();
    let mut estimator = Estimator::new(rate());
    estimator.push(second.iter().copied(), |_| {});
    bencher
        .counter(ItemsCount::new(second.len() / hop()))
        .bench_local(|| {
            for block in second.chunks(hop()) {
                estimator.push(block.iter().copied(), |reading| {
                    black_box(reading);
                });
            }
        });
}

/// The FFTs alone.
#[divan::bench]
fn bare_ffts_alone(bencher: Bencher<'_, '_>) {
    let mut ffts = BareFfts::new(rate());
    let longest = ffts.longest();
    let sound: Vec<f32> = [Sound::Run.second(), Sound::Run.second()].concat();
    let hops = RATE_HZ as usize / hop();
    bencher.counter(ItemsCount::new(hops)).bench_local(|| {
        for at in 0..hops {
            ffts.run(&sound[at * hop()..at * hop() + longest]);
        }
    });
}
