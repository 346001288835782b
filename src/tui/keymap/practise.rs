//! What a key can change about a drone and an exercise.

/// One change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(in crate::tui) enum Practise {
    /// The next step of the exercise.
    Next,
    /// The step before.
    Previous,
    /// The drone begins, or falls silent.
    Drone,
    /// The other place of the same note.
    Swing,
    /// The drone's next partial or note.
    NextTone,
    /// The one before.
    PreviousTone,
    /// The drone a little louder.
    Louder,
    /// A little softer.
    Softer,
    /// The drone an octave up.
    OctaveUp,
    /// An octave down.
    OctaveDown,
    /// The drone's next sound.
    Timbre,
    /// The drone's tones on both sides, or all in the middle.
    Apart,
    /// The next exercise.
    NextExercise,
    /// The exercise before.
    PreviousExercise,
    /// Headphones on, or off.
    Headphones,
}
