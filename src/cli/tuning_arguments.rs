//! Arguments of several commands: the level, the keys and the temperament.

use std::path::PathBuf;

use clap::Args;

use super::Usage;
use crate::session;
use crate::tuning::{Chain, ChainError, PitchStandard, Temperament};
use crate::units::NoteName;

/// The level and the keys.
#[derive(Debug, Args)]
pub(super) struct LevelArguments {
    /// How high A4 stands in equal temperament, in Hz (350 to 500)
    #[arg(long, value_name = "HZ", default_value = "415", value_parser = parse_level)]
    a4: PitchStandard,
    /// The note that stands in every temperament where equal temperament from A4 puts it
    #[arg(long, value_name = "NOTE", default_value = "A")]
    kept_by: NoteName,
    /// The keys there are, from the flattest to the sharpest note
    #[arg(long, value_name = "FIRST-LAST", default_value = "Eb-G#", value_parser = parse_keys)]
    pub(super) chain: Chain,
    /// More temperaments, from a file of your own
    #[arg(long = "file", value_name = "FILE")]
    temperaments_file: Option<PathBuf>,
}

impl LevelArguments {
    pub(super) fn standard(&self) -> PitchStandard {
        self.a4.kept_by(self.kept_by)
    }

    pub(super) fn temperaments(&self) -> anyhow::Result<Vec<Temperament>> {
        Ok(session::temperaments(self.temperaments_file.as_deref())?)
    }
}

/// The temperament called `name`, or a usage error.
pub(super) fn named<'a>(
    temperaments: &'a [Temperament],
    name: &str,
) -> Result<&'a Temperament, Usage> {
    session::find(temperaments, name).map_err(|unknown| Usage(unknown.to_string()))
}

fn parse_keys(text: &str) -> Result<Chain, String> {
    let chain: Chain = text
        .parse()
        .map_err(|error: ChainError| error.to_string())?;
    chain.of_keyboard().map_err(|error| error.to_string())
}

fn parse_level(text: &str) -> Result<PitchStandard, String> {
    let hz: f64 = text
        .parse()
        .map_err(|_| format!("'{text}' is no number: give Hz, such as 415"))?;
    PitchStandard::new(hz).map_err(|error| error.to_string())
}
