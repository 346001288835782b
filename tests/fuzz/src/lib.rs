//! What strangers may hand over, read by the entry functions of the program and then used as it
//! uses them: built, computed, drawn and written out.
//!
//! The fuzz targets and `tests/integration/strangers.rs` run the same functions. None returns
//! anything: what they hold is that nothing panics, that faults have a place, that what comes out
//! can steer neither a terminal nor a page, and that what was written can be read again.

mod files;
mod scores;
mod screens;
mod sessions;
mod sounds;
mod stands;

pub use files::{ensemble, exercise, plan, scene, settings, temperament};
pub use scores::{midi, musicxml, mxl};
pub use sessions::session;
pub use sounds::audio;
pub use stands::stand;

/// A reader of whatever bytes.
pub type Target = fn(&[u8]);

/// Every target by the name of its corpus.
pub const TARGETS: [(&str, Target); 12] = [
    ("ensemble", ensemble),
    ("session", session),
    ("plan", plan),
    ("settings", settings),
    ("exercise", exercise),
    ("scene", scene),
    ("temperament", temperament),
    ("musicxml", musicxml),
    ("mxl", mxl),
    ("midi", midi),
    ("audio", audio),
    ("stand", stand),
];

/// Whether a character steers a terminal, turns its writing round, breaks its line or hides: from
/// Unicode 16, general categories Cc, Cf, Zl and Zp. Written down anew here, so that the program
/// is not held against itself.
fn steers(c: char) -> bool {
    matches!(c as u32,
        0..=0x1f | 0x7f..=0x9f | 0xad | 0x61c | 0x180e | 0x200b..=0x200f | 0x2028..=0x202e
        | 0x2060..=0x206f | 0xfeff | 0xfff9..=0xfffb | 0xe0000..=0xe007f)
}

/// A text of lines that is printed or shown.
fn harmless(text: &str) {
    let found = text.chars().find(|c| *c != '\n' && steers(*c));
    assert_eq!(found, None, "in {text:?}");
}

/// The same of text with lines that end as a spreadsheet wants them.
fn harmless_csv(text: &str) {
    harmless(&text.replace("\r\n", "\n"));
}

/// A page that keeps to itself: harmless, without a script, and with nothing fetched.
fn harmless_page(page: &str) {
    harmless(page);
    // The page's own, without which a browser would ask for a picture.
    let lower = page.to_ascii_lowercase();
    assert_eq!(lower.matches("<link").count(), 1, "{page}");
    for forbidden in [
        "<script",
        "<img",
        "<iframe",
        "<object",
        "javascript:",
        "onerror=\"",
    ] {
        assert!(!lower.contains(forbidden), "{forbidden} in {page}");
    }
}
