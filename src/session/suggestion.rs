//! "Did you mean": the known name nearest to a mistyped one.

use std::fmt;

/// A name that nothing has.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unknown {
    kind: &'static str,
    name: String,
    meant: Option<String>,
    all: Vec<String>,
}

impl Unknown {
    /// `name` is no `kind` ("temperament"); `known` are the names there are.
    pub(super) fn new<'a>(
        kind: &'static str,
        name: &str,
        known: impl Iterator<Item = &'a str>,
    ) -> Self {
        let all: Vec<String> = known.map(str::to_owned).collect();
        let plain = name.to_lowercase().replace([' ', '_'], "-");
        let meant = all
            .iter()
            .map(|candidate| (distance(&plain, candidate), candidate))
            .filter(|(distance, candidate)| *distance <= candidate.chars().count().div_ceil(3))
            .min_by_key(|(distance, _)| *distance)
            // A part of one name only is as good as a near miss.
            .map(|(_, candidate)| candidate)
            .or_else(|| {
                let mut holding = all.iter().filter(|n| plain.len() > 2 && n.contains(&plain));
                holding.next().filter(|_| holding.next().is_none())
            })
            .cloned();
        Self {
            kind,
            name: name.to_owned(),
            meant,
            all,
        }
    }

    /// The known name that was probably meant.
    pub fn meant(&self) -> Option<&str> {
        self.meant.as_deref()
    }
}

impl fmt::Display for Unknown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // The name may come from anywhere: control characters must not reach a terminal.
        write!(
            f,
            "no {} is called '{}': ",
            self.kind,
            self.name.escape_debug()
        )?;
        match &self.meant {
            Some(meant) => write!(f, "did you mean '{meant}'?"),
            None => write!(f, "there are {}", self.all.join(", ")),
        }
    }
}

impl std::error::Error for Unknown {}

/// Letters to insert, remove or exchange to turn one word into the other (Levenshtein 1966).
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, letter) in a.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, other) in b.iter().enumerate() {
            let exchanged = diagonal + usize::from(letter != *other);
            diagonal = row[j + 1];
            row[j + 1] = exchanged.min(diagonal + 1).min(row[j] + 1);
        }
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(name: &str, meant: Option<&str>) {
        let known = [
            "equal",
            "quarter-comma",
            "sixth-comma",
            "werckmeister-3",
            "vallotti",
        ];
        let unknown = Unknown::new("temperament", name, known.into_iter());
        assert_eq!(unknown.meant(), meant, "{name}");
    }

    #[test]
    fn near_misses_are_guessed_and_far_ones_are_not() {
        check("valotti", Some("vallotti"));
        check("Sixth Comma", Some("sixth-comma"));
        check("sixt-coma", Some("sixth-comma"));
        check("werckmeister", Some("werckmeister-3"));
        check("quarter", Some("quarter-comma"));
        check("comma", None);
        check("silbermann", None);
        check("", None);
    }

    #[test]
    fn distances_are_counted_in_letters() {
        // The textbook pair.
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!(distance("", "abc"), 3);
        assert_eq!(distance("abc", "abc"), 0);
    }
}
