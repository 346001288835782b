//! What the lines of drift say, in sentences.

use super::Digest;
use super::wording::{size, time_of_day, way};
use crate::rehearsal::Finding;

/// One sentence for each finding, the most important first.
pub(super) fn sentences(digest: &Digest<'_>) -> Vec<String> {
    let begun = digest.occasion.begun;
    let sentence = |finding: &Finding| match finding {
        Finding::TooEarly => "Too little was heard to say how the pitch moved.".to_owned(),
        Finding::Still => "Nobody moved by more than can be measured.".to_owned(),
        Finding::Everyone { cents, since } => format!(
            "All tempered players went {} by {} cents together, from {} on.",
            way(*cents),
            size(*cents),
            time_of_day(begun, *since)
        ),
        Finding::One {
            player,
            cents,
            since,
        } => format!(
            "{} went {} by {} cents against the others, from {} on.",
            digest.player(*player),
            way(*cents),
            size(*cents),
            time_of_day(begun, *since)
        ),
        Finding::Series { cents, since } => format!(
            "The trumpets\u{2019} series went {} by {} cents against the tempered players, from {} on.",
            way(*cents),
            size(*cents),
            time_of_day(begun, *since)
        ),
    };
    digest.drift.findings.iter().map(sentence).collect()
}
