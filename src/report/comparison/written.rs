//! A comparison in columns and as JSON.

use std::fmt::Write;

use serde::Serialize;
use serde_json::{Value, json};

use super::{ComparedPitch, Comparison, Stand, practice};
use crate::report::Digest;
use crate::report::layout::{self, Side, columns, rounded};
use crate::report::wording::{NOTHING, hertz, plain, short_day};

#[derive(Serialize)]
struct Document {
    version: u32,
    rehearsals: Vec<Value>,
    pitches: Vec<Value>,
    agreements: Vec<Value>,
    practice: Vec<Value>,
}

impl Comparison<'_> {
    /// For reading on a terminal.
    pub fn to_table(&self) -> String {
        let mut text = self.rehearsals();
        text.push('\n');
        text.push_str(&self.pitches_in_columns());
        if !self.agreements.is_empty() {
            let _ = write!(text, "\n{}", self.agreements_in_columns());
        }
        if !self.practice.is_empty() {
            let practice = practice::to_table(&self.practice, self.digests.len());
            let _ = write!(text, "\n{practice}");
        }
        text
    }

    /// For scripts:
    /// `{"version":1,"rehearsals":[{"name":..,"begun":..,"title":..,"a4_hz":415.0,
    /// "start_a4_hz":415.2,"end_a4_hz":418.0,"everyone_cents":3.1}],"pitches":[{"player":"Trumpet I","label":"p11",
    /// "note":"G#5","stands":[{"tempered_cents":-38.0,"tempered_spread_cents":4.0,
    /// "partial_cents":0.9,"partial_spread_cents":4.0,"notes":7},null],"change_cents":3.5,
    /// "came_back":false}],"agreements":[{"note":"G#","agreed":["follow the partial",null]}],
    /// "practice":[{"exercise":"ladder","note":"G#5","partial":11,"place":"partial","tallies":
    /// [{"notes":9,"off_cents":-3.1,"distance_cents":4.0,"spread_cents":2.2,"sounding_s":31.5,
    /// "inside_s":20.1},null],"change_cents":null,"change_inside":null}]}`.
    ///
    /// `stands`, `agreed` and `tallies` have an entry for each rehearsal, in the order of their dates.
    /// `everyone_cents` is where the ensemble stood in the middle of the rehearsal, and
    /// `change_cents` of a pitch counts from there; of practice it is how much the distance grew,
    /// and `change_inside` how much the share of the time inside did. Numbers that were not measured are null.
    ///
    /// # Panics
    ///
    /// Never: it holds only text and finite numbers.
    pub fn to_json(&self) -> String {
        let rehearsals: Vec<Value> = self.digests.iter().map(|d| rehearsal(d)).collect();
        let pitches: Vec<Value> = self.pitches.iter().map(pitch).collect();
        let agreements = self.agreements.iter();
        let agreements: Vec<Value> = agreements
            .map(|row| json!({"note": row.note.ascii(), "agreed": row.agreed}))
            .collect();
        let practice = self.practice.iter().filter_map(practice::to_json).collect();
        layout::json(&Document {
            version: 1,
            rehearsals,
            pitches,
            agreements,
            practice,
        })
    }

    fn rehearsals(&self) -> String {
        let rows: Vec<Vec<String>> = self
            .digests
            .iter()
            .enumerate()
            .map(|(index, digest)| {
                let level = Comparison::level(digest);
                let (start, end) = level.map_or_else(
                    || (NOTHING.to_owned(), NOTHING.to_owned()),
                    |(start, end)| (hertz(start), hertz(end)),
                );
                vec![
                    (index + 1).to_string(),
                    short_day(digest.occasion.begun),
                    start,
                    end,
                    Comparison::everyone(digest)
                        .map_or_else(|| NOTHING.to_owned(), |cents| cents.to_string()),
                    plain(digest.occasion.name),
                ]
            })
            .collect();
        let headings = [
            ("", Side::Right),
            ("date", Side::Left),
            ("A4 at start", Side::Right),
            ("at end", Side::Right),
            ("everyone", Side::Right),
            ("session", Side::Left),
        ];
        columns(&headings, &rows)
    }

    fn pitches_in_columns(&self) -> String {
        if self.pitches.is_empty() {
            return "no pitch of one player was measured in more than one of them\n".to_owned();
        }
        let numbers = 1..=self.digests.len();
        let own: Vec<String> = numbers
            .flat_map(|number| [format!("{number} \u{25c7}"), format!("{number} \u{25a1}")])
            .collect();
        let mut headings = vec![
            ("player", Side::Left),
            ("pitch", Side::Left),
            ("note", Side::Left),
        ];
        headings.extend(own.iter().map(|heading| (&**heading, Side::Right)));
        headings.extend([("change", Side::Right), ("", Side::Left)]);
        let rows: Vec<Vec<String>> = self.pitches.iter().map(cells).collect();
        let known = self.digests.iter().filter_map(|d| Comparison::everyone(d));
        let beside = if known.count() > 1 {
            "cents from the partial (\u{25c7}) and the tempered note (\u{25a1}); a change is counted beside everyone's\n"
        } else {
            "cents from the partial (\u{25c7}) and the tempered note (\u{25a1})\n"
        };
        format!("{beside}{}", columns(&headings, &rows))
    }

    fn agreements_in_columns(&self) -> String {
        let numbers: Vec<String> = (1..=self.digests.len()).map(|n| n.to_string()).collect();
        let mut headings = vec![("\u{25c6}", Side::Left)];
        headings.extend(numbers.iter().map(|number| (&**number, Side::Left)));
        let rows: Vec<Vec<String>> = self
            .agreements
            .iter()
            .map(|row| {
                let words = row.agreed.iter().cloned();
                let words = words.map(|agreed| agreed.unwrap_or_else(|| NOTHING.to_owned()));
                std::iter::once(row.note.to_string()).chain(words).collect()
            })
            .collect();
        columns(&headings, &rows)
    }
}

fn cells(pitch: &ComparedPitch) -> Vec<String> {
    let mut row = vec![
        plain(&pitch.player),
        pitch.label.to_string(),
        pitch.note.to_string(),
    ];
    for stand in &pitch.stands {
        let partial = stand.and_then(|stand| stand.from_partial);
        let tempered = stand.map(|stand| stand.from_tempered);
        row.extend([partial, tempered].map(|spread| {
            spread.map_or_else(|| NOTHING.to_owned(), |spread| spread.median.to_string())
        }));
    }
    row.push(pitch.change.to_string());
    row.push(if pitch.came_back { "came back" } else { "" }.to_owned());
    row
}

fn rehearsal(digest: &Digest<'_>) -> Value {
    let level = Comparison::level(digest);
    let standard = digest.first_tuning().map(|tuning| tuning.standard().a4());
    json!({
        "name": digest.occasion.name,
        "begun": digest.occasion.begun,
        "title": digest.title(),
        "a4_hz": standard.map(|a4| rounded(a4.get())),
        "start_a4_hz": level.map(|(start, _)| rounded(start.get())),
        "end_a4_hz": level.map(|(_, end)| rounded(end.get())),
        "everyone_cents": Comparison::everyone(digest).map(|cents| rounded(cents.get())),
    })
}

fn pitch(pitch: &ComparedPitch) -> Value {
    let stand = |stand: &Stand| {
        let partial = stand.from_partial;
        json!({
            "tempered_cents": rounded(stand.from_tempered.median.get()),
            "tempered_spread_cents": rounded(stand.from_tempered.spread.get()),
            "partial_cents": partial.map(|from| rounded(from.median.get())),
            "partial_spread_cents": partial.map(|from| rounded(from.spread.get())),
            "notes": stand.count,
        })
    };
    let stands: Vec<Option<Value>> = pitch.stands.iter().map(|s| s.as_ref().map(stand)).collect();
    json!({
        "player": pitch.player,
        "label": format!("{:#}", pitch.label),
        "note": pitch.note.ascii(),
        "stands": stands,
        "change_cents": rounded(pitch.change.get()),
        "came_back": pitch.came_back,
    })
}
