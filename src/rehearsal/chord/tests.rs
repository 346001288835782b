use super::*;
use crate::analysis::chord::Beating;
use crate::rehearsal::VoiceLabel;
use crate::rehearsal::tests::{chord, sixth_comma, voice};
use proptest::prelude::*;

const NAMES: [&str; 4] = ["p8", "p12", "A4", "D5"];

fn names() -> SoughtVoices {
    let labels: Vec<VoiceLabel> = NAMES.iter().map(|name| name.parse().unwrap()).collect();
    SoughtVoices::expected(&labels, &sixth_comma())
}

fn hear(state: &mut ChordState, time: f64, sound: ChordSound, voices: &[HeardVoice]) {
    let time = Seconds::new(time);
    state.tick(time);
    let tuning = sixth_comma();
    state.hear(&chord(sound, voices), time, &names(), &tuning);
}

fn seen(state: &ChordState) -> Vec<String> {
    let tell = |voice: &ChordVoice| format!("{:#} {:?}", voice.label(), voice.standing());
    state.voices().map(tell).collect()
}

fn hz(label: &str) -> f64 {
    label
        .parse::<VoiceLabel>()
        .unwrap()
        .frequency(&sixth_comma())
        .get()
}

#[test]
fn voices_stand_while_the_chord_is_held_and_linger_shortly() {
    let mut state = ChordState::new();
    assert_eq!(state.sound(), None);
    let voices = [voice(7, 1, hz("p12")), voice(4, 0, hz("p8"))];
    hear(&mut state, 1.0, ChordSound::Held, &voices);
    assert_eq!(seen(&state), ["p8 Clear", "p12 Clear"], "from low to high");
    hear(&mut state, 1.2, ChordSound::Settling, &[]);
    assert_eq!(seen(&state).len(), 2);
    hear(&mut state, 1.6, ChordSound::Settling, &[]);
    assert!(seen(&state).is_empty());
    assert_eq!(state.remembered().count(), 2, "they can still be held");
    hear(&mut state, 3.1, ChordSound::Silent, &[]);
    hear(&mut state, 4.1, ChordSound::Silent, &[]);
    hear(&mut state, 5.1, ChordSound::Silent, &[]);
    assert_eq!(state.remembered().count(), 0);
    let quiet = state.quiet_for().unwrap().get();
    assert!((quiet - 2.0).abs() < 1e-9);
    state.tick(Seconds::new(7.0));
    assert_eq!(state.sound(), None, "nothing more is heard of the channel");
}

#[test]
fn a_voice_is_followed_by_its_identity() {
    let mut state = ChordState::new();
    let start = hz("p8");
    hear(&mut state, 1.0, ChordSound::Held, &[voice(4, 0, start)]);
    for step in 1..=10 {
        let time = 1.0 + 0.2 * f64::from(step);
        hear(
            &mut state,
            time,
            ChordSound::Held,
            &[voice(4, 0, start * 1.004)],
        );
    }
    let followed: Vec<&ChordVoice> = state.voices().collect();
    assert_eq!(followed.len(), 1);
    let cents = followed[0].sounding().needle().figure().get() / start;
    assert!(
        (1200.0 * cents.log2() - 6.9).abs() < 0.3,
        "led to the new pitch"
    );
    // Eleven measurements of which ten agree.
    let part = followed[0].steady().unwrap();
    assert!((part.hertz.get() - start * 1.004).abs() < 1e-9);
}

#[test]
fn a_standing_is_shown_when_it_was_heard_twice() {
    let mut state = ChordState::new();
    let clear = voice(4, 0, hz("p8"));
    let doubtful = HeardVoice {
        status: VoiceStatus::Doubtful,
        ..clear
    };
    hear(&mut state, 1.0, ChordSound::Held, &[clear]);
    hear(&mut state, 1.2, ChordSound::Held, &[doubtful]);
    assert_eq!(seen(&state), ["p8 Clear"]);
    hear(&mut state, 1.4, ChordSound::Held, &[clear]);
    hear(&mut state, 1.6, ChordSound::Held, &[doubtful]);
    assert_eq!(seen(&state), ["p8 Clear"], "the count begins again");
    hear(&mut state, 1.8, ChordSound::Held, &[doubtful]);
    assert_eq!(seen(&state), ["p8 Doubtful"]);
    assert!(
        state.voices().next().unwrap().steady().is_none(),
        "too rough to be held"
    );
}

#[test]
fn merged_voices_name_the_other() {
    let mut state = ChordState::new();
    let merged = HeardVoice {
        status: VoiceStatus::Merged {
            with: 0,
            partial: 2,
        },
        ..voice(9, 3, hz("D5"))
    };
    hear(
        &mut state,
        1.0,
        ChordSound::Held,
        &[voice(4, 2, hz("A4")), merged],
    );
    let standing = state.voices().last().unwrap().standing();
    let with = "A4".parse().unwrap();
    assert_eq!(standing, Standing::Merged { with, partial: 2 });
    // A voice that is not there cannot be named.
    let lost = HeardVoice {
        status: VoiceStatus::Merged {
            with: 5,
            partial: 2,
        },
        ..voice(10, 0, hz("p8"))
    };
    hear(&mut state, 1.2, ChordSound::Held, &[lost]);
    assert!(seen(&state).contains(&"p8 Doubtful".to_owned()));
}

#[test]
fn voices_together_beat_at_one_rate() {
    let mut state = ChordState::new();
    let pair = |identity, place, with| HeardVoice {
        beating: Some(Beating { with, rate_hz: 2.0 }),
        is_named: false,
        ..voice(identity, place, hz("p8"))
    };
    hear(
        &mut state,
        1.0,
        ChordSound::Held,
        &[pair(1, 0, 1), pair(2, 3, 0)],
    );
    let together = *state.voices().next().unwrap().together().unwrap();
    assert_eq!(
        (format!("{:#}", together.with), together.identity),
        ("D5".into(), 2)
    );
    state.tick(Seconds::new(1.25));
    let pulse = state.voices().next().unwrap().together().unwrap().pulse;
    assert!(
        pulse.swell().unwrap() < 1e-9,
        "a quarter of a second is half a beat"
    );
    assert!(
        state.voices().all(|voice| voice.steady().is_none()),
        "whose pitch is it?"
    );
}

#[test]
fn a_lone_voice_that_is_not_named_goes_by_its_partial() {
    let mut state = ChordState::new();
    let unnamed = |place, or_place| HeardVoice {
        is_named: false,
        or_place: Some(or_place),
        ..voice(1, place, hz("p8"))
    };
    // p8 or D5, whichever seems likelier.
    for (step, heard) in [unnamed(0, 3), unnamed(3, 0)].into_iter().enumerate() {
        let time = 1.0 + 0.2 * step as f64;
        hear(&mut state, time, ChordSound::Held, &[heard]);
        let voice = state.voices().next().unwrap();
        let other = voice.or_label().map(|label| format!("{label:#}"));
        assert_eq!(
            (format!("{:#}", voice.label()), other),
            ("p8".into(), Some("D5".into()))
        );
        assert!(voice.steady().is_some(), "it can be held");
    }
    hear(&mut state, 1.4, ChordSound::Held, &[voice(1, 3, hz("D5"))]);
    let named = state.voices().next().unwrap();
    assert_eq!(
        format!("{:#} {:?}", named.label(), named.or_label()),
        "D5 None"
    );
}

#[test]
fn a_voice_under_another_identity_takes_the_place_of_the_old() {
    let mut state = ChordState::new();
    let old = [voice(1, 0, hz("p8")), voice(2, 1, hz("p12"))];
    hear(&mut state, 1.0, ChordSound::Held, &old);
    hear(&mut state, 1.2, ChordSound::Held, &[voice(7, 0, hz("p8"))]);
    let identities: Vec<u32> = state.voices().map(ChordVoice::identity).collect();
    assert_eq!(identities, [7, 2], "p12 lingers, p8 stands once");
    state.tick(Seconds::new(1.6));
    state.forget();
    let kept: Vec<u32> = state.remembered().map(ChordVoice::identity).collect();
    assert_eq!(kept, [7], "what sounds outlasts another tuning");
}

#[test]
fn an_absent_voice_that_enters_begins_anew() {
    let mut state = ChordState::new();
    let absent = HeardVoice {
        status: VoiceStatus::Absent,
        ..voice(4, 0, hz("p8"))
    };
    hear(&mut state, 1.0, ChordSound::Held, &[absent]);
    assert_eq!(seen(&state), ["p8 Absent"]);
    hear(
        &mut state,
        1.2,
        ChordSound::Held,
        &[voice(4, 0, hz("p8") * 1.01)],
    );
    assert_eq!(seen(&state), ["p8 Clear"], "at once");
    let needle = state.voices().next().unwrap().sounding().needle().hertz();
    assert!(
        (needle.get() / hz("p8") - 1.01).abs() < 1e-9,
        "without a slide from its place"
    );
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn whatever_is_heard_can_be_shown(
        heard in prop::collection::vec((0_u32..4, 0_usize..6, 0_u8..5, 0_usize..5, 60.0..2000.0_f64), 0..40),
    ) {
        let mut state = ChordState::new();
        for (step, chunk) in heard.chunks(4).enumerate() {
            let voices: Vec<HeardVoice> = chunk.iter().map(|(identity, place, kind, with, hz)| HeardVoice {
                status: match kind {
                    0 => VoiceStatus::Absent,
                    1 => VoiceStatus::Doubtful,
                    2 => VoiceStatus::Merged { with: *with, partial: 3 },
                    _ => VoiceStatus::Ok,
                },
                beating: (*kind == 4).then_some(Beating { with: *with, rate_hz: hz / 100.0 }),
                ..voice(*identity, *place, *hz)
            }).collect();
            hear(&mut state, 0.2 * step as f64, ChordSound::Held, &voices);
            let hertz: Vec<f64> = state.voices().map(|v| v.sounding().needle().hertz().get()).collect();
            prop_assert!(hertz.windows(2).all(|pair| pair[0] <= pair[1]));
            let mut identities: Vec<u32> = state.voices().map(ChordVoice::identity).collect();
            identities.sort_unstable();
            identities.dedup();
            prop_assert_eq!(identities.len(), state.voices().count());
        }
    }
}
