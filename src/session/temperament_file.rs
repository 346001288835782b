//! Temperaments from RON text: the shipped ones and a user's own beside them.
//!
//! The shape of a file is explained at the head of `assets/temperaments.ron`.

use std::fmt;
use std::path::Path;
use std::sync::LazyLock;

use serde::de::{Deserialize, DeserializeSeed, Deserializer, SeqAccess, Visitor};

use super::fields::{CommandName, Line, Prose, Version, checked};
use super::file_error::{Fault, FileError, parse, read_text};
use super::suggestion::Unknown;
use super::temperament_shape::Checked;
use crate::tuning::Temperament;

static SHIPPED: LazyLock<Vec<Temperament>> = LazyLock::new(|| {
    parse::<File<false>>(include_str!("../../assets/temperaments.ron"))
        .expect("a test reads the shipped temperaments")
        .temperaments
        .0
});

/// The shipped temperaments, followed by those of `user_file`.
///
/// # Errors
///
/// The file cannot be read, something in it is wrong, or it uses a shipped name.
pub fn temperaments(user_file: Option<&Path>) -> Result<Vec<Temperament>, FileError> {
    let mut all = SHIPPED.clone();
    if let Some(path) = user_file {
        let own = read_temperaments(&read_text(path)?).map_err(|fault| FileError::Content {
            path: path.to_owned(),
            fault,
        })?;
        all.extend(own);
    }
    Ok(all)
}

/// The temperament called `name`.
///
/// # Errors
///
/// There is none; the error says which one was probably meant.
pub fn find<'a>(temperaments: &'a [Temperament], name: &str) -> Result<&'a Temperament, Unknown> {
    temperaments
        .iter()
        .find(|temperament| temperament.name == name)
        .ok_or_else(|| {
            let known = temperaments.iter().map(|t| t.name.as_str());
            Unknown::new("temperament", name, known)
        })
}

/// The temperaments of a user's file, given as text.
///
/// # Errors
///
/// Something in it is wrong, or it uses a shipped name.
pub fn read_temperaments(text: &str) -> Result<Vec<Temperament>, Fault> {
    Ok(parse::<File<true>>(text)?.temperaments.0)
}

/// A file; in one of a `USER` the shipped names are taken.
#[derive(serde::Deserialize)]
#[serde(rename = "temperaments", deny_unknown_fields)]
struct File<const USER: bool> {
    #[serde(rename = "version")]
    _version: Version,
    temperaments: Distinct<USER>,
}

/// Temperaments with different names.
struct Distinct<const USER: bool>(Vec<Temperament>);

impl<'de, const USER: bool> Deserialize<'de> for Distinct<USER> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_seq(DistinctVisitor::<USER>)
    }
}

struct DistinctVisitor<const USER: bool>;

impl<'de, const USER: bool> Visitor<'de> for DistinctVisitor<USER> {
    type Value = Distinct<USER>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list of temperaments in [square brackets]")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut entries: A) -> Result<Self::Value, A::Error> {
        let mut found: Vec<Temperament> = Vec::new();
        while let Some(temperament) = entries.next_element_seed(Next::<USER>(&found))? {
            found.push(temperament);
        }
        Ok(Distinct(found))
    }
}

/// Reads a temperament whose name differs from those found before.
struct Next<'a, const USER: bool>(&'a [Temperament]);

impl<'de, const USER: bool> DeserializeSeed<'de> for Next<'_, USER> {
    type Value = Temperament;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Temperament, D::Error> {
        checked(deserializer, |Entry(entry)| {
            if self.0.iter().any(|other| other.name == entry.name) {
                return Err(format!(
                    "a temperament before this one is called '{}' too: give each its own name",
                    entry.name
                ));
            }
            if USER {
                not_shipped(&entry.name)?;
            }
            Ok(entry)
        })
    }
}

/// Refuses the names that come with the program.
pub(super) fn not_shipped(name: &str) -> Result<(), String> {
    if SHIPPED.iter().any(|shipped| shipped.name == name) {
        Err(format!(
            "'{name}' comes with the program: give yours another name (my-{name})"
        ))
    } else {
        Ok(())
    }
}

/// One temperament as a file has it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Entry(pub(super) Temperament);

impl<'de> Deserialize<'de> for Entry {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        checked(deserializer, |fields: EntryFields| {
            let mut temperament =
                Temperament::new(&fields.name.0, &fields.title.0, fields.fifths.0)
                    .map_err(|error| error.to_string())?;
            temperament.source = fields.source.0;
            temperament.remark = fields.remark.0;
            Ok(Self(temperament))
        })
    }
}

impl serde::Serialize for Entry {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Self(temperament) = self;
        EntryFields {
            name: CommandName(temperament.name.clone()),
            title: Line::tidied(&temperament.title),
            fifths: Checked(temperament.fifths().clone()),
            source: Prose::tidied(&temperament.source),
            remark: Prose::tidied(&temperament.remark),
        }
        .serialize(serializer)
    }
}

#[derive(serde::Serialize, serde::Deserialize)]
#[serde(rename = "temperament", deny_unknown_fields)]
struct EntryFields {
    name: CommandName,
    title: Line,
    fifths: Checked,
    #[serde(default)]
    source: Prose,
    #[serde(default)]
    remark: Prose,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(entries: &str) -> String {
        format!("(version: 1, temperaments: [\n{entries}\n])")
    }

    fn check(entries: &str, place: (usize, usize), part: &str) {
        let fault = read_temperaments(&file(entries)).unwrap_err();
        assert_eq!((fault.line, fault.column), place, "{entries}: {fault}");
        assert!(fault.message.contains(part), "{entries}: {fault}");
    }

    #[test]
    fn everything_shipped_is_there() {
        let all = temperaments(None).unwrap();
        let names: Vec<&str> = all.iter().map(|t| t.name.as_str()).collect();
        assert_eq!(
            names,
            [
                "equal",
                "pythagorean",
                "third-comma",
                "two-sevenths-comma",
                "quarter-comma",
                "fifth-comma",
                "sixth-comma",
                "sixth-pythagorean",
                "vallotti",
                "young-2",
                "werckmeister-3",
                "kirnberger-2",
                "kirnberger-3",
                "neidhardt-1724-large-city",
                "neidhardt-1732-village",
                "rameau-b-flat",
                "rameau-c",
                "just",
            ]
        );
        assert!(all.iter().all(|t| !t.source.is_empty()));
        for name in ["neidhardt-1732-village", "rameau-b-flat", "rameau-c"] {
            assert!(find(&all, name).unwrap().remark.contains("reconstruction"));
        }
    }

    #[test]
    fn a_user_s_temperaments_stand_beside_the_shipped_ones() {
        let own = read_temperaments(&file(
            r#"(name: "mine", title: "Mine", fifths: Circle({"F-C-G-D-A-E-B": "-1/6 PC"})),
               (name: "cents", title: "By cents", remark: "two
                   lines", fifths: Places({"C": 0, "C#": 90, "D": 196.1, "Eb": 294, "E": "5/4",
                   "F": 498, "F#": 588.3, "G": 698, "G#": 792, "A": 892, "Bb": 996, "B": 1086}))"#,
        ))
        .unwrap();
        let shipped = temperaments(None).unwrap();
        assert_eq!(
            own[0].fifths(),
            find(&shipped, "vallotti").unwrap().fifths()
        );
        assert_eq!(own[1].remark, "two lines");
        let e = own[1].above_c("E".parse().unwrap()).get();
        assert!((e - 386.313_714).abs() < 1e-6, "{e}");
    }

    #[test]
    fn faults_are_found_where_they_stand() {
        let named = |name: &str| format!(r#"(name: "{name}", title: "T", fifths: Regular("0"))"#);
        check(&named("vallotti"), (2, 53), "comes with the program");
        check(
            &format!("{},\n{}", named("a"), named("a")),
            (3, 46),
            "called 'a' too",
        );
        check(&named("My own"), (2, 16), "cannot be typed");
        let fifths = |text: &str| format!("(name: \"a\", title: \"T\",\nfifths: {text})");
        check(&fifths(r#"Regular("1/6")"#), (3, 22), "is no tempering");
        check(
            &fifths(r#"Regular("-2 SC")"#),
            (3, 25),
            "is no fifth any more",
        );
        check(
            &fifths(r#"Circle({"C-G": "-1/6 PC"})"#),
            (3, 35),
            "must lose one",
        );
        check(
            &fifths(r#"Circle({"C-F": "0"})"#),
            (3, 22),
            "C-F in 'C-F' is no fifth",
        );
        check(
            &fifths(r#"Circle({"C": "0"})"#),
            (3, 20),
            "is no run of fifths",
        );
        check(
            &fifths(r#"Circle({"G#-Eb": "0", "Ab-Eb": "0"})"#),
            (3, 38),
            "once",
        );
        check(&fifths(r#"Circle({"C-G": "1/2 rest"})"#), (3, 36), "shares");
        check(
            &fifths(r#"Places({"C": 0, "H": 1})"#),
            (3, 28),
            "'H' is no note name",
        );
        check(&fifths(r#"Places({"C": "2/1"})"#), (3, 27), "is no ratio");
        check(
            &fifths(r#"Places({"C": 1200})"#),
            (3, 26),
            "within the octave",
        );
        check(
            &fifths(r#"Places({"C": 0, "B#": 0})"#),
            (3, 29),
            "placed before",
        );
        check(
            &fifths(r#"Places({"C": 0, "G": 700})"#),
            (3, 35),
            "need 12 different keys",
        );
        check(
            &fifths(r#"Even("0")"#),
            (3, 13),
            "'Regular', 'Circle' or 'Places'",
        );
        check("(title: \"T\")", (2, 12), "'name' is missing");
        check(
            "(name: \"a\", tilte: \"T\")",
            (2, 18),
            "'tilte' is not known",
        );
        check(&named("a\u{1b}[2J"), (2, 15), "cannot be typed");
    }

    #[test]
    fn another_version_is_refused() {
        let fault = read_temperaments("(\n    version: 2, temperaments: [])").unwrap_err();
        assert_eq!((fault.line, fault.column), (2, 15));
        assert!(fault.message.contains("version '2' is not known"));
        assert!(read_temperaments("(temperaments: [])").is_err());
    }
}
