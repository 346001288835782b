use std::fs;

use super::*;
use crate::cli::keeping::tests::{an_evening, plan};
use crate::rehearsal::Resolution;
use crate::tuning::{Anchor, Partial};
use crate::units::NoteName;

fn name(text: &str) -> NoteName {
    text.parse().unwrap()
}

#[test]
fn a_plan_takes_the_place_of_the_ensemble_s_tuning() {
    let folder = tempfile::tempdir().unwrap();
    let plan = plan(
        folder.path(),
        "temperament: (name: \"mine\", title: \"Mine\", fifths: Regular(\"-1/7 SC\")),\n\
         chain: \"Bb-D#\", trumpets: (key: \"C\", anchor: PartialSounds(partial: 12, note: \"G5\")),",
    );
    let ensemble = folder.path().join("band.ron");
    session::write_example(&ensemble).unwrap();
    let loaded = session::load_ensemble(&ensemble).unwrap();
    for (loaded, inputs) in [
        (Some(loaded), Inputs::Chosen((0..8).collect())),
        (None, Inputs::Every),
    ] {
        let (mut rehearsal, heard) = seated(loaded, Some(&plan)).unwrap();
        assert_eq!(heard, inputs);
        let tuning = rehearsal.tuning().clone();
        assert!((tuning.standard().a4().get() - 466.0).abs() < 1e-9);
        assert_eq!(tuning.scale().temperament().name, "mine");
        assert_eq!(tuning.scale().chain(), "Bb-D#".parse().unwrap());
        assert_eq!(tuning.series().key(), name("C"));
        let partial = Partial::new(12).unwrap();
        let note = "G5".parse().unwrap();
        assert_eq!(
            tuning.series().anchor(),
            Anchor::PartialSounds { partial, note }
        );
        // The key that changes temperaments comes back to the plan's own.
        rehearsal.step_temperament(1);
        assert_ne!(rehearsal.tuning().scale().temperament().name, "mine");
        rehearsal.step_temperament(-1);
        assert_eq!(rehearsal.tuning(), &tuning);
    }
}

#[test]
fn a_namesake_of_the_ensemble_s_gives_way_to_the_plan_s_own() {
    let folder = tempfile::tempdir().unwrap();
    let own = |each: &str| format!("(name: \"mine\", title: \"M\", fifths: Regular(\"{each}\"))");
    let plan = plan(folder.path(), &format!("temperament: {},", own("-1/7 SC")));
    let ensemble = folder.path().join("band.ron");
    session::write_example(&ensemble).unwrap();
    let text = fs::read_to_string(&ensemble).unwrap();
    let text = text.replace(
        "temperament: \"sixth-comma\"",
        &format!("temperament: {}", own("-1/4 SC")),
    );
    let loaded = session::read_ensemble(&text, &ensemble).unwrap();
    let (mut rehearsal, _) = seated(Some(loaded), Some(&plan)).unwrap();
    let mine = rehearsal.tuning().scale().temperament().clone();
    assert_eq!(mine, plan.settled.temperament);
    rehearsal.step_temperament(1);
    rehearsal.step_temperament(-1);
    assert_eq!(rehearsal.tuning().scale().temperament(), &mine);
}

#[test]
fn what_was_settled_is_agreed_from_the_start() {
    let folder = tempfile::tempdir().unwrap();
    let plan = plan(folder.path(), an_evening());
    let (rehearsal, _) = seated(None, Some(&plan)).unwrap();
    let (rehearsal, _, told) = Keeping::nowhere().with_plan(Some(plan)).begin(rehearsal);
    assert_eq!(
        told.unwrap(),
        "plan 'evening': vallotti at A 466, 3 notes agreed, 1 for trumpets not in D"
    );
    let decision = rehearsal.chronicle().decision(name("G#")).unwrap();
    assert_eq!(decision.resolution, Some(Resolution::FollowPartial));
    assert_eq!(decision.remark, "bar 12");
}
