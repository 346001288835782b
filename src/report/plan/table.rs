//! A plan as a page in columns: what to decide first, then why, within 80 columns.

use std::fmt::Write;

use super::PlanReport;
use crate::plan::{Clash, ClashNote, Measures, MissingKey, Side, UsedNote};
use crate::report::layout::{Side as Align, columns, level, paragraph};
use crate::report::wording::{NOTHING, plain};
use crate::score::Spelling;
use crate::units::Cents;

/// How many bars are named before the rest is only counted.
const BARS: usize = 5;

/// How many proposals are told.
const PROPOSALS: usize = 12;

/// Temperaments that differ by less than this are told together, in cents.
const ALIKE: f64 = 0.5;

/// Distances that differ by less than this are nothing to decide by, in cents.
const SAME: f64 = 0.2;

impl PlanReport<'_> {
    /// Columns for reading.
    pub fn to_table(&self) -> String {
        let mut text = self.heading();
        for section in [
            self.in_short(),
            self.ranking(),
            self.worst_meetings(),
            self.who_yields(),
            self.trumpet_notes(),
            self.missing(),
        ] {
            if !section.is_empty() {
                text.push('\n');
                text += &section;
            }
        }
        text
    }

    fn has_several(&self) -> bool {
        self.programme.pieces().len() > 1
    }

    /// The pieces, and who is who in them.
    fn heading(&self) -> String {
        let standard = self.chosen.standard;
        let mut text = format!(
            "{}, keyboard {}, trumpets tuned by partial {}\n",
            level(standard.a4().get(), standard.kept()),
            self.chosen.chain,
            self.chosen.anchor.number()
        );
        for (index, piece) in self.programme.pieces().iter().enumerate() {
            let label = if self.has_several() {
                format!("{}", index + 1)
            } else {
                "-".to_owned()
            };
            let mut about = format!(
                "{}: {} bars, {} quarters; ",
                plain(piece.title()),
                piece.score().bars.all().len(),
                number(piece.quarters())
            );
            match piece.key() {
                Some(key) => {
                    let guessed = if key.is_guessed {
                        " (guessed from their notes)"
                    } else {
                        ""
                    };
                    let parts = names(&self.parts_of(index, Side::Trumpets));
                    let _ = write!(about, "trumpets in {}{guessed}: {parts}", key.name);
                }
                None => about += "no trumpets (name them with --trumpets)",
            }
            let keyboards = self.parts_of(index, Side::Keyboard);
            if keyboards.is_empty() {
                about += "; no keyboard part";
            } else {
                let _ = write!(about, "; keyboard: {}", names(&keyboards));
            }
            if piece.score().spelling == Spelling::Guessed {
                about += "; spelling guessed, as MIDI files have none";
            }
            text += &paragraph(&label, &about);
            for remark in &piece.score().remarks {
                text += &paragraph(" ", &format!("({})", plain(remark)));
            }
        }
        text
    }

    /// What a leader decides by.
    fn in_short(&self) -> String {
        let mut text = "In short\n".to_owned();
        if let Some(first) = self.ranked.first() {
            if first.measures.weighted.is_none() {
                return text
                    + &paragraph(
                        "\u{2022}",
                        "no two notes that count meet at an interval with a pure size: nothing can \
                         be compared",
                    );
            }
            let mut line = format!(
                "temperament: {} is nearest to pure, {} cents in the mean (RMS)",
                self.temperaments[first.temperament].name,
                cents(first.measures.weighted)
            );
            let distance = |measures: &Measures| measures.weighted.map_or(0.0, Cents::get);
            let next: Vec<String> = self.ranked[1..]
                .iter()
                .enumerate()
                .filter(|(index, ranked)| {
                    *index < 2 || distance(&ranked.measures) - distance(&first.measures) < ALIKE
                })
                .map(|(_, ranked)| {
                    let name = &self.temperaments[ranked.temperament].name;
                    format!("{name} {}", cents(ranked.measures.weighted))
                })
                .collect();
            if !next.is_empty() {
                let _ = write!(line, "; then {}", next.join(", "));
            }
            line += ". Half a cent decides nothing: take of these the one your keyboard and the rest \
                     of the evening can live with";
            text += &paragraph("\u{2022}", &line);
        }
        let mut say = |line: String| text += &paragraph("\u{2022}", &line);
        if let Some(best) = &self.best_fraction {
            say(format!(
                "the best regular meantone narrows its fifths by {:.3} of the syntonic comma: {} \
                 cents",
                best.fraction,
                cents(best.measures.weighted)
            ));
        }
        self.say_anchor(&mut say);
        self.say_chain(&mut say);
        text
    }

    fn say_anchor(&self, say: &mut impl FnMut(String)) {
        let now = self
            .anchors
            .iter()
            .find(|anchor| anchor.partial == self.chosen.anchor);
        let (Some(best), Some(now)) = (self.anchors.first(), now) else {
            return;
        };
        let distance = |measures: &Measures| measures.weighted.map_or(0.0, Cents::get);
        let mut line = if distance(&now.measures) - distance(&best.measures) < SAME {
            format!(
                "trumpets tune by partial {}; another would bring them less than {SAME} cents nearer",
                now.partial.number()
            )
        } else {
            format!(
                "trumpets tuned by partial {} instead of {}: {} instead of {} cents; to others {} \
                 instead of {}",
                best.partial.number(),
                now.partial.number(),
                cents(best.measures.weighted),
                cents(now.measures.weighted),
                cents(best.measures.trumpet_other),
                cents(now.measures.trumpet_other)
            )
        };
        if let Some((shift, left)) = self.best_shift
            && shift.get().abs() >= 0.5
        {
            let _ = write!(
                line,
                "; moved as a whole by {shift:.1} cents they would be {:.1} from the others",
                left.get()
            );
        }
        say(line);
    }

    fn say_chain(&self, say: &mut impl FnMut(String)) {
        let now = self
            .chains
            .iter()
            .find(|chain| chain.chain == self.chosen.chain);
        let (Some(best), Some(now)) = (self.chains.first(), now) else {
            return;
        };
        let lacks = |names: &[crate::units::NoteName]| {
            let names: Vec<String> = names.iter().map(ToString::to_string).collect();
            names.join(", ")
        };
        if now.missing.is_empty() {
            say(format!(
                "the keyboard has every note of its parts on {}",
                now.chain
            ));
        } else {
            let mut line = format!(
                "the keyboard's {} lack {} for {} quarters",
                now.chain,
                lacks(&now.missing),
                number(now.missing_quarters)
            );
            if best.missing_quarters < now.missing_quarters {
                let rest = if best.missing.is_empty() {
                    "would have every note".to_owned()
                } else {
                    format!(
                        "would lack {} for {} quarters",
                        lacks(&best.missing),
                        number(best.missing_quarters)
                    )
                };
                let _ = write!(
                    line,
                    "; {} {rest} ({} instead of {} cents)",
                    best.chain,
                    cents(best.measures.weighted),
                    cents(now.measures.weighted)
                );
            }
            if !self.chosen.temperament.extends_along_the_chain() {
                line += "; in a circulating temperament the neighbour's key serves";
            }
            say(line);
        }
    }

    /// All temperaments, and with several pieces each piece.
    fn ranking(&self) -> String {
        let rows: Vec<Vec<String>> = self
            .ranked
            .iter()
            .map(|ranked| {
                let found = ranked.measures;
                vec![
                    self.temperaments[ranked.temperament].name.clone(),
                    cents(found.all),
                    cents(found.trumpet_other),
                    cents(found.trumpet_trumpet),
                    cents(found.other_other),
                    found
                        .beats_hz
                        .map_or(NOTHING.into(), |hz| format!("{hz:.1}")),
                    found
                        .roughness
                        .map_or(NOTHING.into(), |r| format!("{r:.2}")),
                ]
            })
            .collect();
        let mut text =
            "Temperaments: mean distance from pure in cents (RMS over time)\n".to_owned();
        text += &columns(
            &[
                ("", Align::Left),
                ("all", Align::Right),
                ("tr-others", Align::Right),
                ("tr-tr", Align::Right),
                ("others", Align::Right),
                ("beats/s", Align::Right),
                ("rough", Align::Right),
            ],
            &rows,
        );
        if self.weights != crate::plan::Weights::default() {
            let _ = writeln!(
                text,
                "in the order of the weights: trumpets {}, keyboard {}, others {}",
                self.weights.trumpets, self.weights.keyboard, self.weights.others
            );
        }
        if self.has_several() {
            text.push('\n');
            text += &self.ranking_by_piece();
        }
        text
    }

    fn ranking_by_piece(&self) -> String {
        let numbers: Vec<String> = (1..=self.by_piece.len()).map(|n| n.to_string()).collect();
        // As many pieces as fit beside the longest name of a temperament.
        let shown = &numbers[..numbers.len().min(7)];
        let mut headings = vec![("", Align::Left)];
        headings.extend(shown.iter().map(|n| (n.as_str(), Align::Right)));
        let rows: Vec<Vec<String>> = self
            .ranked
            .iter()
            .map(|ranked| {
                let mut row = vec![self.temperaments[ranked.temperament].name.clone()];
                let pieces = self.by_piece.iter().take(shown.len());
                row.extend(pieces.map(|piece| cents(piece[ranked.temperament].weighted)));
                row
            })
            .collect();
        let mut text = format!("Piece by piece\n{}", columns(&headings, &rows));
        if shown.len() < numbers.len() {
            text += "(the other pieces are in the JSON form)\n";
        }
        text
    }

    fn worst_meetings(&self) -> String {
        if self.worst.is_empty() {
            return "No two notes meet at an interval that has a pure size.\n".to_owned();
        }
        let rows: Vec<Vec<String>> = self
            .worst
            .iter()
            .map(|clash| {
                vec![
                    self.places(clash),
                    note(&clash.lower),
                    note(&clash.upper),
                    clash
                        .pure
                        .name()
                        .map_or_else(|| clash.pure.to_string(), str::to_owned),
                    clash.error.to_string(),
                    clash
                        .countable_hz()
                        .map_or_else(|| "fast".to_owned(), |hz| format!("{hz:.1}")),
                    format!("{}", clash.count),
                    number(clash.quarters),
                ]
            })
            .collect();
        format!(
            "Farthest from pure in {}\n{}",
            self.chosen.temperament.name,
            columns(
                &[
                    ("bar.beat", Align::Left),
                    ("lower", Align::Left),
                    ("upper", Align::Left),
                    ("interval", Align::Left),
                    ("cents", Align::Right),
                    ("beats/s", Align::Right),
                    ("times", Align::Right),
                    ("quarters", Align::Right),
                ],
                &rows,
            )
        )
    }

    /// Where a clash happens first.
    fn places(&self, clash: &Clash) -> String {
        let Some(first) = clash.places.first() else {
            return NOTHING.to_owned();
        };
        let place = format!("{}.{}", plain(&first.bar), number(first.beat));
        if self.has_several() {
            format!("{}: {place}", clash.piece + 1)
        } else {
            place
        }
    }

    fn who_yields(&self) -> String {
        if self.proposals.is_empty() {
            return String::new();
        }
        let several_keys = self
            .proposals
            .iter()
            .any(|proposal| proposal.key != self.proposals[0].key);
        let rows: Vec<Vec<String>> = self
            .proposals
            .iter()
            .take(PROPOSALS)
            .map(|proposal| {
                let mut name = proposal.note.to_string();
                if several_keys {
                    let _ = write!(name, " (in {})", proposal.key);
                }
                vec![
                    name,
                    proposal.partial.number().to_string(),
                    proposal.gap.to_string(),
                    proposal.resolution.words(),
                    format!("{:.1}", proposal.exposed.get()),
                    format!("{:.1}", proposal.settled.get()),
                    proposal.count.to_string(),
                    number(proposal.quarters),
                ]
            })
            .collect();
        let mut text = format!(
            "Who yields: what costs least, to start from\n{}",
            columns(
                &[
                    ("note", Align::Left),
                    ("partial", Align::Right),
                    ("above", Align::Right),
                    ("proposal", Align::Left),
                    ("before", Align::Right),
                    ("after", Align::Right),
                    ("times", Align::Right),
                    ("quarters", Align::Right),
                ],
                &rows,
            )
        );
        if self.proposals.len() > PROPOSALS {
            text += "(the rest is in the JSON form)\n";
        }
        text + &paragraph(
            "",
            "above: the partial against the tempered note; before and after: its meetings' mean \
             distance from pure, in cents. Reaches are settings after common practice \
             (--reach 'Trumpet*=20/30').",
        )
    }

    /// What is asked of the trumpets, part by part; pieces in one key are added up.
    fn trumpet_notes(&self) -> String {
        let mut parts: Vec<(String, Vec<UsedNote>)> = Vec::new();
        for (index, usages) in self.usage.iter().enumerate() {
            for usage in usages {
                let name = self.part_in_key(&usage.part, index);
                let known = parts.iter().position(|(other, _)| *other == name);
                let at = known.unwrap_or_else(|| {
                    parts.push((name, Vec::new()));
                    parts.len() - 1
                });
                for note in &usage.notes {
                    let bars = note.bars.iter().map(|bar| self.bar(index, bar));
                    merge(&mut parts[at].1, note, bars.collect());
                }
            }
        }
        let mut text = String::new();
        for (name, notes) in &mut parts {
            if notes.is_empty() {
                continue;
            }
            notes.sort_by_key(|note| (note.note.key_number(), note.note.name().fifths()));
            if text.is_empty() {
                text += "Trumpets' notes: partial, and its cents above the tempered note\n";
            } else {
                text.push('\n');
            }
            text += &table_of(name, notes);
        }
        text
    }

    fn bar(&self, piece: usize, bar: &str) -> String {
        if self.has_several() {
            format!("{}:{}", piece + 1, plain(bar))
        } else {
            plain(bar)
        }
    }

    fn missing(&self) -> String {
        let row = |index: usize, missing: &MissingKey| {
            let listed: Vec<String> = missing
                .bars
                .iter()
                .map(|bar| self.bar(index, bar))
                .collect();
            vec![
                missing.note.to_string(),
                missing.struck.to_string(),
                plain(&missing.part),
                missing.count.to_string(),
                number(missing.quarters),
                bars(&listed),
            ]
        };
        let pieces = self.missing.iter().enumerate();
        let rows: Vec<Vec<String>> = pieces
            .flat_map(|(index, missing)| missing.iter().map(move |missing| row(index, missing)))
            .collect();
        if rows.is_empty() {
            return String::new();
        }
        format!(
            "Keys the keyboard does not have on {}\n{}",
            self.chosen.chain,
            columns(
                &[
                    ("note", Align::Left),
                    ("struck", Align::Left),
                    ("part", Align::Left),
                    ("times", Align::Right),
                    ("quarters", Align::Right),
                    ("bars", Align::Left),
                ],
                &rows,
            )
        )
    }
}

/// Adds a piece's note to those of other pieces.
fn merge(notes: &mut Vec<UsedNote>, note: &UsedNote, bars: Vec<String>) {
    match notes.iter_mut().find(|other| other.note == note.note) {
        Some(known) => {
            known.count += note.count;
            known.quarters += note.quarters;
            known.bars.extend(bars);
        }
        None => notes.push(UsedNote {
            bars,
            ..note.clone()
        }),
    }
}

fn table_of(name: &str, notes: &[UsedNote]) -> String {
    let rows: Vec<Vec<String>> = notes
        .iter()
        .map(|note| {
            let mark = if note.partial.is_none() {
                "no partial: bend it"
            } else if note.is_high() {
                "above 16"
            } else if note.is_between() {
                "between notes"
            } else {
                ""
            };
            let listed = if mark.is_empty() {
                String::new()
            } else {
                format!("bars {}", bars(&note.bars))
            };
            vec![
                note.note.to_string(),
                note.partial
                    .map_or(NOTHING.to_owned(), |partial| partial.number().to_string()),
                note.from_tempered
                    .map_or(NOTHING.to_owned(), |cents| cents.to_string()),
                note.count.to_string(),
                number(note.quarters),
                mark.to_owned(),
                listed,
            ]
        })
        .collect();
    columns(
        &[
            (&plain(name), Align::Left),
            ("partial", Align::Right),
            ("cents", Align::Right),
            ("times", Align::Right),
            ("quarters", Align::Right),
            ("", Align::Left),
            ("", Align::Left),
        ],
        &rows,
    )
}

/// `A4 Violin`, or `G5 (11.) Trumpet` on a partial.
fn note(note: &ClashNote) -> String {
    let part = plain(&note.part);
    match note.partial {
        Some(partial) => format!("{} ({}.) {part}", note.note, partial.number()),
        None => format!("{} {part}", note.note),
    }
}

/// The first few bars.
fn bars(all: &[String]) -> String {
    let shown: Vec<&str> = all.iter().take(BARS).map(String::as_str).collect();
    let mut text = shown.join(" ");
    if all.len() > BARS {
        let _ = write!(text, " and {} more", all.len() - BARS);
    }
    text
}

fn names(names: &[&str]) -> String {
    let names: Vec<String> = names.iter().map(|name| plain(name)).collect();
    names.join(", ")
}

fn cents(cents: Option<Cents>) -> String {
    cents.map_or(NOTHING.to_owned(), |cents| format!("{:.2}", cents.get()))
}

/// A count of quarters or a beat, without needless decimals.
fn number(number: f64) -> String {
    let rounded = (number * 100.0).round() / 100.0;
    format!("{rounded}")
}
