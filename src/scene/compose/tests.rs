//! Parts laid out in time, and what is refused.

use proptest::prelude::*;

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

/// Numbers of every kind, most of them sensible.
fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => 0.0_f64..4.0,
        1 => any::<f64>(),
        1 => prop_oneof![Just(f64::NAN), Just(f64::INFINITY), Just(-1.0), Just(0.0)],
    ]
}

fn item() -> impl Strategy<Value = Item> {
    let note = (
        prop_oneof![
            Just("A4"),
            Just("partial 11"),
            Just("3/2 of Organ"),
            Just("5/4 of Regal"),
        ],
        number(),
        proptest::collection::vec((number(), number()), 0..3),
    )
        .prop_map(|(note, for_s, points)| {
            let mut item = play(note, for_s);
            if let Item::Play { path, .. } = &mut item {
                *path = points;
            }
            item
        });
    let leaf = prop_oneof![
        4 => note,
        1 => number().prop_map(Item::Rest),
        1 => number().prop_map(Item::At),
        1 => Just(Item::Phrase("call".to_owned())),
    ];
    leaf.prop_recursive(3, 12, 4, |inner| {
        let part = proptest::collection::vec(inner, 0..4);
        prop_oneof![
            part.clone().prop_map(Item::Loop),
            (0_u32..1_200, part).prop_map(|(times, part)| Item::Repeat { times, part }),
        ]
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn any_part_is_played_or_refused(
        first in proptest::collection::vec(item(), 0..5),
        second in proptest::collection::vec(item(), 0..5),
    ) {
        let score = Score {
            players: vec![organ(first), player("Regal", Sound::Reed, second)],
            ..empty_score(12.0)
        };
        if let Ok(scene) = Scene::compose(&score, &sixth_comma()) {
            for index in 0..2 {
                let mut before = 0.0;
                for (start, end) in scene.players()[index].notes() {
                    prop_assert!(start.get() >= before && end.get() <= 12.0);
                    prop_assert!(end.get() > start.get());
                    prop_assert!(scene.truth(index, start).is_some());
                    before = start.get();
                }
            }
        }
    }
}
