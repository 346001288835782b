//! Parts laid out in time, and what is refused.

use crate::scene::measure::{cents, empty_score, play, player, scene, sixth_comma};
use crate::scene::{Item, PlayerScore, Scene, SceneError, Score, Sound};
use crate::units::Seconds;

fn organ(part: Vec<Item>) -> PlayerScore {
    player("Organ", Sound::Organ, part)
}

fn refusal(score: &Score) -> SceneError {
    Scene::compose(score, &sixth_comma()).unwrap_err()
}

fn refusal_of(part: Vec<Item>) -> SceneError {
    refusal(&Score {
        players: vec![organ(part)],
        ..empty_score(10.0)
    })
}

fn starts(scene: &Scene) -> Vec<f64> {
    scene.players()[0]
        .notes()
        .map(|(start, _)| start.get())
        .collect()
}

#[test]
fn repeats_and_moments_count_from_their_own_beginning() {
    let turn = vec![play("A4", 0.5), Item::At(1.0), play("D4", 0.5)];
    let part = vec![
        Item::Rest(1.0),
        Item::Repeat {
            times: 2,
            part: turn,
        },
        Item::At(6.0),
        Item::Loop(vec![play("A4", 1.0), Item::Rest(0.5)]),
    ];
    let scene = scene(10.0, vec![organ(part)]);
    assert_eq!(starts(&scene), [1.0, 2.0, 2.5, 3.5, 6.0, 7.5, 9.0]);
}

#[test]
fn phrases_are_found_and_may_not_contain_themselves() {
    let mut score = Score {
        players: vec![organ(vec![
            Item::Phrase("call".to_owned()),
            Item::Phrase("call".to_owned()),
        ])],
        ..empty_score(10.0)
    };
    assert!(matches!(refusal(&score), SceneError::Phrase { .. }));
    score
        .phrases
        .insert("call".to_owned(), vec![play("D5", 1.0)]);
    let scene = Scene::compose(&score, &sixth_comma()).unwrap();
    assert_eq!(starts(&scene), [0.0, 1.0]);
    let itself = vec![Item::Phrase("call".to_owned())];
    score.phrases.insert("call".to_owned(), itself);
    assert!(matches!(refusal(&score), SceneError::Depth { .. }));
}

#[test]
fn a_follower_keeps_its_ratio_wherever_the_leader_goes() {
    let mut lead = play("D5", 4.0);
    if let Item::Play { path, .. } = &mut lead {
        path.extend([(0.0, 0.0), (4.0, -30.0)]);
    }
    let players = vec![
        player("Leader", Sound::Organ, vec![lead]),
        player(
            "Third",
            Sound::Organ,
            vec![Item::Rest(1.0), play("5/4 of Leader", 2.0)],
        ),
    ];
    let scene = scene(10.0, players);
    for time_s in [1.5, 2.5] {
        let at = |player| scene.truth(player, Seconds::new(time_s)).unwrap().get();
        // 5/4 is 386.3137 cents.
        assert!((cents(at(1), at(0)) - 386.313_714).abs() < 1e-5);
    }
    assert_eq!(scene.truth(1, Seconds::new(0.5)), None);
    assert_eq!(scene.truth(2, Seconds::new(0.5)), None);
}

#[test]
fn nobody_follows_silence_a_stranger_or_in_a_circle() {
    let pair = |first: &str, second: &str| Score {
        players: vec![
            player("One", Sound::Organ, vec![play(first, 1.0)]),
            player(
                "Two",
                Sound::Organ,
                vec![Item::Rest(0.5), play(second, 3.0)],
            ),
        ],
        ..empty_score(10.0)
    };
    assert!(matches!(
        refusal(&pair("3/2 of Two", "A4")),
        SceneError::SilentLeader { .. }
    ));
    assert!(matches!(
        refusal(&pair("3/2 of Six", "A4")),
        SceneError::NoLeader { .. }
    ));
    assert!(matches!(
        refusal(&pair("1/1 of One", "A4")),
        SceneError::Circle { .. }
    ));
}

#[test]
fn parts_that_cannot_be_played_name_the_player() {
    let endless = Item::Repeat {
        times: 1_000,
        part: vec![Item::Repeat {
            times: 1_000,
            part: vec![Item::Rest(0.0)],
        }],
    };
    let check = |part: Vec<Item>, words: &str| {
        let error = refusal_of(part);
        assert_eq!(error.player(), Some("Organ"), "{error}");
        assert!(error.to_string().contains(words), "{error}");
    };
    check(vec![Item::Loop(vec![])], "takes no time");
    check(vec![endless], "notes and rests");
    check(vec![Item::Rest(2.0), Item::At(1.0)], "is already at 2.00 s");
    check(vec![Item::Rest(f64::NAN)], "'NaN' is no rest in seconds");
    check(vec![play("A4", 0.0)], "give 0.01 to 3600");
}

#[test]
fn a_scene_needs_players_with_names_of_their_own() {
    assert!(matches!(
        refusal(&empty_score(10.0)),
        SceneError::Players(0)
    ));
    let twins = Score {
        players: vec![organ(vec![]), organ(vec![])],
        ..empty_score(10.0)
    };
    assert!(matches!(refusal(&twins), SceneError::SameName { .. }));
}
