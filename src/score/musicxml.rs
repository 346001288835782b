//! MusicXML text to a score: the list of parts, then one part after another.
//! Source: W3C Community Group, MusicXML 4.0 (score-partwise).

mod assembly;
mod duration;
mod part;
mod signature;
#[cfg(test)]
mod tests;
mod transposition;

use roxmltree::{Document, Node, ParsingOptions};

use super::names::{tidy, unique};
use super::outline::{Outline, Piece, fault};
use super::{MOST_PARTS, Score, ScoreError, at_most};

/// Nodes of one part that a parser builds: twice the tags that are let through.
const MOST_NODES: u32 = 8_000_000;

/// Bars of all parts: sixty staves of the most bars a large opera act has are a fifth of it.
const MOST_BARS_OF_PARTS: usize = 1_000_000;

/// Reads MusicXML; `name` is the title where it has none.
pub(super) fn read(text: &str, name: &str) -> Result<Score, ScoreError> {
    let outline = Outline::of(text)?;
    match outline.root {
        "score-partwise" => {}
        "score-timewise" => return Err(ScoreError::Timewise),
        "opus" => return Err(ScoreError::Opus),
        other => return Err(ScoreError::OtherXml(tidy(other))),
    }
    let count = outline.children("part").count();
    at_most("parts", count, MOST_PARTS)?;
    let mut listed = Vec::new();
    let mut titles = [None, None];
    for (element, reader) in [("work", 0), ("movement-title", 1), ("part-list", 2)] {
        for child in outline.children(element) {
            with_document(&outline.piece(child), |root, _| {
                match reader {
                    0 => titles[0] = titles[0].take().or(text_in(root, "work-title")),
                    1 => titles[1] = titles[1].take().or(text_in(root, "movement-title")),
                    _ => listed.extend(part_list(root)),
                }
                Ok(())
            })?;
        }
    }
    let mut ids = Vec::new();
    let mut readings = Vec::new();
    let (mut notes, mut bars) = (0, 0);
    for child in outline.children("part") {
        let number = readings.len() + 1;
        let (id, reading) = with_document(&outline.piece(child), |root, _| {
            let node = root
                .children()
                .find(|node| node.tag_name().name() == "part")
                .ok_or(ScoreError::Form)?;
            let id = node.attribute("id").unwrap_or_default().to_owned();
            let own = listed.iter().find(|(listed, _)| *listed == id);
            let called = match own {
                Some((_, name)) if !name.is_empty() => name.clone(),
                _ => format!("Part {number}"),
            };
            Ok((id, part::read(node, &called)?))
        })?;
        notes += reading.notes.len();
        bars += reading.bars.len();
        at_most("notes", notes, super::MOST_NOTES)?;
        at_most("bars in all parts together", bars, MOST_BARS_OF_PARTS)?;
        ids.push(id);
        readings.push(reading);
    }
    let names = unique(ids.iter().map(|id| {
        let own = listed.iter().find(|(listed, _)| listed == id);
        own.map(|(_, name)| name.clone()).unwrap_or_default()
    }));
    let title = titles.into_iter().flatten().next();
    assembly::assemble(title.unwrap_or_else(|| tidy(name)), names, readings)
}

/// Parses a piece and hands its root over.
fn with_document<T>(
    piece: &Piece,
    read: impl FnOnce(Node, &Piece) -> Result<T, ScoreError>,
) -> Result<T, ScoreError> {
    let options = ParsingOptions {
        nodes_limit: MOST_NODES,
        ..ParsingOptions::default()
    };
    let document =
        Document::parse_with_options(&piece.text, options).map_err(|error| fault(&error, piece))?;
    read(document.root_element(), piece)
}

/// The text of the first element of that name, if there is any.
fn text_in(node: Node, name: &str) -> Option<String> {
    let element = node
        .descendants()
        .find(|child| child.tag_name().name() == name)?;
    Some(tidy(element.text()?)).filter(|text| !text.is_empty())
}

/// Identifiers and names of the parts.
fn part_list(root: Node) -> Vec<(String, String)> {
    root.descendants()
        .filter(|node| node.tag_name().name() == "score-part")
        .filter_map(|part| {
            let name = text_in(part, "part-name").unwrap_or_default();
            Some((part.attribute("id")?.to_owned(), name))
        })
        .collect()
}
