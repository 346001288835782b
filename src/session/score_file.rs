//! Scores from files.

use std::path::Path;

use crate::score::{Score, ScoreError, read};

/// Reads the score at `path`.
pub fn load_score(path: &Path) -> Result<Score, ScoreError> {
    read(
        &std::fs::read(path).unwrap_or_default(),
        &path.display().to_string(),
    )
}
