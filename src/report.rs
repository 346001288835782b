//! Tables as text: what the core knows, written for people (columns), scripts (JSON) and
//! spreadsheets (CSV). Nothing here prints or reads a file.

mod chords;
mod frames;
mod layout;
mod notes;
mod places;
mod series;
mod session_list;
mod temperament;
mod temperament_list;

pub use chords::{ChordGatherer, chord_json_lines};
pub use frames::{FRAME_HEADINGS, FrameReport};
pub use notes::{NoteGatherer, notes_table};
pub use series::SeriesReport;
pub use session_list::{SessionListReport, SessionSummary};
pub use temperament::TemperamentReport;
pub use temperament_list::{TemperamentListReport, TemperamentSummary};
