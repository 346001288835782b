//! Tables as text: Markdown, with columns set for reading.

use std::fmt;
use std::io::{self, Write};

/// What a note that never settles counts as in the median of latencies, in seconds.
pub(crate) const NEVER_S: f64 = 9.0;

/// Characters of a line of text.
const LINE: usize = 96;

/// A table that is filled row by row.
pub(crate) struct Table {
    rows: Vec<Vec<String>>,
}

impl Table {
    /// A table with these headings.
    pub(crate) fn new(headings: &[&str]) -> Self {
        Self {
            rows: vec![headings.iter().map(|&heading| heading.to_owned()).collect()],
        }
    }

    /// Adds a row; missing cells at its end stay empty.
    pub(crate) fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.rows.push(cells.into_iter().collect());
    }
}

impl fmt::Display for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let count = self.rows.iter().map(Vec::len).max().unwrap_or(0);
        let cell = |row: &Vec<String>, column: usize| row.get(column).cloned().unwrap_or_default();
        let width = |column| {
            let lengths = self
                .rows
                .iter()
                .map(|row| cell(row, column).chars().count());
            lengths.max().unwrap_or(0)
        };
        let widths: Vec<usize> = (0..count).map(width).collect();
        for (line, row) in self.rows.iter().enumerate() {
            for (column, &width) in widths.iter().enumerate() {
                let text = cell(row, column);
                if column == 0 {
                    write!(f, "| {text:<width$} |")?;
                } else {
                    write!(f, " {text:>width$} |")?;
                }
            }
            writeln!(f)?;
            if line == 0 {
                for (column, &width) in widths.iter().enumerate() {
                    let edge = if column == 0 { "|" } else { "" };
                    write!(f, "{edge} {} |", "-".repeat(width))?;
                }
                writeln!(f)?;
            }
        }
        Ok(())
    }
}

/// A number with so many decimals; a dash where there is none.
pub(crate) fn number(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(|| "-".to_owned(), |value| format!("{value:.decimals$}"))
}

/// A share in per cent.
pub(crate) fn percent(share: Option<f64>) -> String {
    number(share.map(|share| 100.0 * share), 1)
}

/// A latency in whole milliseconds; "never" for what never came.
pub(crate) fn milliseconds(seconds: Option<f64>) -> String {
    match seconds {
        Some(seconds) if seconds < NEVER_S => format!("{:.0}", 1000.0 * seconds),
        _ => "never".to_owned(),
    }
}

/// A section's heading and what its tables hold.
pub(crate) fn section(out: &mut dyn Write, title: &str, text: &str) -> io::Result<()> {
    writeln!(out, "# {title}\n")?;
    paragraph(out, text)
}

/// Text in lines of a readable length, and an empty line.
pub(crate) fn paragraph(out: &mut dyn Write, text: &str) -> io::Result<()> {
    let mut line = String::new();
    for word in text.split_whitespace() {
        if !line.is_empty() && line.chars().count() + word.chars().count() >= LINE {
            writeln!(out, "{line}")?;
            line.clear();
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    writeln!(out, "{line}\n")
}
