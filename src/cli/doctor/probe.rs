//! Asks the machine. Thin: what the answers mean is decided in [`crate::doctor`].

use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::super::keeping::sessions_folder;
use super::listen::listen;
use super::live::hear;
use crate::doctor::{
    Cards, Colours, Facts, Folder, FolderState, Hearing, Machine, Nodes, Purpose, Server, Sound,
    Terminal,
};
use crate::private;
use crate::session::shown;
use crate::settings;
use crate::sound::capture::{Capture, InputChoice};
use crate::sound::device::{Direction, Offer, Survey, survey};
use crate::sound::quiet::StderrGuard;
use crate::tui::{LEAST_COLUMNS, LEAST_ROWS, Palette};

/// A sound system that does not list its devices within this time is frozen.
const LISTING: Duration = Duration::from_secs(4);

/// Everything that is asked; takes six seconds or so, ten at the most, and as long as it is to
/// hear `live`.
pub(super) fn facts(choice: InputChoice, live: Option<Duration>) -> Facts {
    let sound = sound(choice.clone());
    let is_heard = matches!(sound.hearing, Hearing::Heard(_));
    let live = live.filter(|_| is_heard).and_then(|length| {
        let _quiet = StderrGuard::to_null();
        hear(choice, length)
    });
    Facts {
        machine: Machine {
            version: env!("CARGO_PKG_VERSION").to_owned(),
            system: format!("{} {}", std::env::consts::OS, std::env::consts::ARCH),
            n_cores: std::thread::available_parallelism().ok().map(Into::into),
        },
        sound,
        live,
        terminal: terminal(),
        folders: folders(),
        settings_fault: settings::load().err().map(|error| error.to_string()),
    }
}

fn sound(choice: InputChoice) -> Sound {
    let survey = survey(LISTING).ok().map(tidied);
    let has_input = |survey: &Survey| {
        let mut offers = survey.offers.iter();
        offers.any(|offer| offer.direction == Direction::Input)
    };
    let hearing = if survey.as_ref().is_some_and(has_input) {
        let _quiet = StderrGuard::to_null();
        listen(&mut Capture::open(choice))
    } else {
        Hearing::NotTried
    };
    Sound {
        survey,
        cards: cfg!(target_os = "linux").then(cards),
        hearing,
    }
}

/// The same with names that do not steer the terminal.
fn tidied(mut survey: Survey) -> Survey {
    for offer in &mut survey.offers {
        let Offer {
            id, description, ..
        } = offer;
        *id = shown(id);
        *description = shown(description);
    }
    survey
}

fn cards() -> Cards {
    let nodes: Vec<PathBuf> = std::fs::read_dir("/dev/snd")
        .map(|entries| entries.flatten().map(|entry| entry.path()).collect())
        .unwrap_or_default();
    let devices = nodes.iter().filter(|path| {
        let name = path.file_name().map(|name| name.to_string_lossy());
        name.is_some_and(|name| name.starts_with("pcm"))
    });
    let devices: Vec<&PathBuf> = devices.collect();
    Cards {
        nodes: if devices.is_empty() {
            Nodes::None
        } else if devices.iter().all(|path| access::may_write(path)) {
            Nodes::Usable
        } else {
            Nodes::Refused
        },
        in_audio_group: is_in_group("audio"),
        server: server(),
        has_bridge: has_bridge(),
    }
}

/// Whether this process belongs to a group, by its number in `/etc/group`.
fn is_in_group(group: &str) -> bool {
    let number = std::fs::read_to_string("/etc/group").ok().and_then(|all| {
        let mut lines = all.lines().map(|line| line.split(':').collect::<Vec<_>>());
        let line = lines.find(|fields| fields.first() == Some(&group))?;
        line.get(2).map(|number| (*number).to_owned())
    });
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let lines = status
        .lines()
        .filter_map(|line| line.strip_prefix("Groups:").or(line.strip_prefix("Gid:")));
    let mut mine = lines.flat_map(str::split_whitespace);
    number.is_some_and(|number| mine.any(|one| one == number))
}

fn server() -> Option<Server> {
    let named = variable("PULSE_SERVER");
    let runtime = variable("XDG_RUNTIME_DIR");
    let there = |name: &str| !runtime.is_empty() && Path::new(&runtime).join(name).exists();
    if !named.is_empty() || there("pulse/native") {
        Some(Server::PulseAudio)
    } else if there("pipewire-0") {
        Some(Server::PipeWire)
    } else {
        None
    }
}

/// Whether one of ALSA's plug-ins for sound servers is installed where distributions put them.
fn has_bridge() -> bool {
    let under = |folder: &str| std::fs::read_dir(folder).into_iter().flatten().flatten();
    let deep = ["/usr/lib", "/usr/lib64"].into_iter().flat_map(under);
    let places = deep.map(|entry| entry.path().join("alsa-lib"));
    let mut places = places.chain([
        PathBuf::from("/usr/lib/alsa-lib"),
        PathBuf::from("/usr/lib64/alsa-lib"),
    ]);
    places.any(|place| {
        ["pulse", "pipewire"].iter().any(|name| {
            place
                .join(format!("libasound_module_pcm_{name}.so"))
                .exists()
        })
    })
}

/// A variable of the environment as it may be shown; empty if it is not set.
fn variable(name: &str) -> String {
    let value = std::env::var(name).unwrap_or_default();
    if value.is_empty() {
        value
    } else {
        shown(&value)
    }
}

fn terminal() -> Terminal {
    // Standard output may go into a file or through a pipe.
    let is_terminal =
        io::stdout().is_terminal() || io::stderr().is_terminal() || io::stdin().is_terminal();
    let no_color = !variable("NO_COLOR").is_empty();
    let palette = Palette::from_environment(|name| std::env::var(name).ok());
    let colours = if palette == Palette::Plain {
        Colours::None
    } else if palette == Palette::Sixteen {
        Colours::Sixteen
    } else {
        Colours::Many
    };
    let locale = ["LC_ALL", "LC_CTYPE", "LANG"]
        .into_iter()
        .map(|name| (name.to_owned(), variable(name)))
        .find(|(_, value)| !value.is_empty());
    Terminal {
        is_terminal,
        size: access::window(),
        least: (LEAST_COLUMNS, LEAST_ROWS),
        term: variable("TERM"),
        colorterm: variable("COLORTERM"),
        no_color,
        colours,
        locale,
        inside: if !variable("TMUX").is_empty() {
            Some("tmux")
        } else if !variable("STY").is_empty() {
            Some("screen")
        } else {
            None
        },
        is_always_utf8: cfg!(any(windows, target_os = "macos")),
    }
}

fn folders() -> Vec<Folder> {
    let places = directories::ProjectDirs::from("", "", "concento");
    let of =
        |path: fn(&directories::ProjectDirs) -> Option<PathBuf>| places.as_ref().and_then(path);
    let log = of(|places| {
        let state = places
            .state_dir()
            .unwrap_or_else(|| places.data_local_dir());
        Some(state.to_owned())
    });
    let settings = of(|places| Some(places.config_dir().to_owned()));
    let runtime = of(|places| places.runtime_dir().map(Path::to_owned));
    let mut folders = vec![
        folder(Purpose::Sessions, sessions_folder()),
        folder(Purpose::Log, log),
        folder(Purpose::Settings, settings),
    ];
    // Only systems with a folder for sockets have one; a temporary folder does elsewhere.
    if cfg!(target_os = "linux") {
        folders.push(folder(Purpose::Runtime, runtime));
    }
    folders
}

fn folder(purpose: Purpose, path: Option<PathBuf>) -> Folder {
    let Some(path) = path else {
        return Folder {
            purpose,
            path: String::new(),
            state: FolderState::Nowhere,
            free_bytes: None,
        };
    };
    // The nearest folder that is there already decides.
    let there = path.ancestors().find(|folder| folder.exists());
    let may = there.is_some_and(|there| there.is_dir() && access::may_write(there));
    let distrusted = distrusted(purpose, &path);
    let state = match (may, there == Some(&path)) {
        _ if distrusted.is_some() => FolderState::Distrusted,
        (true, true) => FolderState::Writable,
        (true, false) => FolderState::CanBeMade,
        (false, _) => FolderState::Refused,
    };
    Folder {
        purpose,
        path: shown(&distrusted.unwrap_or(&path).display().to_string()),
        state,
        free_bytes: there.and_then(access::free_bytes),
    }
}

/// The folder of its own, among those that lead to `path`, that the program will not use.
fn distrusted(purpose: Purpose, path: &Path) -> Option<&Path> {
    let n_own = match purpose {
        // The folder above is the program's as well.
        Purpose::Sessions => 2,
        Purpose::Log | Purpose::Runtime => 1,
        // Settings are judged when they are read.
        Purpose::Settings => 0,
    };
    let mut own = path.ancestors().take(n_own);
    own.find(|folder| private::check_folder(folder).is_err())
}

#[cfg(unix)]
mod access {
    use std::path::Path;

    use rustix::fs::{Access, statvfs};

    pub(super) fn may_write(path: &Path) -> bool {
        rustix::fs::access(path, Access::READ_OK | Access::WRITE_OK).is_ok()
    }

    pub(super) fn free_bytes(path: &Path) -> Option<u64> {
        let space = statvfs(path).ok()?;
        space.f_bavail.checked_mul(space.f_frsize)
    }

    /// Columns and rows of whichever standard stream is a terminal.
    pub(super) fn window() -> Option<(u16, u16)> {
        use rustix::termios::tcgetwinsize;
        let size = tcgetwinsize(std::io::stdout())
            .or_else(|_| tcgetwinsize(std::io::stderr()))
            .or_else(|_| tcgetwinsize(std::io::stdin()))
            .ok()?;
        (size.ws_col > 0).then_some((size.ws_col, size.ws_row))
    }
}

#[cfg(not(unix))]
mod access {
    use std::path::Path;

    pub(super) fn may_write(path: &Path) -> bool {
        std::fs::metadata(path).is_ok_and(|there| !there.permissions().readonly())
    }

    pub(super) fn free_bytes(_path: &Path) -> Option<u64> {
        None
    }

    pub(super) fn window() -> Option<(u16, u16)> {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_that_is_missing_goes_by_the_nearest_there_is() {
        let home = tempfile::tempdir().unwrap();
        let there = folder(Purpose::Log, Some(home.path().to_owned()));
        assert_eq!(there.state, FolderState::Writable);
        let missing = home.path().join("a/b");
        let made = folder(Purpose::Log, Some(missing.clone()));
        assert_eq!(made.state, FolderState::CanBeMade);
        assert!(!home.path().join("a").exists(), "looking makes nothing");
        std::fs::write(home.path().join("a"), "a file").unwrap();
        assert_eq!(
            folder(Purpose::Log, Some(missing)).state,
            FolderState::Refused
        );
        assert_eq!(folder(Purpose::Log, None).state, FolderState::Nowhere);
    }

    #[test]
    #[cfg(unix)]
    fn a_folder_others_may_write_to_is_named() {
        use std::os::unix::fs::PermissionsExt;
        let home = tempfile::tempdir().unwrap();
        let open = home.path().join("concento");
        std::fs::create_dir(&open).unwrap();
        std::fs::set_permissions(&open, std::fs::Permissions::from_mode(0o722)).unwrap();
        for (purpose, path) in [
            (Purpose::Log, open.clone()),
            (Purpose::Sessions, open.join("sessions")),
        ] {
            let found = folder(purpose, Some(path));
            assert_eq!(found.state, FolderState::Distrusted);
            assert_eq!(found.path, open.display().to_string());
        }
    }
}
