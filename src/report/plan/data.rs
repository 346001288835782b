//! A plan as JSON.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::{Map, Value, json};

use super::PlanReport;
use crate::plan::{Clash, ClashNote, Measures, MissingKey, Proposal, Side, UsedNote};
use crate::rehearsal::Resolution;
use crate::report::layout::{self, rounded};
use crate::report::notes_data::word;
use crate::score::Spelling;
use crate::units::Cents;

impl PlanReport<'_> {
    /// JSON for scripts. Cents are root mean squares or distances, positive wide or high; notes
    /// are ASCII at sounding pitch; pieces count from 1; `null` stands where there is no such
    /// thing.
    ///
    /// `{"pieces":[{"title","quarters","bars","trumpets":[part],"keyboard":[part],
    /// "series_key","series_key_guessed","spelling":"written|guessed","remarks":[text],
    /// "temperaments":{name:MEASURES}}],
    /// "a4_hz","kept_by","chain","anchor_partial","weights":{"trumpets","keyboard","others"},
    /// "chosen":name, "ranking":[name, nearest to pure first],
    /// "temperaments":{name:MEASURES},
    /// "best_fraction": part of the syntonic comma, "best_fraction_measures":MEASURES,
    /// "anchors":[{"partial", ..MEASURES}], "best_shift":{"cents","trumpet_other"},
    /// "chains":[{"chain","missing_quarters","missing":[note], ..MEASURES}],
    /// "usage":{part:{note:{"partial","count","quarters","cents_from_tempered","above_16",
    /// "between_notes"}}},
    /// "unplayable":[{"piece","part","note","count","quarters","bars":[text]}],
    /// "missing_keys":[{"piece","part","note","struck","count","quarters","bars"}],
    /// "worst":[{"piece","bar","beat","lower":{"part","note","side","partial"},"upper":{..},
    /// "pure":"5/4","cents","beats_hz","count","quarters","bars":[text]}],
    /// "proposals":[{"series_key","note","partial","gap_cents","resolution","meet_at_cents",
    /// "words","exposed","settled","count","quarters"}]}`
    /// with MEASURES
    /// `{"trumpet_other","trumpet_trumpet","other_other","all","weighted","beats_hz","roughness"}`.
    ///
    /// Everything but `temperaments` and `ranking` is told of the temperament `chosen`. `usage`
    /// adds up all pieces; a part whose trumpets change their key is told once for each key.
    pub fn to_json(&self) -> String {
        let pieces: Vec<Value> = (0..self.programme.pieces().len())
            .map(|piece| self.piece(piece))
            .collect();
        let ranking: Vec<&str> = self
            .ranked
            .iter()
            .map(|ranked| self.temperaments[ranked.temperament].name.as_str())
            .collect();
        let indices = 0..self.temperaments.len();
        let temperaments: Map<String, Value> = indices
            .map(|index| {
                let name = self.temperaments[index].name.clone();
                (name, measures(self.measures_of(index)))
            })
            .collect();
        let anchors: Vec<Value> = self
            .anchors
            .iter()
            .map(|anchor| with("partial", json!(anchor.partial.number()), anchor.measures))
            .collect();
        let chains: Vec<Value> = self
            .chains
            .iter()
            .map(|chain| {
                let mut value = with("chain", json!(format!("{:#}", chain.chain)), chain.measures);
                value["missing_quarters"] = json!(rounded(chain.missing_quarters));
                value["missing"] = json!(chain.missing);
                value
            })
            .collect();
        let fraction = self.best_fraction.as_ref();
        let value = json!({
            "pieces": pieces,
            "a4_hz": rounded(self.chosen.standard.a4().get()),
            "kept_by": self.chosen.standard.kept(),
            "chain": format!("{:#}", self.chosen.chain),
            "anchor_partial": self.chosen.anchor.number(),
            "weights": {
                "trumpets": self.weights.trumpets,
                "keyboard": self.weights.keyboard,
                "others": self.weights.others,
            },
            "chosen": self.chosen.temperament.name,
            "ranking": ranking,
            "temperaments": temperaments,
            "best_fraction": fraction.map(|best| rounded(best.fraction)),
            "best_fraction_measures": fraction.map(|best| measures(best.measures)),
            "anchors": anchors,
            "best_shift": self.best_shift.map(|(shift, left)| json!({
                "cents": rounded(shift.get()),
                "trumpet_other": rounded(left.get()),
            })),
            "chains": chains,
            "usage": self.used(),
            "unplayable": self.unplayable(),
            "missing_keys": self.missing_keys(),
            "worst": self.worst.iter().map(clash).collect::<Vec<_>>(),
            "proposals": self.proposals.iter().map(proposal).collect::<Vec<_>>(),
        });
        layout::json(&value)
    }

    fn piece(&self, index: usize) -> Value {
        let piece = &self.programme.pieces()[index];
        let temperaments: Map<String, Value> = self
            .temperaments
            .iter()
            .zip(&self.by_piece[index])
            .map(|(temperament, found)| (temperament.name.clone(), measures(*found)))
            .collect();
        json!({
            "title": piece.title(),
            "quarters": rounded(piece.quarters()),
            "bars": piece.score().bars.all().len(),
            "trumpets": self.parts_of(index, Side::Trumpets),
            "keyboard": self.parts_of(index, Side::Keyboard),
            "series_key": piece.key().map(|key| key.name),
            "series_key_guessed": piece.key().map(|key| key.is_guessed),
            "spelling": match piece.score().spelling {
                Spelling::Written => "written",
                Spelling::Guessed => "guessed",
            },
            "remarks": piece.score().remarks,
            "temperaments": temperaments,
        })
    }

    /// What the trumpet parts of all pieces play.
    fn used(&self) -> BTreeMap<String, BTreeMap<String, UsageCell>> {
        let mut used: BTreeMap<String, BTreeMap<String, UsageCell>> = BTreeMap::new();
        for (index, usages) in self.usage.iter().enumerate() {
            for usage in usages {
                let part = used
                    .entry(self.part_in_key(&usage.part, index))
                    .or_default();
                for note in &usage.notes {
                    let cell = part
                        .entry(note.note.ascii())
                        .or_insert_with(|| UsageCell::of(note));
                    cell.count += note.count;
                    cell.quarters = rounded(cell.quarters + note.quarters);
                }
            }
        }
        used
    }

    fn unplayable(&self) -> Vec<Value> {
        let mut rows = Vec::new();
        for (index, usages) in self.usage.iter().enumerate() {
            for usage in usages {
                let bent = usage.notes.iter().filter(|note| note.partial.is_none());
                rows.extend(bent.map(|note| {
                    json!({
                        "piece": index + 1,
                        "part": usage.part,
                        "note": note.note,
                        "count": note.count,
                        "quarters": rounded(note.quarters),
                        "bars": note.bars,
                    })
                }));
            }
        }
        rows
    }

    fn missing_keys(&self) -> Vec<Value> {
        let row = |index: usize, missing: &MissingKey| {
            json!({
                "piece": index + 1,
                "part": missing.part,
                "note": missing.note,
                "struck": missing.struck,
                "count": missing.count,
                "quarters": rounded(missing.quarters),
                "bars": missing.bars,
            })
        };
        let pieces = self.missing.iter().enumerate();
        pieces
            .flat_map(|(index, missing)| missing.iter().map(move |missing| row(index, missing)))
            .collect()
    }

    /// A part's name, with the key of its trumpets where that is not the same in all pieces.
    pub(super) fn part_in_key(&self, part: &str, piece: usize) -> String {
        let key = |index: usize| self.programme.pieces()[index].key().map(|key| key.name);
        let mut others = (0..self.usage.len()).filter(|index| {
            let mut parts = self.usage[*index].iter();
            parts.any(|usage| usage.part == part)
        });
        match key(piece) {
            Some(name) if others.any(|other| key(other) != Some(name)) => {
                format!("{part} (in {name:#})")
            }
            _ => part.to_owned(),
        }
    }
}

#[derive(Debug, Serialize)]
struct UsageCell {
    partial: Option<u8>,
    count: usize,
    quarters: f64,
    cents_from_tempered: Option<f64>,
    above_16: bool,
    between_notes: bool,
}

impl UsageCell {
    /// Of a note of which nothing has been counted yet.
    fn of(note: &UsedNote) -> Self {
        Self {
            partial: note.partial.map(crate::tuning::Partial::number),
            count: 0,
            quarters: 0.0,
            cents_from_tempered: note.from_tempered.map(|cents| rounded(cents.get())),
            above_16: note.is_high(),
            between_notes: note.is_between(),
        }
    }
}

fn measures(measures: Measures) -> Value {
    let cents = |cents: Option<Cents>| cents.map(|cents| rounded(cents.get()));
    json!({
        "trumpet_other": cents(measures.trumpet_other),
        "trumpet_trumpet": cents(measures.trumpet_trumpet),
        "other_other": cents(measures.other_other),
        "all": cents(measures.all),
        "weighted": cents(measures.weighted),
        "beats_hz": measures.beats_hz.map(rounded),
        "roughness": measures.roughness.map(rounded),
    })
}

fn with(name: &str, value: Value, found: Measures) -> Value {
    let mut all = measures(found);
    all[name] = value;
    all
}

fn clash(clash: &Clash) -> Value {
    let note = |note: &ClashNote| {
        json!({
            "part": note.part,
            "note": note.note,
            "side": match note.side {
                Side::Trumpets => "trumpets",
                Side::Keyboard => "keyboard",
                Side::Others => "others",
            },
            "partial": note.partial,
        })
    };
    let first = clash.places.first();
    let mut bars: Vec<&str> = clash
        .places
        .iter()
        .map(|place| place.bar.as_str())
        .collect();
    bars.dedup();
    json!({
        "piece": clash.piece + 1,
        "bar": first.map(|place| &place.bar),
        "beat": first.map(|place| rounded(place.beat)),
        "lower": note(&clash.lower),
        "upper": note(&clash.upper),
        "pure": clash.pure.to_string(),
        "cents": rounded(clash.error.get()),
        "beats_hz": rounded(clash.beats_hz),
        "count": clash.count,
        "quarters": rounded(clash.quarters),
        "bars": bars,
    })
}

fn proposal(proposal: &Proposal) -> Value {
    let meet = match proposal.resolution {
        Resolution::MeetBetween(cents) => Some(rounded(cents.get())),
        Resolution::FollowPartial
        | Resolution::FollowTemperament
        | Resolution::TrumpetLips
        | Resolution::KeyboardLeavesOut
        | Resolution::LeaveExposed => None,
    };
    json!({
        "series_key": proposal.key,
        "note": proposal.note,
        "partial": proposal.partial,
        "gap_cents": rounded(proposal.gap.get()),
        "resolution": word(proposal.resolution),
        "meet_at_cents": meet,
        "words": proposal.resolution.words(),
        "exposed": rounded(proposal.exposed.get()),
        "settled": rounded(proposal.settled.get()),
        "count": proposal.count,
        "quarters": rounded(proposal.quarters),
    })
}
