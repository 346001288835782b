//! From bytes to a score, whatever the form: it is told by the content, not by a name.

use super::{LARGEST_SCORE, Score, ScoreError, encoding, midi, musicxml, packed};

/// Reads a score from the content of a file called `name` (without its ending), which is its
/// title where it has none of its own.
///
/// # Errors
///
/// What is wrong, where, and what to do.
pub fn read(bytes: &[u8], name: &str) -> Result<Score, ScoreError> {
    if bytes.len() as u64 > LARGEST_SCORE {
        return Err(ScoreError::TooLarge);
    }
    if midi::is_midi(bytes) {
        return midi::read(bytes, name);
    }
    if packed::is_packed(bytes) {
        return musicxml::read(&encoding::decode(&packed::unpack(bytes)?)?, name);
    }
    let text = encoding::decode(bytes).map_err(|error| {
        // Bytes that never meant to be text have no encoding.
        if bytes.contains(&b'<') {
            error
        } else {
            ScoreError::Form
        }
    })?;
    if !text.trim_start().starts_with('<') {
        return Err(ScoreError::Form);
    }
    musicxml::read(&text, name)
}
