//! How the ladder shares out its columns. Pure arithmetic.

/// The columns of the ladder.
#[derive(Debug, Clone, Copy)]
pub(super) struct Columns {
    pub(super) axis: (u16, u16),
    pub(super) name: (u16, u16),
    pub(super) nature: u16,
    /// Left out in narrow windows.
    pub(super) tempered: Option<u16>,
    pub(super) held: u16,
    pub(super) words: u16,
}

/// Columns of a partial's number and note, and of a figure.
const LABEL: u16 = 9;
const FIGURE: u16 = 5;
const WORDS: u16 = 15;

impl Columns {
    pub(super) fn new(width: u16, longest_name: u16) -> Self {
        let (most, gap) = match width {
            0..76 => (10, 0),
            76..110 => (14, 1),
            _ => (22, 3),
        };
        let name = longest_name.clamp(6, most);
        let n_figures: u16 = if width < 76 { 2 } else { 3 };
        let figures = n_figures * (FIGURE + gap.min(1)) + gap;
        let right = name + 1 + figures + WORDS + gap;
        let room = width.saturating_sub(LABEL + 1 + right + 1);
        // Beyond twice the width that shows single cents an axis is only long.
        let axis = (room.clamp(11, 97) - 1) / 2 * 2 + 1;
        let name_x = LABEL + axis + 1 + gap;
        let first = name_x + name + 1;
        let step = FIGURE + gap.min(1);
        let tempered = (n_figures == 3).then_some(first + step);
        let held = first + step * (n_figures - 1);
        Self {
            axis: (LABEL, axis),
            name: (name_x, name),
            nature: first,
            tempered,
            held,
            words: held + FIGURE + 1 + gap,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn nothing_overlaps_and_all_fits(width in 60_u16..250, longest_name in 0_u16..100) {
            let columns = Columns::new(width, longest_name);
            let (axis, name) = (columns.axis, columns.name);
            let mut starts = vec![axis.0 + axis.1, name.0, name.0 + name.1, columns.nature];
            starts.extend(columns.tempered.map(|x| [x, x + FIGURE]).into_iter().flatten());
            starts.extend([columns.held, columns.held + FIGURE, columns.words]);
            prop_assert!(starts.windows(2).all(|pair| pair[0] <= pair[1]), "{columns:?}");
            prop_assert!(columns.nature + FIGURE <= columns.tempered.unwrap_or(columns.held));
            prop_assert!(columns.words + WORDS <= width, "{columns:?}");
            prop_assert!(axis.1 >= 11 && axis.1 % 2 == 1);
        }
    }
}
