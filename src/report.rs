//! Tables as text: what the core knows, written for people (columns, a page of HTML), scripts
//! (JSON) and spreadsheets (CSV). Nothing here prints or reads a file.

mod agreed;
mod bearings;
mod chords;
mod comparison;
mod digest;
mod findings;
mod fit;
mod frames;
mod layout;
mod notes;
mod notes_data;
mod page;
mod places;
mod plan;
mod practice;
mod rehearsals_json;
mod series;
mod session_list;
mod temperament;
mod temperament_list;
mod wording;

pub use bearings::BearingsReport;
pub use chords::{ChordGatherer, chord_json_lines};
pub use comparison::{ComparedAgreement, ComparedPitch, ComparedPractice, Comparison, Stand};
pub use digest::{Digest, Occasion};
pub use fit::FitReport;
pub use frames::{FRAME_HEADINGS, FrameReport};
pub use notes::{NoteGatherer, notes_table};
pub use notes_data::rehearsals_csv;
pub use page::rehearsal_page;
pub use plan::PlanReport;
pub use practice::exercise_list;
pub use rehearsals_json::rehearsals_json;
pub use series::SeriesReport;
pub use session_list::{SessionListReport, SessionSummary};
pub use temperament::TemperamentReport;
pub use temperament_list::{TemperamentListReport, TemperamentSummary};
