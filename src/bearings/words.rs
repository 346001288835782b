//! What a tuner is told, in the trade's words.

use super::pair::{Pair, Sense};
use super::sheet::{Deed, End, Sheet};

/// What to be careful about, printed on every sheet and shown before the first tone. All of it
/// is common practice.
pub const CAUTIONS: [&str; 5] = [
    "Tuning is work for the tuner or a trained player. Nothing here is a reason to turn a pin.",
    "Never force a pin: if it does not move smoothly, stop. Turn little, listen, and be sure which string it moves.",
    "Touch no organ pipe. Only the organ builder tunes an organ.",
    "Let a harpsichord that was carried in settle for an hour or more, lid closed, out of draught, lamps and sun.",
    "Gut strings need days to settle at another pitch: tell the players early, and go in steps.",
];

/// What the interval is called, whichever way round it is tuned.
pub fn interval(pair: &Pair) -> &'static str {
    match (pair.ratio.over(), pair.ratio.under()) {
        (5, 4) => "major third",
        (5, 3) => "major sixth",
        _ => pair.ratio.name().unwrap_or("interval"),
    }
}

/// Beats a second, with one decimal: nobody counts finer.
fn a_second(pair: &Pair) -> String {
    format!("{:.1} a second", pair.rate_hz())
}

impl Deed {
    /// One word for what is done.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Take(_) => "take",
            Self::Tune { .. } => "tune",
            Self::Check { .. } => "check",
            Self::Leave { .. } => "leave",
        }
    }

    /// How it is done: one sentence without a full stop.
    pub fn how(&self) -> String {
        match self {
            Self::Take(note) => match note.note.ascii().as_str() {
                "A4" | "C5" => {
                    "to this pitch: a fork that has it, the agreed pipe, or the tone".to_owned()
                }
                _ => "from the agreed pipe or a reference tone".to_owned(),
            },
            Self::Tune { pair, tuned } => how_to_tune(pair, *tuned),
            Self::Check { pair, is_first } => how_to_check(pair, *is_first),
            Self::Leave { pair, is_wolf } => how_it_is_left(pair, *is_wolf),
        }
    }
}

fn how_to_tune(pair: &Pair, tuned: End) -> String {
    let Some(sense) = pair.sense() else {
        return "pure, no beats".to_owned();
    };
    let note = match tuned {
        End::Lower => pair.lower.note,
        End::Upper => pair.upper.note,
    };
    let is_raised = matches!(
        (sense, tuned),
        (Sense::Wide, End::Upper) | (Sense::Narrow, End::Lower)
    );
    let turn = if is_raised { "raise" } else { "lower" };
    format!(
        "pure first, then {turn} {note} until it beats {}, {}",
        a_second(pair),
        sense.word()
    )
}

fn how_to_check(pair: &Pair, is_first: bool) -> String {
    let Some(sense) = pair.sense() else {
        return "pure, no beats".to_owned();
    };
    let mut how = format!("beats {}, {}", a_second(pair), sense.word());
    // A third from four fifths is wide by what they are too wide.
    if is_first && sense == Sense::Wide && pair.ratio.over() == 5 {
        how += "; faster: the fifths so far are too wide, slower: too narrow";
    }
    how
}

fn how_it_is_left(pair: &Pair, is_wolf: bool) -> String {
    let falls = match pair.sense() {
        None => "it falls out pure by itself".to_owned(),
        Some(sense) => format!("it falls out {}, {}", sense.word(), a_second(pair)),
    };
    if is_wolf {
        format!("the wolf: {falls}; leave it, do not sweeten it")
    } else {
        format!("the fifth that is left over: {falls}")
    }
}

impl Sheet {
    /// What has to be known of this sheet, a sentence or two each.
    pub fn remarks(&self) -> Vec<String> {
        let mut remarks = Vec::new();
        let asked = self.standard().a4();
        if (self.a4().get() - asked.get()).abs() > 0.005 {
            remarks.push(format!(
                "A4 comes to stand at {:.2} Hz, not at {} Hz: {} keeps the level.",
                self.a4().get(),
                asked.get(),
                self.standard().kept()
            ));
        }
        if let Some((pair, true)) = self.left_over() {
            remarks.push(format!(
                "{}\u{2013}{} is the wolf, {:.0} cents from pure.",
                pair.lower.note.name(),
                pair.upper.note.name(),
                pair.from_pure.abs().get()
            ));
        }
        if self.has_pure_thirds() && self.method() == super::Method::Fifths {
            remarks.push(
                "All major thirds of these keys are pure. It is quicker to begin with one of them \
                 and to tune all others by thirds: see --thirds."
                    .to_owned(),
            );
        }
        remarks.push(
            "Afterwards copy octaves outwards from here, then the unisons of the other choirs, \
             and listen to thirds, tenths and fifths on the way."
                .to_owned(),
        );
        remarks
    }
}
