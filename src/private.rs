//! Folders and files that belong to the user alone, whatever the umask says.
//!
//! A folder that the program chooses by itself is made with mode 0700, and not used if anybody
//! else could put something into it; files have mode 0600 and are never reached through a link. A
//! folder that the user names is the user's affair and is not judged here. Systems other than Unix
//! have no such modes: there the user's own folders must do.

use std::fs::{self, File, OpenOptions};
use std::io;
use std::path::{Path, PathBuf};

/// Why a folder of the program's own is not used.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    /// It belongs to someone else.
    #[error("'{}' belongs to another user: move it away, or start the program as that user", .0.display())]
    NotOurs(PathBuf),
    /// Others could put something into it.
    #[error("others may write to the folder '{}': type 'chmod go-w' and this name", .0.display())]
    Open(PathBuf),
    /// It is a file or a link.
    #[error("'{}' is no folder but a file or a link: move it away", .0.display())]
    NotAFolder(PathBuf),
    /// The system refuses something.
    #[error("the folder '{}' cannot be used ({reason}): check whether you may write there", path.display())]
    Refused {
        /// The folder.
        path: PathBuf,
        /// The system's reason.
        reason: io::Error,
    },
}

impl FolderError {
    /// Whether the folder is there and not to be trusted, rather than impossible to make or use.
    pub fn is_distrust(&self) -> bool {
        !matches!(self, Self::Refused { .. })
    }
}

/// Makes `folder` where it is missing, and refuses one that is not the user's alone. One that can
/// only be looked into is closed.
pub fn make_folder(folder: &Path) -> Result<(), FolderError> {
    let refused = |reason| FolderError::Refused {
        path: folder.to_owned(),
        reason,
    };
    match folder.symlink_metadata() {
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            system::make(folder).map_err(refused)?;
        }
        Err(error) => return Err(refused(error)),
        Ok(_) => {}
    }
    let found = folder.symlink_metadata().map_err(refused)?;
    system::check(folder, &found)?;
    system::close_folder(folder, &found).map_err(refused)
}

/// Refuses `folder` if it is there and not the user's alone; one that is missing is none to be
/// afraid of.
pub fn check_folder(folder: &Path) -> Result<(), FolderError> {
    match folder.symlink_metadata() {
        Ok(found) => system::check(folder, &found),
        Err(_) => Ok(()),
    }
}

/// Makes a new file to write to, which must not exist; a link is something that exists.
pub fn create_new(path: &Path) -> io::Result<File> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    system::only_for_its_owner(&mut options);
    let file = options.open(path)?;
    // A umask that keeps even its owner from the file. Some disks know no modes at all.
    let _ = system::close_file(&file);
    Ok(file)
}

/// Opens a file of the program's own and empties it, or makes it. What is no regular file of ours
/// is left alone, above all one that a link leads to.
pub fn open_emptied(path: &Path) -> io::Result<File> {
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(false);
    system::only_for_its_owner(&mut options);
    system::without_links(&mut options);
    let file = options.open(path)?;
    if !system::is_ours_alone(&file.metadata()?) {
        return Err(io::ErrorKind::PermissionDenied.into());
    }
    let _ = system::close_file(&file);
    file.set_len(0)?;
    Ok(file)
}

/// The file or folder in the chain of `path` and its folder that others may write to, if there is
/// one: what is read from it might be theirs. Links are followed, as settings are often kept
/// elsewhere; what belongs to the system's own user is trusted.
pub fn distrusted(path: &Path) -> Option<&Path> {
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty());
    let mut chain = [Some(path), folder].into_iter().flatten();
    chain.find(|path| {
        path.metadata()
            .is_ok_and(|found| !system::is_trusted(&found))
    })
}

#[cfg(unix)]
mod system {
    use std::fs::{DirBuilder, Metadata, Permissions};
    use std::os::unix::fs::{DirBuilderExt, MetadataExt, OpenOptionsExt, PermissionsExt};

    use rustix::fs::OFlags;
    use rustix::process::geteuid;

    use super::{File, FolderError, OpenOptions, Path, fs, io};

    const FOLDER: u32 = 0o700;
    const FILE: u32 = 0o600;
    const OTHERS_WRITE: u32 = 0o022;
    const MODE: u32 = 0o777;

    pub(super) fn make(folder: &Path) -> io::Result<()> {
        let mut builder = DirBuilder::new();
        builder.recursive(true).mode(FOLDER).create(folder)
    }

    pub(super) fn check(folder: &Path, found: &Metadata) -> Result<(), FolderError> {
        let folder = || folder.to_owned();
        if !found.is_dir() {
            return Err(FolderError::NotAFolder(folder()));
        }
        if found.uid() != geteuid().as_raw() {
            return Err(FolderError::NotOurs(folder()));
        }
        if found.mode() & OTHERS_WRITE != 0 {
            return Err(FolderError::Open(folder()));
        }
        Ok(())
    }

    pub(super) fn close_folder(folder: &Path, found: &Metadata) -> io::Result<()> {
        if found.mode() & MODE == FOLDER {
            return Ok(());
        }
        fs::set_permissions(folder, Permissions::from_mode(FOLDER))
    }

    pub(super) fn close_file(file: &File) -> io::Result<()> {
        file.set_permissions(Permissions::from_mode(FILE))
    }

    pub(super) fn only_for_its_owner(options: &mut OpenOptions) {
        options.mode(FILE);
    }

    /// A pipe without a reader is refused too, instead of waited for.
    pub(super) fn without_links(options: &mut OpenOptions) {
        let flags = OFlags::NOFOLLOW | OFlags::NONBLOCK;
        options.custom_flags(flags.bits().cast_signed());
    }

    /// A second name of a file may be a link that someone else has laid.
    pub(super) fn is_ours_alone(found: &Metadata) -> bool {
        found.is_file() && found.nlink() == 1 && found.uid() == geteuid().as_raw()
    }

    pub(super) fn is_trusted(found: &Metadata) -> bool {
        let owner = found.uid();
        (owner == geteuid().as_raw() || owner == 0) && found.mode() & OTHERS_WRITE == 0
    }
}

#[cfg(not(unix))]
mod system {
    use std::fs::Metadata;

    use super::{File, FolderError, OpenOptions, Path, fs, io};

    pub(super) fn make(folder: &Path) -> io::Result<()> {
        fs::create_dir_all(folder)
    }

    pub(super) fn check(folder: &Path, found: &Metadata) -> Result<(), FolderError> {
        if found.is_dir() {
            Ok(())
        } else {
            Err(FolderError::NotAFolder(folder.to_owned()))
        }
    }

    pub(super) fn close_folder(_folder: &Path, _found: &Metadata) -> io::Result<()> {
        Ok(())
    }

    pub(super) fn close_file(_file: &File) -> io::Result<()> {
        Ok(())
    }

    pub(super) fn only_for_its_owner(_options: &mut OpenOptions) {}

    pub(super) fn without_links(_options: &mut OpenOptions) {}

    pub(super) fn is_ours_alone(found: &Metadata) -> bool {
        found.is_file()
    }

    pub(super) fn is_trusted(_found: &Metadata) -> bool {
        true
    }
}

#[cfg(unix)]
#[cfg(test)]
mod tests {
    use std::fs::Permissions;
    use std::os::unix::fs::{PermissionsExt, symlink};

    use super::*;

    fn mode(path: &Path) -> u32 {
        path.symlink_metadata().unwrap().permissions().mode() & 0o777
    }

    fn set(path: &Path, mode: u32) {
        fs::set_permissions(path, Permissions::from_mode(mode)).unwrap();
    }

    #[test]
    fn a_folder_that_others_can_only_look_into_is_closed() {
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("a/b");
        make_folder(&folder).unwrap();
        assert_eq!(
            (mode(&folder), mode(&home.path().join("a"))),
            (0o700, 0o700)
        );
        for open in [0o755, 0o711, 0o500] {
            set(&folder, open);
            make_folder(&folder).unwrap();
            assert_eq!(mode(&folder), 0o700);
        }
    }

    #[test]
    fn a_folder_others_may_write_to_is_refused_and_left() {
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("open");
        fs::create_dir(&folder).unwrap();
        for open in [0o770, 0o702, 0o777, 0o1777] {
            set(&folder, open);
            for refused in [make_folder(&folder), check_folder(&folder)] {
                let refused = refused.unwrap_err();
                assert!(matches!(refused, FolderError::Open(_)) && refused.is_distrust());
                let said = refused.to_string();
                assert!(said.contains("open': type 'chmod go-w'"), "{said}");
            }
            assert_eq!(mode(&folder), open & 0o777);
        }
    }

    #[test]
    fn what_is_no_folder_is_refused() {
        let home = tempfile::tempdir().unwrap();
        let [file, link, astray] = ["file", "link", "astray"].map(|name| home.path().join(name));
        fs::write(&file, "").unwrap();
        symlink(home.path(), &link).unwrap();
        symlink("nowhere", &astray).unwrap();
        for path in [&file, &link, &astray] {
            let refused = make_folder(path).unwrap_err();
            assert!(matches!(refused, FolderError::NotAFolder(_)), "{refused}");
        }
        let refused = make_folder(&file.join("below")).unwrap_err();
        assert!(!refused.is_distrust(), "{refused}");
        assert!(check_folder(&home.path().join("missing")).is_ok());
        assert!(!home.path().join("nowhere").exists());
    }

    #[test]
    fn a_new_file_replaces_nothing_and_follows_no_link() {
        let home = tempfile::tempdir().unwrap();
        let [file, link] = ["file", "link"].map(|name| home.path().join(name));
        create_new(&file).unwrap();
        assert_eq!(mode(&file), 0o600);
        symlink(home.path().join("planted"), &link).unwrap();
        for path in [&file, &link] {
            let refused = create_new(path).unwrap_err();
            assert_eq!(refused.kind(), io::ErrorKind::AlreadyExists);
        }
        assert!(!home.path().join("planted").exists());
    }

    #[test]
    fn only_a_file_of_ours_is_emptied() {
        let home = tempfile::tempdir().unwrap();
        let [log, victim, link, second, fifo] =
            ["log", "victim", "link", "second", "fifo"].map(|name| home.path().join(name));
        open_emptied(&log).unwrap();
        assert_eq!(mode(&log), 0o600);
        fs::write(&log, "of the last rehearsal").unwrap();
        set(&log, 0o666);
        open_emptied(&log).unwrap();
        assert_eq!((mode(&log), fs::read(&log).unwrap().len()), (0o600, 0));

        fs::write(&victim, "mine").unwrap();
        symlink(&victim, &link).unwrap();
        fs::hard_link(&victim, &second).unwrap();
        let made = std::process::Command::new("mkfifo").arg(&fifo).status();
        assert!(made.unwrap().success());
        for planted in [&link, &second, &fifo] {
            assert!(open_emptied(planted).is_err(), "{}", planted.display());
        }
        assert_eq!(fs::read_to_string(&victim).unwrap(), "mine");
    }

    #[test]
    fn what_others_may_write_is_not_trusted() {
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("folder");
        let file = folder.join("settings.ron");
        fs::create_dir(&folder).unwrap();
        fs::write(&file, "").unwrap();
        for (of_folder, of_file, expected) in [
            (0o755, 0o644, None),
            (0o755, 0o664, Some(&file)),
            (0o755, 0o602, Some(&file)),
            (0o775, 0o600, Some(&folder)),
        ] {
            set(&folder, of_folder);
            set(&file, of_file);
            assert_eq!(distrusted(&file), expected.map(PathBuf::as_path));
        }
    }
}
