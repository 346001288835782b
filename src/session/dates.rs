//! Local dates and times as sessions have them: `2026-11-25T19:40:00+01:00` (RFC 3339).

use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp, ZonedDateTime};
use serde::{Deserialize, Serialize};

use crate::units::Seconds;

const FORM: &str = "%Y-%m-%dT%H:%M:%S%:z";

/// A date and time that can be reckoned with.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub(super) struct Date(pub(super) String);

impl TryFrom<String> for Date {
    type Error = String;
    fn try_from(text: String) -> Result<Self, String> {
        match parse(&text) {
            Some(_) => Ok(Self(text)),
            None => Err(format!(
                "'{}' is no date and time such as 2026-11-25T19:40:00+01:00",
                text.escape_debug()
            )),
        }
    }
}

impl From<Date> for String {
    fn from(date: Date) -> Self {
        date.0
    }
}

fn parse(text: &str) -> Option<ZonedDateTime> {
    ZonedDateTime::strptime(FORM, text).ok()
}

/// This moment, to the second.
pub fn date_now() -> String {
    ZonedDateTime::now().strftime(FORM).to_string()
}

/// The name of a session file that begins now.
pub fn file_name_now() -> String {
    let now = ZonedDateTime::now();
    now.strftime("%Y-%m-%d-%H%M%S.session").to_string()
}

/// The moment of this number of seconds since 1970, in universal time.
pub(super) fn date_of(seconds: i64) -> Option<String> {
    let moment = Timestamp::from_second(seconds).ok()?;
    let zoned = moment.to_zoned_datetime(TimeZone::UTC);
    Some(zoned.strftime(FORM).to_string())
}

/// The moment so long after `date`, to the second; `date` itself where it is none.
pub fn later(date: &str, by: Seconds) -> String {
    let by = SignedDuration::from_secs(by.get().clamp(-1e9, 1e9) as i64);
    let moved = parse(date).and_then(|date| date.checked_add(by).ok());
    moved.map_or_else(|| date.to_owned(), |date| date.strftime(FORM).to_string())
}

/// How long `to` lies after `from`; none where either is no date.
pub fn between(from: &str, to: &str) -> Option<Seconds> {
    let lasted = parse(to)?.duration_since(&parse(from)?);
    Some(Seconds::new(lasted.as_secs_f64()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn times_are_reckoned_across_zones() {
        let evening = "2026-11-25T19:40:00+01:00";
        assert_eq!(
            later(evening, Seconds::new(3_600.4)),
            "2026-11-25T20:40:00+01:00"
        );
        let told = between(evening, "2026-11-25T19:40:30+00:00").unwrap();
        assert!((told.get() - 3_630.0).abs() < 1e-9);
        assert_eq!(between(evening, "yesterday"), None);
        assert_eq!(later("yesterday", Seconds::new(1.0)), "yesterday");
        assert_eq!(date_of(0).unwrap(), "1970-01-01T00:00:00+00:00");
        assert!(Date::try_from(date_now()).is_ok());
        assert!(Date::try_from("2026-13-25T19:40:00+01:00".to_owned()).is_err());
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn any_text_is_a_date_that_can_be_reckoned_with_or_none(
            text in "[0-9]{4}-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-6][0-9]:[0-6][0-9][-+][0-2][0-9]:[0-6][0-9]\
                     |-?[0-9]{1,9}-12-31T23:59:60Z|\\PC{0,30}",
            by in prop::num::f64::ANY,
        ) {
            let moved = later(&text, Seconds::new(by));
            if Date::try_from(text.clone()).is_ok() {
                prop_assert!(between(&text, &moved).is_some(), "{}", moved);
            } else {
                prop_assert_eq!(moved, text);
            }
        }
    }
}
