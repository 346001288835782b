//! Files from strangers: what fuzzing found worth keeping, and changes of it.

use std::fs;
use std::path::Path;

use proptest::prelude::*;

use crate::read_all::TARGETS;

mod names;
mod sizes;

#[test]
fn every_kept_file_is_read_and_used_without_harm() {
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus");
    for (name, target) in TARGETS {
        let mut count = 0;
        for entry in fs::read_dir(corpus.join(name)).unwrap() {
            let path = entry.unwrap().path();
            let bytes = fs::read(&path).unwrap();
            // A panic says what went wrong, and this which file it was.
            let outcome = std::panic::catch_unwind(|| target(&bytes));
            assert!(outcome.is_ok(), "{}", path.display());
            count += 1;
        }
        assert!(count >= 3, "{name} has {count} files");
    }
}

/// One change of a file.
#[derive(Debug, Clone)]
enum Change {
    Set(u8),
    Insert(Vec<u8>),
    Remove(u8),
    Repeat(u8),
}

fn change() -> impl Strategy<Value = Change> {
    prop_oneof![
        any::<u8>().prop_map(Change::Set),
        prop::collection::vec(any::<u8>(), 1..5).prop_map(Change::Insert),
        "[-0-9.e\"()\\[\\]{}<>&;:,]{1,4}|NaN|inf|1e308|\\PC"
            .prop_map(|text| Change::Insert(text.into_bytes())),
        any::<u8>().prop_map(Change::Remove),
        any::<u8>().prop_map(Change::Repeat),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig {
        failure_persistence: None,
        cases: 240,
        ..ProptestConfig::default()
    })]
    #[test]
    fn a_file_that_is_changed_is_read_or_refused(
        target in 0..TARGETS.len(),
        file: prop::sample::Index,
        changes in prop::collection::vec((any::<prop::sample::Index>(), change()), 1..6),
    ) {
        let (name, read) = TARGETS[target];
        let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus").join(name);
        let mut files: Vec<_> = fs::read_dir(corpus)
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .collect();
        files.sort();
        let mut bytes = fs::read(&files[file.index(files.len())]).unwrap();
        for (place, change) in changes {
            let at = place.index(bytes.len() + 1);
            let until = |length: u8| (at + usize::from(length)).min(bytes.len());
            match change {
                Change::Set(byte) => {
                    bytes.splice(at..until(1), [byte]);
                }
                Change::Insert(new) => {
                    bytes.splice(at..at, new);
                }
                Change::Remove(length) => {
                    bytes.drain(at..until(length));
                }
                Change::Repeat(length) => {
                    let again = bytes[at..until(length)].to_vec();
                    bytes.splice(at..at, again);
                }
            }
        }
        read(&bytes);
    }
}
