//! Invented rehearsals rendered to sound: a scene is a roster and a timeline, the renderer
//! plays it, and the exact pitch of every player at every moment stays known.
//!
//! Pure: no files, devices, clocks or screens. The same scene, rate and seed give the same
//! samples, whatever the size of the blocks that are asked for.

mod compose;
mod hiss;
#[cfg(test)]
mod measure;
mod render;
mod room;
mod score;
mod spectrum;
mod timeline;
mod voice;

pub use compose::SceneError;
pub use render::Renderer;
pub use score::{
    AtEnd, Item, LeaderAct, PlayerScore, Room, Score, Target, TargetError, TrumpetScore, Version,
    VibratoScore,
};
pub use spectrum::Sound;
pub use timeline::{Player, Scene};
