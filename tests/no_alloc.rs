//! What runs on the sound card's thread, and each hop of the analysis, must not allocate: the
//! allocator of this binary aborts the test that does.

use assert_no_alloc::{AllocDisabler, assert_no_alloc};
use concento::analysis::Ears;
use concento::sound::capture::{Intake, MOST_CHANNELS, Outlet, with_capacity};
use concento::sound::device::Level;
use concento::sound::playback;
use concento::units::{FramePosition, SampleRate};

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

/// Callback sizes in frames: none, one, what drivers use, and what fits no block.
const SIZES: [usize; 8] = [0, 1, 31, 480, 512, 1023, 1025, 4800];

/// Calls the body of the data callback with each size, and takes the blocks out again.
fn run<T: Level + Default>(device_channels: usize, blocks: usize) -> (Intake, Outlet) {
    let (mut intake, mut outlet) = with_capacity(device_channels, blocks);
    for frames in SIZES {
        // One sample too many: an incomplete frame must do no harm.
        let samples = vec![T::default(); frames * device_channels + 1];
        assert_no_alloc(|| intake.take(&samples));
        assert_no_alloc(|| while outlet.advance() {});
    }
    (intake, outlet)
}

#[test]
fn the_callback_does_not_allocate_for_any_channel_count() {
    for channels in 1..=MOST_CHANNELS {
        let (_, outlet) = run::<f32>(channels, 256);
        let frames: usize = SIZES.iter().sum();
        let extra = if channels == 1 { SIZES.len() } else { 0 };
        assert_eq!(outlet.tally().frames(), (frames + extra) as u64);
        assert_eq!(outlet.tally().blocks_dropped(), 0, "{channels} channels");
    }
    run::<f32>(64, 256);
}

#[test]
fn the_callback_does_not_allocate_for_any_sample_format() {
    run::<i8>(2, 256);
    run::<i16>(2, 256);
    run::<i32>(2, 256);
    run::<i64>(2, 256);
    run::<u8>(2, 256);
    run::<u16>(2, 256);
    run::<u32>(2, 256);
    run::<u64>(2, 256);
    run::<f64>(2, 256);
}

#[test]
fn the_callback_does_not_allocate_when_the_ring_is_full_or_nobody_listens() {
    let (mut intake, outlet) = with_capacity(8, 2);
    let samples = vec![0_i16; 480 * 8];
    assert_no_alloc(|| {
        for _ in 0..100 {
            intake.take(&samples);
        }
    });
    assert!(outlet.tally().blocks_dropped() > 300);
    drop(outlet);
    assert_no_alloc(|| intake.take(&samples));
}

#[test]
fn the_error_callback_only_counts() {
    let (mut intake, outlet) = with_capacity(2, 64);
    let tally = intake.tally();
    let samples = vec![0.0_f32; 960];
    assert_no_alloc(|| {
        for _ in 0..50_000 {
            tally.count_error();
        }
        tally.count_overrun();
        intake.take(&samples);
    });
    assert_eq!(outlet.tally().errors(), 50_001);
}

/// Lets the device ask for each size while frames are ready, when they run out, and when they
/// are there again; then asks for the fade-out at the end.
fn drain<T: Level>(rate: SampleRate, device_channels: usize) {
    let (mut feed, mut drain) = playback::ring(rate, device_channels);
    // One sample too many: an incomplete frame must do no harm.
    let mut samples = vec![T::of(0.5); 4800 * device_channels + 1];
    let mut take = |frames: usize| {
        let asked = &mut samples[..frames * device_channels + usize::from(frames > 0)];
        assert_no_alloc(|| drain.fill(asked));
    };
    for _ in 0..3 {
        feed.fill(|stereo| stereo.fill(0.5));
        for frames in SIZES {
            take(frames);
        }
        // More than the ring can hold.
        for _ in 0..4 {
            take(4_800);
        }
    }
    let (_, missed) = feed.tally().played();
    assert!(missed > 0, "the ring has run dry");
    feed.fill(|stereo| stereo.fill(f32::NAN));
    take(480);
    feed.leave();
    for _ in 0..4 {
        take(480);
    }
    assert!(feed.is_silent());
    drop(feed);
    take(480);
}

#[test]
fn the_output_callback_does_not_allocate_when_frames_are_ready_nor_when_they_run_out() {
    let rate = SampleRate::new(48_000).unwrap();
    for channels in 1..=MOST_CHANNELS {
        drain::<f32>(rate, channels);
    }
    drain::<i8>(rate, 2);
    drain::<i16>(rate, 2);
    drain::<i32>(rate, 2);
    drain::<i64>(rate, 2);
    drain::<u8>(rate, 2);
    drain::<u16>(rate, 2);
    drain::<u32>(rate, 2);
    drain::<u64>(rate, 2);
    drain::<f64>(rate, 2);
}

#[test]
fn a_hop_of_analysis_does_not_allocate_whatever_sounds() {
    let rate = SampleRate::new(48_000).unwrap();
    let mut ears = Ears::new(rate, 2, &[0, 1]);
    let mut state = 1_u32;
    let mut noise = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (f64::from(state) / f64::from(u32::MAX) - 0.5) as f32
    };
    let tone = |hz: f64, i: usize| {
        let turn = std::f64::consts::TAU * hz * i as f64 / 48_000.0;
        (1..20)
            .map(|n| (turn * f64::from(n)).sin() / f64::from(n))
            .sum::<f64>() as f32
            * 0.2
    };
    // Silence, a note, another with a second one, noise, no numbers, and silence again.
    let sound: Vec<f32> = (0..144_000)
        .flat_map(|i| match i / 24_000 {
            0 | 5 => [0.0, 0.0],
            1 => [tone(82.4, i), tone(440.0, i)],
            2 => [tone(293.7, i), tone(293.7, i) + tone(440.0, i)],
            3 => [noise(), noise() * 0.01],
            _ => [f32::NAN, f32::INFINITY],
        })
        .collect();
    let (mut readings, mut pitched) = (0, 0);
    assert_no_alloc(|| {
        for (block, samples) in sound.chunks(960).enumerate() {
            // A gap every second makes the ears start afresh.
            let first = FramePosition::new(block as u64 * 480 + block as u64 / 100);
            ears.hear(first, samples, |_, reading| {
                readings += 1;
                pitched += usize::from(reading.pitch.is_ok());
            });
        }
    });
    assert!(readings > 590, "{readings}");
    assert!(pitched > 100, "{pitched}");
}
