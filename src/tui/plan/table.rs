//! The measures of every temperament in every piece, kept until something about them changes.

use super::figure::Figure;
use crate::plan::{Choice, Measures, Piece, Programme, Weights};
use crate::tuning::{Chain, Temperament};
use crate::units::NoteName;

/// All cells.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Table {
    /// By temperament as listed, then by column.
    cells: Vec<Vec<Measures>>,
    /// By column: notes the keyboard has no key for, from the flattest.
    missing: Vec<Vec<NoteName>>,
}

/// The columns: the whole programme, then the pieces where there are several.
pub(super) fn n_columns(programme: &Programme) -> usize {
    match programme.pieces().len() {
        1 => 1,
        count => 1 + count,
    }
}

/// The piece of a column; none for the whole programme.
pub(super) fn piece_of(programme: &Programme, column: usize) -> Option<&Piece> {
    let index = column.checked_sub(1)?;
    programme.pieces().get(index)
}

impl Table {
    /// Everything anew.
    pub(super) fn new(
        programme: &Programme,
        temperaments: &[Temperament],
        choice: &Choice,
        weights: &Weights,
    ) -> Self {
        let columns = 0..n_columns(programme);
        let cell = |choice: &Choice, column: usize| match piece_of(programme, column) {
            Some(piece) => piece.measure(choice, weights),
            None => programme.measure(choice, weights),
        };
        Self {
            cells: temperaments
                .iter()
                .map(|temperament| {
                    let choice = choice.in_temperament(temperament);
                    columns
                        .clone()
                        .map(|column| cell(&choice, column))
                        .collect()
                })
                .collect(),
            missing: columns
                .map(|column| missing(programme, column, choice.chain))
                .collect(),
        }
    }

    /// One cell; empty beyond the table.
    pub(super) fn cell(&self, row: usize, column: usize) -> Measures {
        let row = self.cells.get(row);
        row.and_then(|row| row.get(column))
            .copied()
            .unwrap_or_default()
    }

    /// All values of a figure.
    pub(super) fn values(&self, figure: Figure) -> impl Iterator<Item = f64> + '_ {
        let cells = self.cells.iter().flatten();
        cells.filter_map(move |cell| figure.of(cell))
    }

    /// The rows, the nearest to pure in the first column first; among equals as they are listed.
    pub(super) fn nearest_first(&self, figure: Figure) -> Vec<usize> {
        let rank = |row: &usize| figure.of(&self.cell(*row, 0)).unwrap_or(f64::INFINITY);
        let mut rows: Vec<usize> = (0..self.cells.len()).collect();
        rows.sort_by(|a, b| rank(a).total_cmp(&rank(b)));
        rows
    }

    /// The notes the keyboard has no key for.
    pub(super) fn missing(&self, column: usize) -> &[NoteName] {
        self.missing.get(column).map_or(&[], Vec::as_slice)
    }
}

fn missing(programme: &Programme, column: usize, chain: Chain) -> Vec<NoteName> {
    let pieces = match piece_of(programme, column) {
        Some(piece) => std::slice::from_ref(piece),
        None => programme.pieces(),
    };
    let missing = pieces.iter().flat_map(|piece| piece.missing_keys(chain));
    let mut names: Vec<NoteName> = missing.map(|missing| missing.note.name()).collect();
    names.sort_by_key(|name| name.fifths());
    names.dedup();
    names
}
