//! What a user prefers, whatever the ensemble: colours, keys, pictures a second. RON text to what
//! the screen takes; a file that cannot be read is reported, never replaced.
//!
//! Unlike [`crate::session`] it knows the screen, whose colours and keys it names.

mod file;
mod keys;
mod themes;

use std::path::{Path, PathBuf};

pub use file::{SettingsError, load, load_from, read, write_example};
pub use themes::{NamedTheme, themes};

use crate::tui::{FRAMES_PER_SECOND, Keymap};

/// What a user prefers.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// The colours.
    pub theme: NamedTheme,
    /// All themes there are, the user's own among them.
    pub themes: Vec<NamedTheme>,
    /// Pictures a second, at most.
    pub frames_per_second: u32,
    /// Whether the mouse is listened to.
    pub mouse: bool,
    /// The ensemble that is listened to if none is named.
    pub ensemble: Option<PathBuf>,
    /// Which key does what.
    pub keymap: Keymap,
}

impl Default for Settings {
    fn default() -> Self {
        let themes = themes();
        Self {
            theme: themes[0].clone(),
            themes,
            frames_per_second: FRAMES_PER_SECOND,
            mouse: true,
            ensemble: None,
            keymap: Keymap::default(),
        }
    }
}

impl Settings {
    /// The theme of a name.
    ///
    /// # Errors
    ///
    /// There is none; the error says which there are.
    pub fn theme_named(&self, name: &str) -> Result<&NamedTheme, String> {
        themes::named(&self.themes, name)
    }
}

/// Where settings are looked for: in the platform's folder for them; none where it has no such
/// folder.
pub fn path() -> Option<PathBuf> {
    let folders = directories::ProjectDirs::from("", "", "concento")?;
    Some(folders.config_dir().join("settings.ron"))
}

/// A path in settings that is not absolute counts from their folder.
fn beside(settings: &Path, named: &str) -> PathBuf {
    let named = Path::new(named);
    match settings.parent() {
        Some(folder) if named.is_relative() => folder.join(named),
        _ => named.to_owned(),
    }
}
