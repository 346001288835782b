//! Why the system refuses something, in a player's words.

use std::io;

/// In few words, as for the status line or in brackets.
pub(crate) fn reason(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => "the disk is full".into(),
        io::ErrorKind::PermissionDenied => "the folder may not be written to".into(),
        io::ErrorKind::ReadOnlyFilesystem => "the disk may only be read".into(),
        io::ErrorKind::NotFound => "the folder is not there".into(),
        _ => error.to_string(),
    }
}
