//! What players are called unless somebody types another name.

use crate::rehearsal::{Family, Instrument};

/// The role an instrument plays: "Trumpet" for a natural trumpet.
pub(super) fn role(instrument: &Instrument) -> &str {
    match instrument.name.as_str() {
        "natural-trumpet" => "Trumpet",
        "horn" => "Horn",
        "flute" => "Flute",
        "sackbut" => "Sackbut",
        "organ" => "Organ",
        "recorder" => "Recorder",
        _ => &instrument.title,
    }
}

/// The first name of that role that nobody has: trumpets and violins are counted from I, others
/// from the second on.
pub(super) fn proposed<'a>(
    instrument: &Instrument,
    taken: &(impl Iterator<Item = &'a str> + Clone),
) -> String {
    let role = role(instrument);
    let is_counted = instrument.family == Family::Trumpets || instrument.name == "violin";
    let is_free = |name: &str| taken.clone().all(|other| other != name);
    if !is_counted && is_free(role) {
        return role.to_owned();
    }
    let first = if is_counted { 1 } else { 2 };
    let mut names = (first..).map(|number| format!("{role} {}", roman(number)));
    names.find(|name| is_free(name)).unwrap_or_default()
}

/// The instrument whose role somebody types: two letters tell it, or the whole role with a number.
pub(super) fn meant(instruments: &[Instrument], typed: &str) -> Option<usize> {
    let typed = typed.to_lowercase();
    if typed.chars().count() < 2 {
        return None;
    }
    let is_meant = |instrument: &Instrument| {
        let role = role(instrument).to_lowercase();
        let (first, rest) = typed.split_once(' ').unwrap_or((&typed, ""));
        // "Violin II" is a violin; "Bass v" is a bass viol or violin.
        role.starts_with(&typed) || role == first && !rest.is_empty()
    };
    instruments.iter().position(is_meant)
}

/// I to XXXIX; there are never more than 32 inputs.
fn roman(number: usize) -> String {
    const ONES: [&str; 10] = ["", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX"];
    format!("{}{}", "X".repeat(number / 10), ONES[number % 10])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::instrument;

    #[test]
    fn names_are_proposed_as_parts_are_headed() {
        let check = |name: &str, taken: &[&str], expected: &str| {
            let instrument = instrument(name).unwrap();
            assert_eq!(proposed(instrument, &taken.iter().copied()), expected);
        };
        check("natural-trumpet", &[], "Trumpet I");
        check("natural-trumpet", &["Trumpet I", "Violin I"], "Trumpet II");
        check("organ", &[], "Organ");
        check("organ", &["Organ"], "Organ II");
        check("violin", &["Violin I"], "Violin II");
        check("natural-trumpet", &["Trumpet II"], "Trumpet I");
        let all = crate::session::instruments();
        let meant = |typed: &str| meant(all, typed).map(|at| all[at].name.as_str());
        assert_eq!(meant("or"), Some("organ"));
        assert_eq!(meant("Violin II"), Some("violin"));
        assert_eq!(meant("bass vi"), Some("bass-violin"));
        assert_eq!(meant("Tromba q"), None);
        assert_eq!(meant("o"), None);
        assert_eq!((roman(9), roman(14)), ("IX".into(), "XIV".into()));
    }
}
