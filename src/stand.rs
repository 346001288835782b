//! The stand: a second screen that follows a rehearsal while it goes on, read-only.
//!
//! The program that listens publishes on a Unix socket that only its own user can open; nothing
//! leaves the machine. Lines of text go out as things happen, and whoever comes late is told
//! all that was kept first. A reader can never slow the listener or the first screen: what is
//! handed over lies in a bounded queue, a thread of its own writes without waiting, and a reader
//! that does not read is dropped.

#[cfg(unix)]
mod incoming;
mod news;
mod outlet;
#[cfg(unix)]
mod place;
#[cfg(unix)]
mod publisher;
#[cfg(unix)]
mod reader;
mod wire;

#[cfg(unix)]
pub use incoming::Incoming;
pub use news::{News, Sitting, What};
pub use outlet::Outlet;
#[cfg(unix)]
pub use place::{PlaceError, folders};
#[cfg(unix)]
pub use publisher::{Limits, Publisher};
#[cfg(unix)]
pub use reader::{Connection, Found, Looked, Taken, look};
