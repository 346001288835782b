//! Whatever stands on the command line is taken or refused.

use clap::{ArgAction, CommandFactory, Parser};
use proptest::prelude::*;

use super::*;

/// Every command with every option that takes a value, and every place for one: the words before it.
fn places() -> Vec<Vec<String>> {
    let mut places = Vec::new();
    let program = Arguments::command();
    for command in program.get_subcommands() {
        let takes_values = |arg: &&clap::Arg| {
            matches!(arg.get_action(), ArgAction::Set | ArgAction::Append) && !arg.is_hide_set()
        };
        for arg in command.get_arguments().filter(takes_values) {
            let mut words = vec!["concento".to_owned(), command.get_name().to_owned()];
            match (arg.get_long(), arg.get_short()) {
                (Some(long), _) => words.push(format!("--{long}=")),
                (None, Some(short)) => words.push(format!("-{short}")),
                (None, None) => words.extend(["--".to_owned(), String::new()]),
            }
            places.push(words);
        }
    }
    places
}

/// Nearly what is asked for, and anything.
fn value() -> impl Strategy<Value = String> {
    prop_oneof![
        "[A-Ha-h][#b\u{266d}\u{266f}]{0,3}-?[0-9]{0,4}[-+=:,/ ]?[A-H]?[#b]{0,2}[0-9]{0,3}",
        "[-+]?[0-9]{0,25}[.,:e]?[-+]?[0-9]{0,25}[,:]?[0-9]{0,4}",
        "[a-z]{0,12}[=:,/+][-0-9a-zA-Z#./+]{0,12}(,[a-z]{1,8}[=:][0-9]{1,20})?",
        "p?[0-9]{1,4}[+-]?[0-9]{0,3}|NaN|-?inf|1e999|-0|\\PC{0,20}",
        any::<String>(),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig {
        failure_persistence: None,
        cases: 4_000,
        ..ProptestConfig::default()
    })]
    #[test]
    fn any_value_anywhere_is_taken_or_refused_as_a_usage_error(
        place in any::<prop::sample::Index>(),
        value in value(),
    ) {
        let places = places();
        let mut words = place.get(&places).clone();
        if let Some(last) = words.last_mut() {
            last.push_str(&value);
        }
        if let Err(refused) = Arguments::try_parse_from(&words) {
            prop_assert_eq!(refused.exit_code(), 2, "{:?}: {}", words, refused);
            prop_assert!(refused.to_string().contains("error: "), "{:?}: {}", words, refused);
        }
    }
}

#[test]
fn there_are_such_places() {
    let places = places();
    for expected in [
        "concento practise --drone=",
        "concento plan --weights=",
        "concento series --anchor=",
        "concento rehearse -- ",
    ] {
        assert!(
            places.iter().any(|words| words.join(" ") == expected),
            "{expected}: {places:?}"
        );
    }
}
