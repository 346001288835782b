//! How far a command is, while a person waits.

use std::io::{self, IsTerminal};

use indicatif::{ProgressBar, ProgressStyle};

/// A bar on standard error for something of this length; it hides itself where that is no
/// terminal or the length is not known.
pub(super) fn bar(length: Option<u64>) -> ProgressBar {
    let Some(length) = length.filter(|_| io::stderr().is_terminal()) else {
        return ProgressBar::hidden();
    };
    let bar = ProgressBar::new(length);
    if let Ok(style) = ProgressStyle::with_template("{bar:40} {percent:>3} %, {eta} left") {
        bar.set_style(style);
    }
    bar
}
