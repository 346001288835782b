//! Signals that reach the screen from outside, as values to be asked for once a frame.

use std::io;

/// What a signal asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Asked {
    /// End, for this signal's number.
    End(i32),
    /// Stop until told to go on.
    Suspend,
    /// The program goes on after a stop.
    GoneOn,
}

#[cfg(unix)]
mod imp {
    use super::{Asked, io};
    use signal_hook::consts::{SIGCONT, SIGHUP, SIGINT, SIGQUIT, SIGTERM, SIGTSTP};
    use signal_hook::iterator::Signals as Registered;
    use signal_hook::low_level;

    pub(in super::super) const HANGUP: i32 = SIGHUP;

    /// The signals, caught from here on.
    pub(in super::super) struct Signals(Registered);

    impl Signals {
        pub(in super::super) fn catch() -> io::Result<Self> {
            Registered::new([SIGTERM, SIGINT, SIGQUIT, SIGHUP, SIGTSTP, SIGCONT]).map(Self)
        }

        /// What has been asked for since the last time.
        pub(in super::super) fn pending(&mut self) -> Vec<Asked> {
            let asked = |signal| match signal {
                SIGTSTP => Asked::Suspend,
                SIGCONT => Asked::GoneOn,
                signal => Asked::End(signal),
            };
            self.0.pending().map(asked).collect()
        }

        /// Stops the process as Ctrl-Z does; returns when it goes on.
        pub(in super::super) fn stop() -> io::Result<()> {
            low_level::emulate_default_handler(SIGTSTP)
        }
    }
}

#[cfg(not(unix))]
mod imp {
    use super::{Asked, io};

    pub(in super::super) const HANGUP: i32 = 1;

    /// No signals here.
    pub(in super::super) struct Signals;

    impl Signals {
        pub(in super::super) fn catch() -> io::Result<Self> {
            Ok(Self)
        }

        pub(in super::super) fn pending(&mut self) -> Vec<Asked> {
            Vec::new()
        }

        pub(in super::super) fn stop() -> io::Result<()> {
            Ok(())
        }
    }
}

pub(super) use imp::{HANGUP, Signals};
