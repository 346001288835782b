//! Scene files: an invented rehearsal from RON text, ready to be played.
//!
//! The demo's scenes are part of the program; `demo-sessions/*.ron` explain their own form.

use std::path::Path;

use super::file_error::{Fault, FileError, parse, read_text};
use super::temperament_file::{find, temperaments};
use super::{Unknown, instrument};
use crate::rehearsal::{Channel, Ensemble};
use crate::scene::{Scene, SceneError, Score};

/// A scene that comes with the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DemoScene {
    /// Name for commands: `alone`.
    pub name: &'static str,
    /// Its file.
    text: &'static str,
}

/// The scenes that come with the program; the first one is played when none is named.
const DEMO_SCENES: [DemoScene; 4] = [
    DemoScene {
        name: "strings-find-a-chord",
        text: include_str!("../../demo-sessions/strings-find-a-chord.ron"),
    },
    DemoScene {
        name: "warming-room",
        text: include_str!("../../demo-sessions/warming-room.ron"),
    },
    DemoScene {
        name: "twenty-minutes",
        text: include_str!("../../demo-sessions/twenty-minutes.ron"),
    },
    DemoScene {
        name: "alone",
        text: include_str!("../../demo-sessions/alone.ron"),
    },
];

impl DemoScene {
    /// The scene itself.
    ///
    /// # Errors
    /// None in a program that passes its tests, which read every scene.
    pub fn load(&self) -> Result<Scene, FileError> {
        read_scene(self.text, Path::new(self.name))
    }
}

/// The scenes that come with the program, the usual one first.
pub fn demo_scenes() -> &'static [DemoScene] {
    &DEMO_SCENES
}

/// The scene called `name`, or the usual one.
///
/// # Errors
/// There is none of that name; the error lists those there are.
pub fn demo_scene(name: Option<&str>) -> Result<&'static DemoScene, Unknown> {
    let Some(name) = name else {
        return Ok(&DEMO_SCENES[0]);
    };
    DEMO_SCENES
        .iter()
        .find(|scene| scene.name == name)
        .ok_or_else(|| Unknown::new("scene", name, DEMO_SCENES.iter().map(|scene| scene.name)))
}

/// The ensemble that a scene is a rehearsal of: its players, each heard on the input after the one
/// before.
///
/// # Errors
/// A player's instrument is unknown; the error lists those there are.
pub fn scene_ensemble(scene: &Scene) -> Result<Ensemble, Unknown> {
    let players = scene.players().iter().enumerate();
    let channels = players.map(|(index, player)| {
        Ok(Channel {
            name: player.name().to_owned(),
            instrument: instrument(player.instrument())?.clone(),
            input: index + 1,
            visible: true,
            chain: None,
            players: 1,
        })
    });
    Ok(Ensemble {
        title: scene.title().to_owned(),
        tuning: scene.tuning().clone(),
        channels: channels.collect::<Result<_, Unknown>>()?,
    })
}

/// Reads the scene file at `path`.
///
/// # Errors
/// The file cannot be read, or something in it is wrong.
pub fn load_scene(path: &Path) -> Result<Scene, FileError> {
    read_scene(&read_text(path)?, path)
}

/// Reads a scene from `text`; `path` names it in errors.
///
/// # Errors
/// Something in it is wrong. What concerns a whole part is reported where the player's name
/// stands.
pub fn read_scene(text: &str, path: &Path) -> Result<Scene, FileError> {
    let wrong = |fault| FileError::Content {
        path: path.to_owned(),
        fault,
    };
    let score: Score = parse(text).map_err(wrong)?;
    let known = temperaments(None)?;
    let temperament = find(&known, &score.temperament).map_err(|unknown| {
        let quoted = format!("\"{}\"", score.temperament);
        wrong(place_of(text, &["temperament", &quoted]).saying(&unknown))
    })?;
    Scene::compose(&score, temperament).map_err(|error| wrong(fault_of(text, &error)))
}

fn fault_of(text: &str, error: &SceneError) -> Fault {
    let place = match error.player() {
        Some(player) => place_of(text, &["players", "name", &format!("\"{player}\"")]),
        None => place_of(text, &[]),
    };
    place.saying(error)
}

/// Where the last of `words` stands, each looked for after the one before it, outside
/// remarks; the beginning of the text where they cannot be found.
fn place_of(text: &str, words: &[&str]) -> Fault {
    let mut at = 0;
    for word in words {
        let found = text[at..].match_indices(word).find(|(offset, _)| {
            let line = text[..at + offset].rfind('\n').map_or(0, |end| end + 1);
            !text[line..at + offset].trim_start().starts_with("//")
        });
        at = found.map_or(0, |(offset, _)| at + offset);
    }
    let before = &text[..at];
    let line = before.rfind('\n').map_or(0, |end| end + 1);
    Fault {
        line: before.matches('\n').count() + 1,
        column: before[line..].chars().count() + 1,
        message: String::new(),
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::scene::{Player, Renderer};
    use crate::units::{SampleRate, Seconds};

    const SCENE: &str = r#"(
    version: 1,
    title: "Two",
    pitch: (a4_hz: 415.0),
    temperament: "sixth-comma",
    trumpets: (key: "D"),
    length_s: 10,
    players: [
        // "Violin" comes later.
        (name: "Trumpet", instrument: "natural-trumpet", sound: Brass, level_dbfs: -20,
         part: [Play(note: "partial 8", for_s: 2)]),
        (name: "Violin", instrument: "violin", sound: Bowed, level_dbfs: -20,
         part: [Rest(0.5), Play(note: "5/4 of Trumpet", for_s: 1)]),
    ],
)"#;

    fn check(from: &str, to: &str, expected: &str) {
        assert!(SCENE.contains(from), "{from}");
        let text = SCENE.replacen(from, to, 1);
        let error = read_scene(&text, Path::new("two.ron"))
            .unwrap_err()
            .to_string();
        assert!(error.starts_with(expected), "{error}");
    }

    #[test]
    fn a_scene_is_read() {
        let scene = read_scene(SCENE, Path::new("two.ron")).unwrap();
        assert_eq!(scene.title(), "Two");
        assert_eq!(scene.temperament(), "sixth-comma");
        assert!((scene.a4_hz() - 415.0).abs() < 1e-9);
        assert_eq!(scene.key().ascii(), "D");
        let names: Vec<&str> = scene.players().iter().map(Player::instrument).collect();
        assert_eq!(names, ["natural-trumpet", "violin"]);
        let at = |player| scene.truth(player, Seconds::new(1.0)).unwrap();
        // Both wander by a cent or two of their own about the pure third, 386.31 cents.
        assert!((at(1).above(at(0)).get() - 386.31).abs() < 8.0);
    }

    #[test]
    fn faults_have_a_place_and_advice() {
        check(
            "version: 1",
            "version: 2",
            "two.ron:2:15: version '2' is not known",
        );
        check(
            "title",
            "titel",
            "two.ron:3:10: 'titel' is not known here: write ",
        );
        check(
            "partial 8",
            "partial 25",
            "two.ron:11:40: '25' is no partial: they run from 1 to 24",
        );
        check("Rest", "Wait", "two.ron:13:");
        check(
            "sixth-",
            "six-",
            "two.ron:5:18: no temperament is called 'six-comma': did you",
        );
        check(
            "for_s: 2",
            "for_s: -2",
            "two.ron:10:16: '-2' is no length of a note",
        );
        check(
            "of Trumpet",
            "of Cornett",
            "two.ron:12:16: 'Violin' follows 'Cornett', who",
        );
        check(
            "length_s: 10",
            "length_s: 0",
            "two.ron:1:1: '0' is no length",
        );
        check("415.0", "41.5", "two.ron:4:");
    }

    #[test]
    fn scenes_of_the_demo_are_found_by_name() {
        assert_eq!(demo_scene(None).unwrap().name, "strings-find-a-chord");
        assert_eq!(demo_scene(Some("alone")).unwrap().name, "alone");
        let error = demo_scene(Some("orchestra")).unwrap_err().to_string();
        assert!(error.contains("warming-room"), "{error}");
    }

    #[test]
    fn every_demo_scene_plays_and_never_falls_silent_at_the_start() {
        let rate = SampleRate::new(16_000).unwrap();
        for demo in demo_scenes() {
            let scene = Arc::new(demo.load().unwrap());
            assert!(
                (60.0..=1_200.0).contains(&scene.length().get()),
                "{}",
                demo.name
            );
            let mut renderer = Renderer::new(Arc::clone(&scene), rate);
            let n = renderer.channels();
            let mut samples = vec![0.0_f32; 5 * 16_000 * n];
            assert_eq!(renderer.render(&mut samples), 5 * 16_000);
            assert!(samples.iter().all(|s| s.is_finite() && s.abs() < 1.0));
            let sounds = |channel: usize, seconds: usize| {
                let frames = samples.chunks_exact(n).take(seconds * 16_000);
                let loudest = frames.map(|f| f[channel].abs()).fold(0.0, f32::max);
                loudest > 0.02
            };
            // Within 2 s somebody, within 5 s everybody.
            assert!((0..n).any(|channel| sounds(channel, 2)), "{}", demo.name);
            for (channel, player) in scene.players().iter().enumerate() {
                assert!(sounds(channel, 5), "{}: {}", demo.name, player.name());
            }
        }
    }

    #[test]
    fn every_instrument_of_the_demo_is_known_and_can_play_its_part() {
        for demo in demo_scenes() {
            let scene = demo.load().unwrap();
            for (index, player) in scene.players().iter().enumerate() {
                let instrument = super::super::instrument(player.instrument()).unwrap();
                let lowest = scene.tuning().scale().frequency(instrument.lowest);
                let highest = scene.tuning().scale().frequency(instrument.highest);
                for (start, _) in player.notes() {
                    let truth = scene.truth(index, start + Seconds::new(0.01)).unwrap();
                    assert!(
                        truth.above(lowest).get() > -60.0 && truth.above(highest).get() < 60.0,
                        "{}: {} at {} s",
                        demo.name,
                        player.name(),
                        start.get()
                    );
                }
            }
        }
    }
}
