//! Names of parts and pieces as they can be shown: on one line, harmless for a terminal, each
//! part's its own.

use std::collections::HashSet;

use crate::plain::steers;

/// Longest name, in characters.
const LONGEST: usize = 80;

/// Whatever text on one line, without what would steer a terminal or turn its writing round, each
/// blank one space; empty where nothing is left.
pub(super) fn tidy(text: &str) -> String {
    let harmless: String = text
        .chars()
        .map(|c| if steers(c) { ' ' } else { c })
        .collect();
    let words: Vec<&str> = harmless.split_whitespace().collect();
    words
        .join(" ")
        .chars()
        .take(LONGEST)
        .collect::<String>()
        .trim_end()
        .to_owned()
}

/// Gives each name that came before a number, and each empty one the number of its place:
/// "Violin (2)", "Part 3".
pub(super) fn unique(names: impl IntoIterator<Item = String>) -> Vec<String> {
    let mut taken = HashSet::new();
    let mut counts = std::collections::HashMap::new();
    let mut unique = Vec::new();
    for (index, name) in names.into_iter().enumerate() {
        let name = if name.is_empty() {
            format!("Part {}", index + 1)
        } else {
            name
        };
        let mut own = name.clone();
        // The last number given to this name, so that a thousand violins take no million tries.
        let count = counts.entry(name.clone()).or_insert(1);
        while !taken.insert(own.clone()) {
            *count += 1;
            own = format!("{name} ({count})");
        }
        unique.push(own);
    }
    unique
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_come_out_on_one_line_and_harmless() {
        let check = |text: &str, tidied: &str| assert_eq!(tidy(text), tidied, "{text:?}");
        check(" Tromba\n  I\u{a0}in D ", "Tromba I in D");
        check("a\u{1b}[2Jb", "a [2Jb");
        check("Flauto\u{202e}dolce\u{200b}", "Flauto dolce");
        check("\u{7}\r\n", "");
        check(&"x".repeat(90), &"x".repeat(80));
    }

    #[test]
    fn every_part_has_a_name_of_its_own() {
        let check = |names: &[&str], expected: &[&str]| {
            let names = names.iter().map(|name| (*name).to_owned());
            assert_eq!(unique(names), expected);
        };
        check(
            &["Violin", "Violin", "", "Violin"],
            &["Violin", "Violin (2)", "Part 3", "Violin (3)"],
        );
        check(
            &["A (2)", "A", "A", "Part 4", ""],
            &["A (2)", "A", "A (3)", "Part 4", "Part 5"],
        );
        check(&["Part 2", ""], &["Part 2", "Part 2 (2)"]);
    }
}
