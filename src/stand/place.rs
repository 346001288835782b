//! Where rehearsals are looked for: a folder of sockets that only its user may enter.
//!
//! Each program has a socket of its own there. One left by a program that was killed refuses
//! whoever knocks, and is removed then.

use std::fs::{self, Permissions};
use std::io;
use std::os::unix::fs::PermissionsExt;
use std::os::unix::net::{UnixListener, UnixStream};
use std::path::{Path, PathBuf};

use crate::private::{self, FolderError};

/// The ending of the sockets' names.
const ENDING: &str = "stand";

/// Why a rehearsal cannot be watched.
#[derive(Debug, thiserror::Error)]
pub enum PlaceError {
    /// There is no folder for it.
    #[error("no second screen can watch: this system has no folder for it")]
    NoFolder,
    /// The folder cannot be used, or is not the user's alone.
    #[error("no second screen can watch: {0}")]
    Folder(#[from] FolderError),
    /// The system refuses something.
    #[error("no second screen can watch: '{}' cannot be used ({reason})", path.display())]
    Refused {
        /// The socket.
        path: PathBuf,
        /// The system's reason.
        reason: io::Error,
    },
}

/// The folders rehearsals may be found in, the one they are published in first: that of the
/// user's present logins, as every one of them has it; else that for state.
pub fn folders() -> Vec<PathBuf> {
    let runtime = std::env::var_os("XDG_RUNTIME_DIR").map(PathBuf::from);
    let runtime = runtime.filter(|folder| folder.is_absolute() && folder.is_dir());
    let state = directories::ProjectDirs::from("", "", "concento").map(|folders| {
        let state = folders.state_dir();
        state
            .unwrap_or_else(|| folders.data_local_dir())
            .join("stands")
    });
    let runtime = runtime.map(|folder| folder.join("concento"));
    runtime.into_iter().chain(state).collect()
}

/// A socket of our own in `folder`, to be found from the moment it answers, and its place.
pub(super) fn listen(folder: &Path) -> Result<(UnixListener, PathBuf), PlaceError> {
    private::make_folder(folder)?;
    sockets(folder).for_each(|socket| {
        sweep(&socket);
    });
    // The number of the process is for people; another machine or container that shares the
    // folder may have one of that number too.
    let name = format!("{}-{:04x}", std::process::id(), fastrand::u16(..));
    let path = folder.join(&name).with_extension(ENDING);
    let early = folder.join(format!(".{name}"));
    let refused = |reason| PlaceError::Refused {
        path: path.clone(),
        reason,
    };
    let made = || {
        let listener = UnixListener::bind(&early)?;
        listener.set_nonblocking(true)?;
        fs::set_permissions(&early, Permissions::from_mode(0o600))?;
        fs::rename(&early, &path)?;
        Ok(listener)
    };
    let listener = made().map_err(|reason| {
        let _ = fs::remove_file(&early);
        refused(reason)
    })?;
    Ok((listener, path))
}

/// The sockets in a folder, in the order of their names; none in one that is not ours alone.
pub(super) fn sockets(folder: &Path) -> impl Iterator<Item = PathBuf> + use<> {
    let is_ours = private::check_folder(folder).is_ok();
    let entries = is_ours.then(|| fs::read_dir(folder).ok()).flatten();
    let paths = entries.into_iter().flatten().flatten();
    let paths = paths.map(|entry| entry.path());
    let is_socket = |path: &PathBuf| path.extension().is_some_and(|ending| ending == ENDING);
    let mut paths: Vec<PathBuf> = paths.filter(is_socket).collect();
    paths.sort();
    paths.into_iter()
}

/// Knocks at a socket; one that nobody answers at any more is removed.
pub(super) fn sweep(socket: &Path) -> Option<UnixStream> {
    match UnixStream::connect(socket) {
        Ok(stream) => Some(stream),
        Err(error) => {
            if error.kind() == io::ErrorKind::ConnectionRefused {
                let _ = fs::remove_file(socket);
            }
            None
        }
    }
}

/// Whether our own user is at the other end.
///
/// Systems other than Linux do not say so through a safe call; there the folder alone keeps
/// others out, which it does here too.
pub(super) fn is_ours(stream: &UnixStream) -> bool {
    #[cfg(target_os = "linux")]
    {
        let peer = rustix::net::sockopt::socket_peercred(stream);
        peer.is_ok_and(|peer| peer.uid == rustix::process::geteuid())
    }
    #[cfg(not(target_os = "linux"))]
    {
        let _ = stream;
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mode(path: &Path) -> u32 {
        path.symlink_metadata().unwrap().permissions().mode() & 0o777
    }

    #[test]
    fn nobody_else_can_enter() {
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("run/concento");
        let (_listener, path) = listen(&folder).unwrap();
        assert_eq!((mode(&folder), mode(&path)), (0o700, 0o600));
    }

    #[test]
    fn a_folder_others_may_write_to_is_refused() {
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("concento");
        fs::create_dir(&folder).unwrap();
        for open in [0o770, 0o702, 0o777] {
            fs::set_permissions(&folder, Permissions::from_mode(open)).unwrap();
            let refused = listen(&folder).unwrap_err();
            let is_open = matches!(refused, PlaceError::Folder(FolderError::Open(_)));
            assert!(is_open, "{refused}");
            assert_eq!(fs::read_dir(&folder).unwrap().count(), 0);
            assert_eq!(sockets(&folder).count(), 0);
        }
        let linked = home.path().join("linked");
        std::os::unix::fs::symlink(home.path(), &linked).unwrap();
        let refused = listen(&linked).unwrap_err();
        let is_link = matches!(refused, PlaceError::Folder(FolderError::NotAFolder(_)));
        assert!(is_link, "{refused}");
    }

    #[test]
    fn what_a_killed_program_left_is_removed() {
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("concento");
        let (listener, left) = listen(&folder).unwrap();
        drop(listener);
        assert!(left.exists(), "a socket outlives its program");
        let (_second, path) = listen(&folder).unwrap();
        assert!(!left.exists());
        assert_eq!(sockets(&folder).collect::<Vec<_>>(), [path]);
    }
}
