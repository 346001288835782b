//! Packed MusicXML (.mxl): a zip archive whose `META-INF/container.xml` names the score in it.
//! Nothing is unpacked to a disk, and sizes an archive states are not believed.
//! Source: W3C Community Group, MusicXML 4.0, "Compressed .mxl files".

use std::io::{Cursor, Read};

use zip::ZipArchive;
use zip::read::ZipFile;
use zip::result::ZipError;

use super::names::tidy;
use super::{LARGEST_UNPACKED, ScoreError};

/// The file that names the score.
const CONTAINER: &str = "META-INF/container.xml";
/// Its longest, in bytes.
const LARGEST_CONTAINER: u64 = 100_000;
/// Files in one archive: a score, the container and perhaps pictures and parts.
const MOST_ENTRIES: usize = 1_000;

type Archive<'a> = ZipArchive<Cursor<&'a [u8]>>;

/// Whether these bytes begin as a zip archive does.
pub(super) fn is_packed(bytes: &[u8]) -> bool {
    bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"PK\x05\x06")
}

/// The bytes of the score in an archive.
pub(super) fn unpack(bytes: &[u8]) -> Result<Vec<u8>, ScoreError> {
    entries(bytes)?;
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(|_| ScoreError::Packed)?;
    let container = match archive.by_name(CONTAINER) {
        Ok(file) => content(file, LARGEST_CONTAINER, ScoreError::NoContainer)?,
        Err(ZipError::FileNotFound) => return Err(ScoreError::NoContainer),
        Err(_) => return Err(ScoreError::Packed),
    };
    let root = root_file(&container)?;
    open(&mut archive, &root)
}

/// Refuses an archive whose directory says that it holds very much, before it is read. The count
/// stands in the last record of the archive (APPNOTE.TXT 6.3.10, 4.3.16).
fn entries(bytes: &[u8]) -> Result<(), ScoreError> {
    let tail = &bytes[bytes.len().saturating_sub(66_000)..];
    let end = tail
        .windows(12)
        .rposition(|window| window.starts_with(b"PK\x05\x06"));
    let count = end.map_or(0, |at| {
        usize::from(u16::from_le_bytes([tail[at + 10], tail[at + 11]]))
    });
    if count > MOST_ENTRIES {
        return Err(ScoreError::Entries(count));
    }
    Ok(())
}

fn root_file(container: &[u8]) -> Result<String, ScoreError> {
    let text = super::encoding::decode(container)?;
    // The same bounds as for a score; then it is small enough to be parsed whole.
    super::outline::Outline::of(&text).map_err(|_| ScoreError::NoContainer)?;
    let options = roxmltree::ParsingOptions {
        allow_dtd: true,
        ..roxmltree::ParsingOptions::default()
    };
    let document = roxmltree::Document::parse_with_options(&text, options)
        .map_err(|_| ScoreError::NoContainer)?;
    // The first one is the score; others are the same in other forms.
    document
        .descendants()
        .filter(|node| node.tag_name().name() == "rootfile")
        .find_map(|node| node.attribute("full-path"))
        .map(str::to_owned)
        .ok_or(ScoreError::NoContainer)
}

fn open(archive: &mut Archive, name: &str) -> Result<Vec<u8>, ScoreError> {
    // Names are looked up in the archive alone, so that one pointing outside is not found there.
    match archive.by_name(name) {
        Ok(file) if file.is_file() => content(file, LARGEST_UNPACKED, ScoreError::Unpacked),
        Ok(_) | Err(ZipError::FileNotFound) => Err(ScoreError::NoRoot(tidy(name))),
        Err(_) => Err(ScoreError::Packed),
    }
}

/// What a file holds; `too_large` where that is more than `largest` bytes.
fn content<R: Read>(
    file: ZipFile<'_, R>,
    largest: u64,
    too_large: ScoreError,
) -> Result<Vec<u8>, ScoreError> {
    let mut bytes = Vec::new();
    let read = file.take(largest + 1).read_to_end(&mut bytes);
    if bytes.len() as u64 > largest {
        return Err(too_large);
    }
    read.map_err(|_| ScoreError::Packed)?;
    Ok(bytes)
}
