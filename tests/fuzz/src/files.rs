//! Files in the program's own syntax.

use std::path::Path;
use std::sync::Arc;

use concento::bearings::{Method, Sheet};
use concento::drone::{Drone, Synth, Tone, Tones};
use concento::midi_tuning::{Fineness, KeyTuning, exclusive_messages, tuning_file};
use concento::rehearsal::{Channel, Course, Ensemble, Practice, Rehearsal};
use concento::report::{
    BearingsReport, SeriesReport, TemperamentListReport, TemperamentReport, exercise_list,
};
use concento::scene::Renderer;
use concento::session::{self, Fault, FileError};
use concento::tui::{Palette, Theme};
use concento::tuning::{Anchor, Chain, Scale, Temperament, Tuning};
use concento::units::{NoteName, SampleRate, Seconds};

use super::screens::{self, Walk};
use super::{harmless, harmless_csv};

/// Where no file is.
const NOWHERE: &str = "/nonexistent/file.ron";

/// Frames of a scene that are rendered: half a second.
const FRAMES: usize = 4_000;

fn text(bytes: &[u8]) -> Option<&str> {
    std::str::from_utf8(bytes).ok()
}

/// A fault has a place in the text, and words that can be printed.
fn faulty(fault: &Fault, text: &str) {
    assert!(fault.line >= 1 && fault.column >= 1, "{fault}");
    assert!(fault.line <= text.matches('\n').count() + 1, "{fault}");
    assert!(!fault.message.trim().is_empty(), "{fault:?}");
    harmless(&fault.to_string());
}

fn refused(error: &FileError, text: &str) {
    harmless(&error.to_string());
    if let FileError::Content { fault, .. } = error {
        faulty(fault, text);
    }
}

/// An ensemble, rehearsed.
pub fn ensemble(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let loaded = match session::read_ensemble(text, Path::new(NOWHERE)) {
        Ok(loaded) => loaded,
        Err(error) => return refused(&error, text),
    };
    tuned(&loaded.ensemble.tuning);
    let written = session::ensemble_text(&loaded.ensemble);
    let again = session::read_ensemble(&written, Path::new(NOWHERE));
    let again = again.unwrap_or_else(|error| panic!("what is written can be read: {error}"));
    assert_eq!(again.ensemble, loaded.ensemble);
    screens::walk(
        Rehearsal::new(loaded.ensemble, loaded.temperaments),
        &Walk::default(),
    );
}

/// What is told of a tuning.
fn tuned(tuning: &Tuning) {
    let series = SeriesReport::new(tuning);
    harmless(&series.to_table());
    harmless(&series.to_json());
    harmless_csv(&series.to_csv());
}

/// Temperaments of one's own, laid and sent.
pub fn temperament(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let own = match session::read_temperaments(text) {
        Ok(own) => own,
        Err(fault) => return faulty(&fault, text),
    };
    let list = TemperamentListReport::new(&own, Chain::usual());
    harmless(&list.to_table());
    harmless(&list.to_json());
    harmless_csv(&list.to_csv());
    for temperament in own.iter().take(3) {
        laid(temperament);
    }
}

fn laid(temperament: &Temperament) {
    let (chain, standard) = (
        Chain::usual(),
        session::default_ensemble(1).tuning.standard(),
    );
    let report = TemperamentReport::new(temperament, chain, standard);
    harmless(&report.to_table());
    harmless(&report.to_json());
    harmless_csv(&report.to_csv());
    tuned(&Tuning::new(
        standard,
        temperament,
        chain,
        NoteName::D,
        Anchor::tonic(NoteName::D),
    ));
    let keys = KeyTuning::of(&Scale::new(temperament, chain, standard), Fineness::Full);
    let _ = (exclusive_messages(&keys), tuning_file(&keys));
    if let Ok(sheet) = Sheet::new(temperament, chain, standard, None, Method::Fifths) {
        let report = BearingsReport::new(&sheet);
        harmless(&report.to_table());
        harmless(&report.to_json());
        super::harmless_page(&report.to_html());
    }
}

/// A plan, begun with and written again.
pub fn plan(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let settled = match session::read_plan(text, Path::new(NOWHERE)) {
        Ok(settled) => settled,
        Err(error) => return refused(&error, text),
    };
    let ensemble = session::default_ensemble(2);
    let tuning = settled.tuning(&ensemble.tuning);
    tuned(&tuning);
    let mut temperaments = session::temperaments(None).expect("they are shipped");
    temperaments.insert(0, settled.temperament.clone());
    let mut rehearsal = Rehearsal::new(Ensemble { tuning, ..ensemble }, temperaments);
    rehearsal.take_over(settled.decisions(rehearsal.tuning().series().key()));
    let _ = (
        settled.common_key(),
        settled.casting(super::scores::casting()),
    );
    screens::walk(rehearsal, &Walk::default());
    let written = session::plan_text(&settled, Path::new("/nonexistent"));
    let again = session::read_plan(&written, Path::new(NOWHERE));
    again.unwrap_or_else(|error| panic!("what is written can be read: {error}: {written}"));
}

/// Settings, looked at through.
pub fn settings(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let settings = match concento::settings::read(text, Path::new(NOWHERE)) {
        Ok(settings) => settings,
        Err(fault) => return faulty(&fault, text),
    };
    for theme in &settings.themes {
        harmless(&theme.name);
    }
    let walk = Walk {
        theme: Theme::new(&settings.theme.colours, Palette::Rich),
        keymap: settings.keymap,
        ..Walk::default()
    };
    screens::walk(
        Rehearsal::new(session::default_ensemble(2), Vec::new()),
        &walk,
    );
}

/// Exercises, practised.
pub fn exercise(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let own = match session::read_exercises(text) {
        Ok(own) => own,
        Err(fault) => return faulty(&fault, text),
    };
    harmless(&exercise_list(&own));
    let first = own[0].name.clone();
    let course = Course::new(own).expect("a file has one at least");
    let course = course.beginning_with(&first).expect("it is there");
    let mut drone = Drone::new(
        Tones::new(vec![Tone::Tempered(NoteName::D.in_octave(3))])
            .expect("one tone is not too many"),
    );
    drone.toggle();
    let mut ensemble = session::default_ensemble(1);
    let violin = session::instrument("violin")
        .expect("it is shipped")
        .clone();
    ensemble.channels = vec![Channel {
        name: violin.title.clone(),
        instrument: violin,
        ..ensemble.channels[0].clone()
    }];
    let mut rehearsal =
        Rehearsal::new(ensemble, Vec::new()).practising(Practice::new(drone, course));
    for steps in [0, 1, -1] {
        rehearsal.practise(|practice, pitches| practice.step(steps, pitches));
        let mut synth = Synth::new(SampleRate::new(8_000).expect("within 8 to 192 kHz"));
        synth.want(rehearsal.wanted());
        synth.render(&mut [0.0; 256], |_| {});
    }
    let walk = Walk {
        is_practice: true,
        ..Walk::default()
    };
    screens::walk(rehearsal, &walk);
}

/// A scene, rendered and known.
pub fn scene(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let scene = match session::read_scene(text, Path::new(NOWHERE)) {
        Ok(scene) => scene,
        Err(error) => return refused(&error, text),
    };
    harmless(scene.title());
    harmless(scene.about());
    for (player, about) in scene.players().iter().enumerate() {
        harmless(about.name());
        for (begins, ends) in about.notes().take(20) {
            for at in [begins, ends, Seconds::new((begins + ends).get() / 2.0)] {
                let _ = scene.truth(player, at);
            }
        }
    }
    let scene = Arc::new(scene);
    let rate = SampleRate::new(8_000).expect("within 8 to 192 kHz");
    let mut renderer = Renderer::new(scene, rate);
    let frames = FRAMES / renderer.channels().max(1);
    let mut block = vec![0.0; frames * renderer.channels()];
    renderer.render(&mut block);
    assert!(
        block
            .iter()
            .all(|sample| sample.is_finite() && sample.abs() <= 8.0)
    );
}
