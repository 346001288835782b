//! Other players' sound in a player's microphone.

use super::{Chronicle, Note, Notes, robust};

/// A leaked note has the pitch of the one it comes from to this distance, in cents.
const SAME_CENTS: f64 = 6.0;
/// It is so much softer than there.
const SOFTER_DB: f64 = 9.0;
/// And so much softer than what its own player plays.
const BELOW_OWN_DB: f64 = 9.0;
/// The other note sounds for at least this share of it.
const SHARE: f64 = 0.7;
/// Notes last no longer than this, as longer ones are told in parts.
const LONGEST_S: f64 = 21.0;
/// How long after its source a room can still be heard.
const ECHO_S: f64 = 0.5;

impl Chronicle {
    /// The notes without those that are other players' sound: much softer than the player's
    /// own, and at the same time as a louder one of the same pitch on another channel.
    pub(in crate::rehearsal) fn own_notes(&self) -> Vec<&Note> {
        let notes = self.notes();
        let usual: Vec<f64> = (0..self.players().len())
            .map(|player| usual_level(notes, player))
            .collect();
        let is_own = |(index, note): &(usize, &Note)| {
            let is_soft = note.level.get() < usual[note.channel] - BELOW_OWN_DB;
            !is_soft || !is_elsewhere(notes, *index, note)
        };
        let own = notes.iter().enumerate().filter(is_own);
        own.map(|(_, note)| note).collect()
    }
}

/// How loud a player is most of the time: three quarters of the notes, by their length, are
/// softer.
fn usual_level(notes: &Notes, player: usize) -> f64 {
    let own = notes.iter().filter(|note| note.channel == player);
    let mut levels: Vec<robust::Weighted> = own
        .map(|note| (note.level.get(), note.sounding().get()))
        .collect();
    // The upper quarter is the upper half of what lies above the median.
    let Some(median) = robust::median(&mut levels) else {
        return f64::NEG_INFINITY;
    };
    levels.retain(|(level, _)| *level >= median);
    robust::median(&mut levels).unwrap_or(median)
}

/// Whether `note`, which stands at `index`, sounds louder on another channel.
fn is_elsewhere(notes: &Notes, index: usize, note: &Note) -> bool {
    let needed = SHARE * note.sounding().get();
    let is_source = |other: &&Note| {
        let begun = note.begun.get().max(other.begun.get());
        let ended = note.ended.get().min(other.ended.get() + ECHO_S);
        other.channel != note.channel
            && other.level.get() - note.level.get() >= SOFTER_DB
            && ended - begun >= needed
            && other.hertz.above(note.hertz).abs().get() <= SAME_CENTS
    };
    // Notes stand in the order of their ends.
    let (earliest, latest) = (note.begun.get() - ECHO_S, note.ended.get() + LONGEST_S);
    let before = notes.back_from(index);
    let before = before.take_while(|other| other.ended.get() >= earliest);
    let after = notes.on_from(index);
    let after = after.take_while(|other| other.ended.get() <= latest);
    before.chain(after).any(|other| is_source(&other))
}
