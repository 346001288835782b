//! One part of a score: its bars, each with the notes in it, as they are written. Where bars
//! begin, and what is tied, is known only when all parts are read.

use roxmltree::Node;

use super::duration::{Decimal, Grain};
use super::signature::{Meter, fifths};
use super::transposition::Transposition;
use crate::score::names::tidy;
use crate::score::{BarFault, LONGEST_BAR, MOST_BARS, ScoreError, at_most};
use crate::units::Note;

/// What one part writes.
#[derive(Debug)]
pub(super) struct Reading {
    /// Units of its time in a quarter note.
    pub(super) per_quarter: u64,
    pub(super) notes: Vec<WrittenNote>,
    pub(super) bars: Vec<WrittenBar>,
    /// Whether it has notes without pitch.
    pub(super) unpitched: bool,
    /// How many notes lie between the keys.
    pub(super) microtones: usize,
    /// The bars in which it goes back to before their beginning.
    pub(super) too_far_back: Vec<String>,
}

/// A note within its bar, at sounding pitch.
#[derive(Debug, Clone, Copy)]
pub(super) struct WrittenNote {
    pub(super) note: Note,
    pub(super) bar: u32,
    /// From the beginning of the bar.
    pub(super) offset: u64,
    pub(super) length: u64,
    pub(super) voice: u16,
    /// Whether a tie begins at it.
    pub(super) begins_tie: bool,
    /// Whether a tie ends at it.
    pub(super) ends_tie: bool,
}

/// What a part says of a bar.
#[derive(Debug)]
pub(super) struct WrittenBar {
    pub(super) number: String,
    /// How far notes, rests and blanks go.
    pub(super) written: u64,
    /// How far rests of a whole bar go, which are as long as the bar is whatever they say.
    pub(super) rested: u64,
    /// Whether it is not counted as a bar, as an upbeat.
    pub(super) implicit: bool,
    pub(super) meter: Option<Meter>,
    /// Sounding key signatures, with where in the bar.
    pub(super) signatures: Vec<(u64, i8)>,
}

/// The text of a child of that name.
pub(super) fn text_of<'a>(node: Node<'a, '_>, name: &str) -> Option<&'a str> {
    child(node, name).map(|child| child.text().unwrap_or_default())
}

fn child<'a, 'input>(node: Node<'a, 'input>, name: &str) -> Option<Node<'a, 'input>> {
    node.children()
        .find(|child| child.tag_name().name() == name)
}

/// Reads a `<part>` called `name`.
pub(super) fn read(part: Node, name: &str) -> Result<Reading, ScoreError> {
    let measures = || {
        part.children()
            .filter(|node| node.tag_name().name() == "measure")
    };
    at_most("bars", measures().count(), MOST_BARS)?;
    let mut reader = Reader {
        divisions: None,
        meter: None,
        key: None,
        everywhere: Transposition::default(),
        by_staff: Vec::new(),
        position: 0,
        chord: 0,
        reading: Reading {
            per_quarter: grain(part)?.per_quarter,
            notes: Vec::new(),
            bars: Vec::new(),
            unpitched: false,
            microtones: 0,
            too_far_back: Vec::new(),
        },
    };
    for (index, measure) in measures().enumerate() {
        let number = tidy(measure.attribute("number").unwrap_or_default());
        let number = if number.is_empty() {
            (index + 1).to_string()
        } else {
            number.chars().take(LONGEST_NUMBER).collect()
        };
        reader
            .measure(measure, number.clone())
            .map_err(|fault| ScoreError::Bar {
                bar: number,
                part: name.to_owned(),
                fault,
            })?;
    }
    Ok(reader.reading)
}

/// Longest name of a bar, in characters.
const LONGEST_NUMBER: usize = 12;

/// The unit in which everything in a part is whole; what cannot be read is told at its bar.
fn grain(part: Node) -> Result<Grain, ScoreError> {
    let (mut divisions, mut beat_types, mut places) = (Vec::new(), Vec::new(), 0);
    for node in part.descendants() {
        let text = || node.text().unwrap_or_default().trim();
        match node.tag_name().name() {
            "divisions" => divisions.extend(Decimal::of(text())),
            "beat-type" => beat_types.extend(text().parse::<u64>().ok()),
            "duration" => places = places.max(Decimal::of(text()).map_or(0, Decimal::places)),
            _ => {}
        }
    }
    let beat_types = beat_types.into_iter().filter(|beat| beat.is_power_of_two());
    Grain::of(
        divisions.into_iter(),
        beat_types.map(|beat| beat.min(1024)),
        places,
    )
    .ok_or(ScoreError::Divisions)
}

struct Reader {
    divisions: Option<Decimal>,
    meter: Option<Meter>,
    /// The written key.
    key: Option<i8>,
    everywhere: Transposition,
    /// Staves with a transposition of their own.
    by_staff: Vec<(String, Transposition)>,
    /// Where in the bar.
    position: u64,
    /// Where the last note that is no grace began, for those of its chord.
    chord: u64,
    reading: Reading,
}

impl Reader {
    fn measure(&mut self, measure: Node, number: String) -> Result<(), BarFault> {
        self.position = 0;
        self.chord = 0;
        self.reading.bars.push(WrittenBar {
            number,
            written: 0,
            rested: 0,
            implicit: measure.attribute("implicit") == Some("yes"),
            meter: self.meter,
            signatures: Vec::new(),
        });
        for node in measure.children() {
            match node.tag_name().name() {
                "attributes" => self.attributes(node)?,
                "note" => self.note(node)?,
                "forward" => {
                    self.position += self.duration(node)?;
                    self.written(self.position)?;
                }
                "backup" => {
                    let back = self.duration(node)?;
                    if back > self.position {
                        let bar = self.bar().number.clone();
                        self.reading.too_far_back.push(bar);
                    }
                    self.position = self.position.saturating_sub(back);
                }
                _ => {}
            }
        }
        Ok(())
    }

    fn bar(&mut self) -> &mut WrittenBar {
        self.reading
            .bars
            .last_mut()
            .expect("a bar is begun before anything in it is read")
    }

    /// Something is written up to there.
    fn written(&mut self, end: u64) -> Result<(), BarFault> {
        self.short_enough(end)?;
        let bar = self.bar();
        bar.written = bar.written.max(end);
        Ok(())
    }

    fn short_enough(&self, end: u64) -> Result<(), BarFault> {
        if end > LONGEST_BAR * self.reading.per_quarter {
            return Err(BarFault::Long(LONGEST_BAR));
        }
        Ok(())
    }

    fn attributes(&mut self, node: Node) -> Result<(), BarFault> {
        if let Some(text) = text_of(node, "divisions") {
            let divisions = Decimal::of(text).filter(|divisions| !divisions.is_zero());
            self.divisions = Some(divisions.ok_or_else(|| BarFault::Divisions(tidy(text)))?);
        }
        let mut signature = false;
        for child in node.children() {
            match child.tag_name().name() {
                // Of staves with signatures of their own, the first one's is the part's.
                "key" if child.attribute("number").is_none_or(|staff| staff == "1") => {
                    self.key = fifths(child)?;
                    signature = true;
                }
                "time" if child.attribute("number").is_none_or(|staff| staff == "1") => {
                    self.meter = Meter::read(child)?;
                    self.bar().meter = self.meter;
                }
                "transpose" => {
                    let transposition = Transposition::read(child)?;
                    match child.attribute("number") {
                        None => {
                            self.everywhere = transposition;
                            self.by_staff.clear();
                        }
                        Some(staff) => {
                            self.by_staff.retain(|(other, _)| other != staff);
                            self.by_staff.push((staff.to_owned(), transposition));
                        }
                    }
                    signature = true;
                }
                _ => {}
            }
        }
        if let (true, Some(key)) = (signature, self.key) {
            let sounding = self.transposition("1").signature(key);
            let position = self.position;
            self.bar().signatures.push((position, sounding));
        }
        Ok(())
    }

    fn transposition(&self, staff: &str) -> Transposition {
        let own = self.by_staff.iter().find(|(other, _)| other == staff);
        own.map_or(self.everywhere, |(_, transposition)| *transposition)
    }

    /// How long a note, a forward or a backup says it is.
    fn duration(&self, node: Node) -> Result<u64, BarFault> {
        let text = text_of(node, "duration").unwrap_or_default();
        let duration = Decimal::of(text).ok_or_else(|| BarFault::Duration(tidy(text)))?;
        if duration.is_zero() {
            return Ok(0);
        }
        let divisions = self.divisions.ok_or(BarFault::NoDivisions)?;
        let grain = Grain {
            per_quarter: self.reading.per_quarter,
        };
        let units = grain
            .units(duration, divisions)
            .ok_or_else(|| BarFault::Duration(tidy(text)))?;
        self.short_enough(units)?;
        Ok(units)
    }

    fn note(&mut self, node: Node) -> Result<(), BarFault> {
        let (mut pitch, mut rest, mut unpitched) = (None, None, false);
        let (mut grace, mut cue, mut chord, mut timed) = (false, false, false, false);
        let (mut staff, mut voice) = ("1", 0);
        for child in node.children() {
            let text = || child.text().unwrap_or_default().trim();
            match child.tag_name().name() {
                "grace" => grace = true,
                "cue" => cue = true,
                "chord" => chord = true,
                "pitch" => pitch = Some(child),
                "rest" => rest = Some(child),
                "unpitched" => unpitched = true,
                "duration" => timed = true,
                "staff" => staff = text(),
                "voice" => voice = text().parse().unwrap_or(0),
                _ => {}
            }
        }
        if grace {
            return Ok(());
        }
        let whole_bar = rest.is_some_and(|rest| rest.attribute("measure") == Some("yes"));
        let length = match self.meter {
            // Only rests of a whole bar may leave it out; some programs leave it out of cues too.
            Some(meter) if whole_bar && !timed => meter.bar(self.reading.per_quarter),
            _ if !timed && (cue || whole_bar) => 0,
            _ => self.duration(node)?,
        };
        let onset = if chord { self.chord } else { self.position };
        self.chord = onset;
        let end = onset + length;
        if !chord {
            self.position = end;
        }
        if whole_bar {
            self.short_enough(end)?;
            let bar = self.bar();
            bar.rested = bar.rested.max(end);
        } else {
            self.written(end)?;
        }
        self.reading.unpitched |= unpitched;
        let Some(pitch) = pitch.filter(|_| !cue && length > 0) else {
            return Ok(());
        };
        let written = self.pitch(pitch)?;
        let sounding = self
            .transposition(staff)
            .sounding(written)
            .ok_or_else(|| BarFault::Range(written.ascii()))?;
        let (begins_tie, ends_tie) = ties(node);
        self.reading.notes.push(WrittenNote {
            note: sounding,
            bar: self.reading.bars.len() as u32 - 1,
            offset: onset,
            length,
            voice,
            begins_tie,
            ends_tie,
        });
        Ok(())
    }

    /// Reads a `<pitch>`. A note between the keys becomes the nearest, of two the one with less
    /// of an accidental.
    fn pitch(&mut self, node: Node) -> Result<Note, BarFault> {
        let text = |name| text_of(node, name).unwrap_or_default().trim();
        let (step, alter, octave) = (text("step"), text("alter"), text("octave"));
        let wrong = || BarFault::Pitch(tidy(&format!("{step} {alter} {octave}")));
        let alter: f64 = if alter.is_empty() {
            0.0
        } else {
            alter.parse().map_err(|_| wrong())?
        };
        if alter.is_nan() || alter.abs() > 2.5 {
            return Err(wrong());
        }
        if alter.fract() != 0.0 {
            self.reading.microtones += 1;
        }
        let sharps = (alter.abs() - 0.5).ceil().max(0.0) * alter.signum();
        let accidentals = match sharps as i8 {
            -2 => "bb",
            -1 => "b",
            1 => "#",
            2 => "##",
            _ => "",
        };
        let is_octave = octave.len() == 1 && octave.bytes().all(|byte| byte.is_ascii_digit());
        let is_step = step.len() == 1 && step.bytes().all(|byte| byte.is_ascii_uppercase());
        if !is_octave || !is_step {
            return Err(wrong());
        }
        format!("{step}{accidentals}{octave}")
            .parse()
            .map_err(|_| wrong())
    }
}

/// Whether a tie begins and whether one ends at a note: what sounds (`tie`) goes before what is
/// drawn (`tied`).
fn ties(note: Node) -> (bool, bool) {
    let kinds = |node: Node, name: &str| {
        let (mut any, mut begins, mut ends) = (false, false, false);
        for child in node
            .children()
            .filter(|child| child.tag_name().name() == name)
        {
            any = true;
            match child.attribute("type") {
                Some("start") => begins = true,
                Some("stop") => ends = true,
                Some("continue") => (begins, ends) = (true, true),
                // One that is left to ring goes nowhere.
                _ => {}
            }
        }
        any.then_some((begins, ends))
    };
    kinds(note, "tie")
        .or_else(|| {
            note.children()
                .filter(|child| child.tag_name().name() == "notations")
                .find_map(|notations| kinds(notations, "tied"))
        })
        .unwrap_or_default()
}
