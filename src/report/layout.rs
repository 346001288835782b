//! Columns, JSON and CSV for the reports.

use std::fmt::Write;

use serde::{Serialize, Serializer};

use crate::plain::written_out;
use crate::units::NoteName;

/// On which side of its column a cell stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    Left,
    Right,
}

/// Rows in columns two spaces apart, as wide as their widest cell, under their headings.
pub(super) fn columns(headings: &[(&str, Side)], rows: &[Vec<String>]) -> String {
    let width = |column: usize| {
        rows.iter()
            .map(|row| row[column].chars().count())
            .chain([headings[column].0.chars().count()])
            .max()
            .unwrap_or(0)
    };
    let widths: Vec<usize> = (0..headings.len()).map(width).collect();
    let mut text = String::new();
    let first = headings.iter().map(|(heading, _)| (*heading).to_owned());
    for row in std::iter::once(first.collect()).chain(rows.iter().cloned()) {
        let line: Vec<String> = row
            .iter()
            .zip(&widths)
            .zip(headings)
            .map(|((cell, width), (_, side))| match side {
                Side::Left => format!("{cell:<width$}"),
                Side::Right => format!("{cell:>width$}"),
            })
            .collect();
        text.push_str(line.join("  ").trim_end());
        text.push('\n');
    }
    text
}

/// The pitch standard in words.
pub(super) fn level(a4_hz: f64, kept_by: NoteName) -> String {
    if kept_by == NoteName::A {
        format!("A4 = {a4_hz} Hz")
    } else {
        format!("{kept_by} kept where equal temperament from A4 = {a4_hz} Hz has it")
    }
}

/// `text` broken between words so that lines stay within 80 characters; lines after the first
/// are indented by as much as `label` is wide.
pub(super) fn paragraph(label: &str, text: &str) -> String {
    let indent = label.chars().count() + 1;
    let mut out = String::from(label);
    let mut length = indent - 1;
    for word in text.split_whitespace() {
        let more = word.chars().count() + 1;
        if length + more > 80 && length > indent {
            let _ = write!(out, "\n{:indent$}{word}", "");
            length = indent - 1 + more;
        } else {
            let _ = write!(out, " {word}");
            length += more;
        }
    }
    out.push('\n');
    out
}

/// A value as indented JSON with a final line break, in which no text steers a terminal.
pub(super) fn json(value: &impl Serialize) -> String {
    let text =
        serde_json::to_string_pretty(value).expect("reports hold only text and finite numbers");
    format!("{}\n", written_out(&text))
}

/// Rows as comma-separated values under their headings.
pub(super) fn csv(headings: &[&str], rows: impl Iterator<Item = Vec<String>>) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer
        .write_record(headings)
        .expect("a vector takes whatever is written");
    for row in rows {
        writer
            .write_record(row)
            .expect("every row has as many cells as there are headings");
    }
    let bytes = writer
        .into_inner()
        .expect("a vector takes whatever is written");
    String::from_utf8(bytes).expect("the cells are text")
}

/// Text of a stranger's file for a cell of a spreadsheet, which would take what begins with
/// `=`, `+`, `-`, `@`, a tab or a line break for a formula and run it: an apostrophe before it
/// makes it text again. What would steer a terminal is written out.
pub(super) fn text_cell(text: &str) -> String {
    let text = written_out(text).replace('\n', "\\u000a");
    if text.starts_with(['=', '+', '-', '@']) {
        return format!("'{text}");
    }
    text
}

/// A number with six decimals at the most, for machines: enough for a millionth of a cent,
/// and the same on every computer.
pub(super) fn rounded(number: f64) -> f64 {
    let rounded = (number * 1e6).round() / 1e6;
    // No negative zero.
    if rounded == 0.0 { 0.0 } else { rounded }
}

/// [`rounded`] for fields.
#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "the signature serde asks for"
)]
pub(super) fn six_decimals<S: Serializer>(number: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_f64(rounded(*number))
}

/// A number for a cell of a spreadsheet.
pub(super) fn cell(number: f64) -> String {
    rounded(number).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_fit_their_widest_cell() {
        let rows = [
            vec!["B\u{266d}".to_owned(), "1.0".to_owned()],
            vec!["C".to_owned(), "12.5".to_owned()],
        ];
        let text = columns(&[("note", Side::Left), ("Hz", Side::Right)], &rows);
        assert_eq!(text, "note    Hz\nB\u{266d}     1.0\nC     12.5\n");
        assert_eq!(columns(&[("a", Side::Left)], &[]), "a\n");
    }

    #[test]
    fn paragraphs_stay_within_the_line() {
        let text = paragraph("remark:", &"word ".repeat(40));
        assert!(text.lines().count() > 2);
        assert!(text.lines().all(|line| line.chars().count() <= 80));
        assert!(
            text.lines()
                .skip(1)
                .all(|line| line.starts_with("        word"))
        );
    }

    #[test]
    fn numbers_for_machines_have_no_noise() {
        assert_eq!(cell(0.1 + 0.2), "0.3");
        assert_eq!(cell(-1e-9), "0");
    }

    #[test]
    fn no_cell_is_a_formula() {
        for text in ["=1+1", "+1", "-1", "@sum(A1)"] {
            assert_eq!(text_cell(text), format!("'{text}"));
        }
        assert_eq!(text_cell("\t=1"), "\\u0009=1");
        for text in ["", "Violin", "A = 415", "'tis"] {
            assert_eq!(text_cell(text), text);
        }
    }

    #[test]
    fn cells_with_commas_are_quoted() {
        let text = csv(
            &["a", "b"],
            [vec!["x,y".to_owned(), "1".to_owned()]].into_iter(),
        );
        assert_eq!(text, "a,b\n\"x,y\",1\n");
    }
}
