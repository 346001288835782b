//! What the user keeps in files: ensembles, temperaments, instruments. RON text to types of
//! the core and nothing else; a file that cannot be read is reported, never replaced.

mod dates;
mod ensemble_file;
mod exercise_file;
mod fields;
mod file_error;
mod instrument_file;
mod journal;
mod new_file;
mod part_names;
mod plan_file;
mod reason;
mod recorder;
#[cfg(test)]
pub(crate) mod samples;
mod scene_file;
mod score_file;
mod session_file;
mod suggestion;
mod temperament_file;
mod temperament_shape;

pub use dates::{between, date_now, file_name_now, later};
pub use ensemble_file::{
    LoadedEnsemble, default_ensemble, ensemble_text, load_ensemble, read_ensemble,
};
pub use exercise_file::{exercises, read_exercises};
pub use fields::shown;
pub(crate) use fields::{CommandName, Line, Version, checked, steers};
pub use file_error::{Fault, FileError};
pub(crate) use file_error::{parse, parse_with, read_text};
pub use instrument_file::{instrument, instruments};
pub use journal::{JournalError, Recovered, Wanted};
pub(crate) use journal::{
    cents, channel_number, entry_from_line, entry_to_line, hertz, number, seconds, value_from_line,
    value_to_line, voices_from_text, voices_to_text,
};
pub use new_file::{
    NewFile, NewFileError, write_example, write_for_all, write_new, write_new_bytes, write_numbered,
};
pub use part_names::part_names;
pub use plan_file::{load_plan, plan_text, read_plan, write_plan, write_plan_beside};
pub(crate) use reason::reason;
pub use recorder::{Place, Recorder, Status, Whereabouts};
pub use scene_file::{DemoScene, demo_scene, demo_scenes, load_scene, read_scene, scene_ensemble};
pub use score_file::{ScoreFileError, load_score};
pub use session_file::{
    GoingOn, Session, go_on, is_session, load_session, read_session, survey_session,
};
pub use suggestion::Unknown;
pub use temperament_file::{find, read_temperaments, temperaments};
