//! The terminal: size, colours and letters.

use super::Finding;

/// How many colours the screens would use.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Colours {
    /// None: shapes, bold and faint only.
    None,
    /// The sixteen that every terminal has.
    Sixteen,
    /// More.
    Many,
}

/// The terminal and what the environment says of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Terminal {
    /// Whether the program was started from one at all.
    pub is_terminal: bool,
    /// Columns and rows, where they can be told.
    pub size: Option<(u16, u16)>,
    /// The fewest columns and rows the screens need.
    pub least: (u16, u16),
    /// `TERM`; empty if not set.
    pub term: String,
    /// `COLORTERM`; empty if not set.
    pub colorterm: String,
    /// Whether `NO_COLOR` asks for none.
    pub no_color: bool,
    /// The colours the screens would use.
    pub colours: Colours,
    /// What says how letters are encoded, and how: `LANG=de_DE.UTF-8`; none if nothing does.
    pub locale: Option<(String, String)>,
    /// `tmux` or `screen`, if the terminal is inside one.
    pub inside: Option<&'static str>,
    /// Whether letters are UTF-8 whatever the environment says.
    pub is_always_utf8: bool,
}

pub(super) fn examine(terminal: &Terminal) -> Vec<Finding> {
    let mut findings = vec![kind(terminal)];
    if terminal.is_terminal {
        findings.push(window(terminal));
    }
    findings.push(colours(terminal));
    if !terminal.is_always_utf8 {
        findings.push(letters(terminal));
    }
    findings
}

fn kind(terminal: &Terminal) -> Finding {
    let term = &terminal.term;
    if !terminal.is_terminal {
        return Finding::note(
            "terminal",
            "not started from a terminal",
            "the screens need one: this cannot tell whether they would work",
        );
    }
    let found = match (term.as_str(), terminal.inside) {
        ("", _) => "TERM is not set".to_owned(),
        (term, None) => term.to_owned(),
        (term, Some(inside)) => format!("{term}, inside {inside}"),
    };
    match (term.as_str(), terminal.inside) {
        ("" | "dumb", _) => Finding::trouble(
            "terminal",
            found,
            "this terminal cannot show a whole screen: start the program in a terminal window",
        ),
        (term, Some("tmux")) if !term.starts_with("tmux") && !term.starts_with("screen") => {
            Finding::note(
                "terminal",
                found,
                "inside tmux TERM should be 'tmux-256color': leave it to tmux to set it",
            )
        }
        _ => Finding::fine("terminal", found),
    }
}

fn window(terminal: &Terminal) -> Finding {
    let (least_columns, least_rows) = terminal.least;
    let Some((columns, rows)) = terminal.size else {
        return Finding::note(
            "window",
            "its size cannot be told",
            format!("the screens need {least_columns} columns by {least_rows} rows"),
        );
    };
    let found = format!("{columns} columns by {rows} rows");
    if columns < least_columns || rows < least_rows {
        Finding::trouble(
            "window",
            found,
            format!(
                "too small: make it {least_columns} by {least_rows} at least, or the letters \
                 smaller"
            ),
        )
    } else if columns < 80 || rows < 24 {
        Finding::note(
            "window",
            found,
            "80 by 24 show more: make the window larger, or the letters smaller",
        )
    } else {
        Finding::fine("window", found)
    }
}

fn colours(terminal: &Terminal) -> Finding {
    let found = match terminal.colours {
        Colours::None => "none: shapes and words say the same",
        Colours::Sixteen => "sixteen",
        Colours::Many => "many",
    };
    if terminal.no_color {
        return Finding::fine("colours", format!("{found} (NO_COLOR is set)"));
    }
    if terminal.colours == Colours::Sixteen && terminal.colorterm.is_empty() {
        return Finding::note(
            "colours",
            found,
            "if the terminal has more, say so: 'export COLORTERM=truecolor'",
        );
    }
    Finding::fine("colours", found)
}

fn letters(terminal: &Terminal) -> Finding {
    const ADVICE: &str = "♯, ♭, ◇ and □ need UTF-8: 'export LANG=C.UTF-8' before the program";
    match &terminal.locale {
        None => Finding::note("letters", "LANG is not set", ADVICE),
        Some((variable, value)) => {
            let found = format!("{variable}={value}");
            let folded = value.to_lowercase().replace('-', "");
            if folded.contains("utf8") {
                Finding::fine("letters", found)
            } else {
                Finding::note("letters", found, ADVICE)
            }
        }
    }
}
