//! Keeping the sound system's own chatter off the screen.
//!
//! ALSA and its plug-ins write straight to the process's standard error, past every handle of
//! this program. While a guard lives, file descriptor 2 points elsewhere; when it is dropped,
//! also by a panic, standard error is what it was.

pub use imp::StderrGuard;

#[cfg(unix)]
mod imp {
    use std::fs::{File, OpenOptions};
    use std::io;
    use std::os::fd::{AsFd, OwnedFd};

    /// Standard error turned elsewhere until dropped. One at a time: guards must be dropped in
    /// the reverse order of their making, or the wrong one is restored.
    #[derive(Debug)]
    pub struct StderrGuard {
        saved: OwnedFd,
    }

    impl StderrGuard {
        /// Sends standard error to the end of `file`, such as a log.
        ///
        /// # Errors
        ///
        /// When there is no standard error or no free file descriptor; nothing has changed then.
        pub fn to_file(file: &File) -> io::Result<Self> {
            let saved = io::stderr().as_fd().try_clone_to_owned()?;
            rustix::stdio::dup2_stderr(file)?;
            Ok(Self { saved })
        }

        /// Drops whatever is written to standard error.
        ///
        /// # Errors
        ///
        /// As [`StderrGuard::to_file`], and when `/dev/null` cannot be opened.
        pub fn to_null() -> io::Result<Self> {
            Self::to_file(&OpenOptions::new().write(true).open("/dev/null")?)
        }
    }

    impl Drop for StderrGuard {
        fn drop(&mut self) {
            // There is nowhere left to complain to if this fails.
            let _ = rustix::stdio::dup2_stderr(&self.saved);
        }
    }
}

#[cfg(not(unix))]
mod imp {
    use std::fs::File;
    use std::io;

    /// On this system the sound system does not write to standard error: does nothing.
    #[derive(Debug)]
    pub struct StderrGuard;

    impl StderrGuard {
        /// Does nothing.
        pub fn to_file(_file: &File) -> io::Result<Self> {
            Ok(Self)
        }

        /// Does nothing.
        pub fn to_null() -> io::Result<Self> {
            Ok(Self)
        }
    }
}

#[cfg(unix)]
#[cfg(test)]
mod tests {
    use std::fs;
    use std::process::Command;

    use super::StderrGuard;

    /// Writes to file descriptor 2 the way a foreign library does, past Rust's own handle.
    fn mutter(words: &str) {
        let script = format!("echo {words} >&2");
        let status = Command::new("sh").args(["-c", &script]).status().unwrap();
        assert!(status.success());
    }

    #[test]
    fn chatter_goes_where_the_guard_says_and_back_when_it_is_dropped() {
        let outer = tempfile::NamedTempFile::new().unwrap();
        let inner = tempfile::NamedTempFile::new().unwrap();
        let outside = StderrGuard::to_file(outer.as_file()).unwrap();
        mutter("before");
        let inside = StderrGuard::to_file(inner.as_file()).unwrap();
        mutter("during");
        drop(inside);
        mutter("after");
        let silence = StderrGuard::to_null().unwrap();
        mutter("unheard");
        drop(silence);
        drop(outside);
        assert_eq!(fs::read_to_string(outer.path()).unwrap(), "before\nafter\n");
        assert_eq!(fs::read_to_string(inner.path()).unwrap(), "during\n");
    }
}
