//! What a key can change about a plan.

/// One change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(in crate::tui) enum Planned {
    /// The piece to the right.
    NextPiece,
    /// The piece to the left.
    PreviousPiece,
    /// Another figure in the cells.
    NextFigure,
    /// The one before.
    PreviousFigure,
    /// Another partial for the trumpets to tune by.
    Anchor,
    /// The keyboard with one flat more.
    Flatter,
    /// The keyboard with one sharp more.
    Sharper,
    /// Another weight for the trumpets.
    WeighTrumpets,
    /// Another weight for the keyboard.
    WeighKeyboard,
    /// Another weight for all others.
    WeighOthers,
    /// The meetings, or who yields.
    Page,
    /// This row is the plan's temperament.
    Take,
    /// The plan as a file.
    Write,
}
