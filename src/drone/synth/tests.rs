use super::*;
use crate::analysis::Estimator;

fn rate() -> SampleRate {
    SampleRate::new(48_000).unwrap()
}

fn wanted(hz: &[f64], timbre: Timbre, db: f64) -> Wanted {
    let tone = |hz: &f64| WantedTone {
        hertz: Hertz::new(*hz).unwrap(),
        pan: 0.0,
    };
    Wanted {
        tones: hz.iter().map(tone).collect(),
        timbre,
        level: Dbfs::new(db),
    }
}

fn render(synth: &mut Synth, frames: usize) -> Vec<f32> {
    let mut stereo = vec![0.0; 2 * frames];
    synth.render(&mut stereo, |_| {});
    stereo
}

fn rms_db(stereo: &[f32]) -> f64 {
    let sum: f64 = stereo.iter().map(|s| f64::from(*s).powi(2)).sum();
    10.0 * (sum / stereo.len() as f64).log10()
}

#[test]
fn every_timbre_has_the_level_that_is_asked_for_and_does_not_clip() {
    for timbre in Timbre::ALL {
        for hz in [41.2, 146.8, 587.3, 2_000.0] {
            let mut synth = Synth::new(rate());
            synth.want(wanted(&[hz], timbre, -20.0));
            let sound = render(&mut synth, 96_000);
            let steady = &sound[2 * 48_000..];
            let db = rms_db(steady);
            assert!((db + 20.0).abs() < 0.05, "{timbre:?} {hz}: {db}");
            let peak = steady.iter().fold(0.0_f32, |peak, s| peak.max(s.abs()));
            assert!(peak < 0.6, "{timbre:?} {hz}: {peak}");
        }
    }
}

#[test]
fn tones_that_beat_are_never_above_the_level() {
    let mut synth = Synth::new(rate());
    synth.want(wanted(&[200.0, 200.5, 400.2], Timbre::Organ, -20.0));
    let sound = render(&mut synth, 6 * 48_000);
    let loudest = sound.chunks(9_600).map(rms_db).fold(-200.0, f64::max);
    assert!((-21.0..=-19.9).contains(&loudest), "{loudest}");
}

#[test]
fn the_estimator_reads_the_frequency_that_was_wanted() {
    for (timbre, hz) in [
        (Timbre::Organ, 146.83),
        (Timbre::Reed, 73.4),
        (Timbre::String, 440.0),
        (Timbre::Brass, 587.33),
        (Timbre::Sine, 1_046.5),
    ] {
        let mut synth = Synth::new(rate());
        synth.want(wanted(&[hz], timbre, -30.0));
        let sound = render(&mut synth, 96_000);
        let mut ear = Estimator::new(rate());
        let mut last = None;
        ear.push(sound.iter().step_by(2).copied(), |reading| {
            last = reading.pitch.ok();
        });
        let heard = last.unwrap().hertz.above(Hertz::new(hz).unwrap());
        assert!(heard.abs().get() < 0.02, "{timbre:?}: {heard:.4}");
    }
}

/// The phase of a frequency in a stretch of sound, against that of the same frequency counted
/// from frame 0.
fn phase(sound: &[f32], first: u64, hz: f64) -> f64 {
    let (mut re, mut im) = (0.0, 0.0);
    let length = sound.len() / 2;
    for (n, frame) in sound.chunks(2).enumerate() {
        let window = (std::f64::consts::PI * n as f64 / length as f64)
            .sin()
            .powi(2);
        // Whole turns are taken off by whole seconds, so that this clock is exact too.
        let frame_of_second = (first + n as u64) % 48_000;
        let turns = (hz * frame_of_second as f64 / 48_000.0).fract();
        let (sin, cos) = (std::f64::consts::TAU * turns).sin_cos();
        re += window * f64::from(frame[0]) * cos;
        im -= window * f64::from(frame[0]) * sin;
    }
    im.atan2(re)
}

#[test]
fn an_hour_on_the_frequency_is_as_it_was() {
    // A whole number of hertz, so that this test can count its phase without error.
    let hz = 147.0;
    let mut synth = Synth::new(rate());
    synth.want(wanted(&[hz], Timbre::Sine, -20.0));
    let _ = render(&mut synth, 48_000);
    let begun = phase(&render(&mut synth, 48_000), 48_000, hz);
    // An hour is passed over but for its last second, which is rendered on from there.
    let hour = 3_600 * 48_000;
    synth.frame = hour;
    let ended = phase(&render(&mut synth, 48_000), hour, hz);
    let turns = (ended - begun) / std::f64::consts::TAU;
    let off_hz = (turns - turns.round()) / 3_599.0;
    let cents = 1200.0 * (1.0 + off_hz / hz).log2();
    assert!(cents.abs() < 1e-7, "{cents}");
}

/// The loudest that is left of a sound after its own partials are taken out, as of a filter
/// that lets pass what lies above `hz`.
fn above(sound: &[f32], hz: f64) -> f64 {
    let mut planner = realfft::RealFftPlanner::<f64>::new();
    let size = 2_048;
    let forward = planner.plan_fft_forward(size);
    let mut loudest = 0.0_f64;
    let left: Vec<f64> = sound.iter().step_by(2).map(|s| f64::from(*s)).collect();
    for start in (0..left.len() - size).step_by(size / 4) {
        let mut block: Vec<f64> = left[start..start + size].to_vec();
        for (n, sample) in block.iter_mut().enumerate() {
            // Blackman-Harris of four terms: side lobes at -92 dB.
            let x = std::f64::consts::TAU * n as f64 / size as f64;
            *sample *=
                0.35875 - 0.48829 * x.cos() + 0.14128 * (2.0 * x).cos() - 0.01168 * (3.0 * x).cos();
        }
        let mut spectrum = forward.make_output_vec();
        forward.process(&mut block, &mut spectrum).unwrap();
        let from = (hz / 48_000.0 * size as f64) as usize;
        let power: f64 = spectrum[from..]
            .iter()
            .map(realfft::num_complex::Complex::norm_sqr)
            .sum();
        loudest = loudest.max((power * 2.0).sqrt() / size as f64 / 0.36);
    }
    20.0 * loudest.max(1e-12).log10()
}

#[test]
fn no_change_clicks() {
    // Sines far below the band that is listened to: whatever is heard there is a click.
    let mut synth = Synth::new(rate());
    let mut sound = Vec::new();
    for step in [
        wanted(&[147.0, 220.0], Timbre::Sine, -20.0),
        wanted(&[147.0, 220.5], Timbre::Sine, -20.0),
        wanted(&[147.0, 220.5], Timbre::Sine, -40.0),
        wanted(&[293.0], Timbre::Sine, -20.0),
        Wanted::silence(),
        wanted(&[293.0], Timbre::Sine, -20.0),
    ] {
        synth.want(step);
        // Changes that come in the middle of others among them.
        sound.extend(render(&mut synth, 3_000));
        sound.extend(render(&mut synth, 9_001));
    }
    let click = above(&sound, 1_500.0);
    assert!(click < -100.0, "{click}");
    // The measure itself: the same sound broken off is heard.
    let end = sound.len() / 4 * 2;
    for sample in &mut sound[end..end + 2_000] {
        *sample = 0.0;
    }
    assert!(above(&sound, 1_500.0) > -60.0);
}

#[test]
fn passages_tell_exactly_what_is_played() {
    let mut synth = Synth::new(rate());
    let mut passages = vec![Passage::silence()];
    let mut sound = Vec::new();
    for tones in [&[147.0, 184.0][..], &[165.0], &[]] {
        synth.want(wanted(tones, Timbre::Reed, -20.0));
        let mut stereo = vec![0.0; 2 * 12_345];
        synth.render(&mut stereo, |passage| passages.push(passage.clone()));
        sound.extend(stereo);
    }
    assert_eq!(passages.len(), 4);
    let mut worst = 0.0_f64;
    for frame in (0..sound.len() / 2).step_by(37) {
        let mut expected = 0.0;
        for (index, passage) in passages.iter().enumerate() {
            let next = passages.get(index + 1);
            let gone = next.map_or(0.0, |next| next.risen(frame as f64));
            let gain = passage.risen(frame as f64) - gone;
            let at = |c: &Component| f64::from(c.amplitude.0) * c.phase(frame as u64).sin();
            expected += gain * passage.components.iter().map(at).sum::<f64>();
        }
        worst = worst.max((expected - f64::from(sound[2 * frame])).abs());
    }
    // Gains go straight within a block of 64 frames: 1.3 ms of a ramp of 120.
    assert!(worst < 1e-4, "{worst}");
}
