//! The outline of an XML text: its root element and where each child of it lies, so that a large
//! score is parsed a part at a time. It also bounds what a parser would be given: entities,
//! depth, attributes, namespaces and markup are counted before anything is built from them.

use std::ops::Range;

use super::names::tidy;
use super::{ScoreError, at_most};

/// Elements within elements; a note's go eight deep.
const DEEPEST: usize = 64;
/// Attributes of one element, as a parser compares each with each; a direction has about ten.
const MOST_ATTRIBUTES: usize = 64;
/// Declared namespaces, as a parser may copy all of them to each element: scores have three.
const MOST_NAMESPACES: usize = 64;
/// Tags in one part; the first violin of a large opera act has about a million.
const MOST_TAGS: usize = 4_000_000;
/// Children of the root: parts, and some thirty elements before them.
const MOST_CHILDREN: usize = 2_000;

/// The outline of a text.
#[derive(Debug)]
pub(super) struct Outline<'a> {
    text: &'a str,
    /// The root's start tag.
    root_tag: Range<usize>,
    /// The root's name without a prefix.
    pub(super) root: &'a str,
    /// The root's children, from start tag to end tag.
    children: Vec<Range<usize>>,
}

/// One child of the root in a text of its own, which a parser takes.
#[derive(Debug)]
pub(super) struct Piece<'a> {
    /// The root's tag, the child and the root's end: namespaces are declared on the root.
    pub(super) text: String,
    /// How many characters stand before the child, all in the first line.
    before: usize,
    /// Where the child begins in the whole text. Its line is counted only when it is asked for, as
    /// that takes as long as the text before it is.
    start: usize,
    whole: &'a str,
}

impl<'a> Outline<'a> {
    /// Goes through `text` once.
    pub(super) fn of(text: &'a str) -> Result<Self, ScoreError> {
        let mut walk = Walk {
            text,
            at: 0,
            depth: 0,
            tags: 0,
            child: 0,
            root: None,
            children: Vec::new(),
        };
        if text.matches("xmlns").nth(MOST_NAMESPACES).is_some() {
            return Err(walk.absurd("declares more namespaces"));
        }
        while walk.step()? {}
        let Some(root_tag) = walk.root else {
            return Err(ScoreError::Form);
        };
        if walk.depth > 0 {
            return Err(ScoreError::Truncated(text.lines().count()));
        }
        let name = tag_name(&text[root_tag.start + 1..root_tag.end]);
        Ok(Self {
            text,
            root_tag,
            root: name.rsplit(':').next().unwrap_or(name),
            children: walk.children,
        })
    }

    /// The root's children of that name, in turn.
    pub(super) fn children(&self, name: &str) -> impl Iterator<Item = &Range<usize>> {
        self.children
            .iter()
            .filter(move |range| tag_name(&self.text[range.start + 1..range.end]) == name)
    }

    /// A child as a text of its own.
    pub(super) fn piece(&self, child: &Range<usize>) -> Piece<'a> {
        let root_tag = self.text[self.root_tag.clone()].replace(['\n', '\r'], " ");
        let name = tag_name(&root_tag[1..]);
        Piece {
            text: format!("{root_tag}{}</{name}>", &self.text[child.clone()]),
            before: root_tag.chars().count(),
            start: child.start,
            whole: self.text,
        }
    }
}

impl Piece<'_> {
    /// A place in the piece as one in the whole text.
    pub(super) fn place(&self, row: usize, column: usize) -> (usize, usize) {
        let (first, indent) = position(self.whole, self.start);
        if row <= 1 {
            (first, indent + column.saturating_sub(self.before + 1))
        } else {
            (first + row - 1, column)
        }
    }
}

/// Line and column of a byte, both from 1.
fn position(text: &str, at: usize) -> (usize, usize) {
    let before = &text[..at];
    let line = before.rfind('\n').map_or(0, |end| end + 1);
    (
        before.matches('\n').count() + 1,
        before[line..].chars().count() + 1,
    )
}

/// The name at the beginning of a tag's inside.
fn tag_name(inside: &str) -> &str {
    let end = inside.find(|c: char| c.is_whitespace() || matches!(c, '/' | '>'));
    &inside[..end.unwrap_or(inside.len())]
}

struct Walk<'a> {
    text: &'a str,
    at: usize,
    depth: usize,
    /// Since the last child of the root began.
    tags: usize,
    /// Where that began.
    child: usize,
    root: Option<Range<usize>>,
    children: Vec<Range<usize>>,
}

impl Walk<'_> {
    /// Goes on behind the next markup; false at the end of the text.
    fn step(&mut self) -> Result<bool, ScoreError> {
        let Some(offset) = self.text[self.at..].find('<') else {
            return Ok(false);
        };
        self.at += offset;
        let rest = &self.text[self.at..];
        if rest.starts_with("<!--") {
            self.skip("-->")?;
        } else if rest.starts_with("<![CDATA[") {
            self.skip("]]>")?;
        } else if rest.starts_with("<?") {
            self.skip("?>")?;
        } else if rest.starts_with("<!") {
            self.declaration()?;
        } else {
            self.tag()?;
        }
        Ok(true)
    }

    fn skip(&mut self, until: &str) -> Result<(), ScoreError> {
        let end = self.text[self.at..].find(until);
        self.at += end.ok_or_else(|| self.truncated())? + until.len();
        Ok(())
    }

    /// A document type is passed over and never fetched; one that declares entities is refused.
    fn declaration(&mut self) -> Result<(), ScoreError> {
        let rest = &self.text[self.at..];
        let mut quote = None;
        let mut within = false;
        for (offset, c) in rest.char_indices() {
            if c == '<' && rest[offset..].starts_with("<!ENTITY") {
                return Err(ScoreError::Entities(
                    position(self.text, self.at + offset).0,
                ));
            }
            match (c, quote) {
                (_, Some(open)) => quote = (c != open).then_some(open),
                ('"' | '\'', None) => quote = Some(c),
                ('[', None) => within = true,
                (']', None) => within = false,
                ('>', None) if !within => {
                    self.at += offset + 1;
                    return Ok(());
                }
                _ => {}
            }
        }
        Err(self.truncated())
    }

    fn tag(&mut self) -> Result<(), ScoreError> {
        let start = self.at;
        let mut quote = None;
        let mut attributes = 0;
        let mut end = None;
        for (offset, byte) in self.text.as_bytes()[start..].iter().enumerate() {
            match (byte, quote) {
                (_, Some(open)) => quote = (*byte != open).then_some(open),
                (b'"' | b'\'', None) => quote = Some(*byte),
                (b'=', None) => attributes += 1,
                (b'>', None) => {
                    end = Some(start + offset + 1);
                    break;
                }
                _ => {}
            }
        }
        let end = end.ok_or_else(|| self.truncated())?;
        let tag = &self.text[start..end];
        if attributes > MOST_ATTRIBUTES {
            return Err(self.absurd("holds an element with more attributes"));
        }
        self.tags += 1;
        at_most("elements in one part", self.tags, MOST_TAGS)?;
        self.at = end;
        if tag.starts_with("</") {
            self.depth = self
                .depth
                .checked_sub(1)
                .ok_or_else(|| self.absurd("closes more elements"))?;
            if self.depth == 1 {
                self.close(end)?;
            }
            return Ok(());
        }
        match self.depth {
            0 if self.root.is_some() => return Err(self.absurd("begins a second root")),
            0 => self.root = Some(start..end),
            1 => {
                self.child = start;
                self.tags = 0;
            }
            _ => {}
        }
        if tag.ends_with("/>") {
            if self.depth == 1 {
                self.close(end)?;
            }
        } else {
            self.depth += 1;
        }
        if self.depth > DEEPEST {
            return Err(self.absurd("is nested deeper"));
        }
        Ok(())
    }

    fn close(&mut self, end: usize) -> Result<(), ScoreError> {
        self.children.push(self.child..end);
        at_most("parts and headings", self.children.len(), MOST_CHILDREN)
    }

    fn truncated(&self) -> ScoreError {
        ScoreError::Truncated(self.text.lines().count())
    }

    fn absurd(&self, what: &'static str) -> ScoreError {
        ScoreError::Absurd {
            line: position(self.text, self.at).0,
            what,
        }
    }
}

/// A parser's fault in words, at its place in the whole text.
pub(super) fn fault(error: &roxmltree::Error, piece: &Piece) -> ScoreError {
    use roxmltree::Error::{UnclosedRootNode, UnexpectedCloseTag, UnknownEntityReference};
    let place = error.pos();
    let (line, column) = piece.place(place.row as usize, place.col as usize);
    let reason = match error {
        UnexpectedCloseTag(open, close, _) => format!(
            "'<{}>' is closed by '</{}>': correct it or export the score again",
            tidy(open),
            tidy(close)
        ),
        UnknownEntityReference(name, _) => {
            format!(
                "'&{};' is not known in XML: write the character itself",
                tidy(name)
            )
        }
        UnclosedRootNode => return ScoreError::Truncated(line),
        _ => "this is no proper XML: correct it or export the score again".to_owned(),
    };
    ScoreError::Xml {
        line,
        column,
        reason,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_children_of_the_root_are_found() {
        let text = "<?xml version=\"1.0\"?>\n<!DOCTYPE s PUBLIC \"-//x>\" \"y\" [ <!ELEMENT a ANY> ]>\n\
                    <s xmlns:x='u>'\n v='1'><!-- <part> --><a/>\n  <part id=\"1\"><x:b><![CDATA[</s>]]></x:b></part></s>";
        let outline = Outline::of(text).unwrap();
        assert_eq!(outline.root, "s");
        let parts: Vec<_> = outline.children("part").collect();
        assert_eq!(parts.len(), 1);
        let piece = outline.piece(parts[0]);
        assert!(
            piece
                .text
                .starts_with("<s xmlns:x='u>'  v='1'><part id=\"1\">"),
            "{}",
            piece.text
        );
        let document = roxmltree::Document::parse(&piece.text).unwrap();
        let node = document
            .descendants()
            .find(|n| n.has_tag_name("part"))
            .unwrap();
        let place = document.text_pos_at(node.range().start);
        assert_eq!(piece.place(place.row as usize, place.col as usize), (5, 3));
    }

    #[test]
    fn what_no_score_has_is_refused() {
        let check = |text: &str, part: &str| {
            let error = Outline::of(text).unwrap_err().to_string();
            assert!(error.contains(part), "{error}");
        };
        check("plain", "neither MusicXML");
        check("<a><b>", "ends in the middle");
        check("<a>\n<b c=\"", "in line 2");
        check("<!-- ", "ends in the middle");
        check(
            "<!DOCTYPE a [\n<!ENTITY x \"y\">]><a>&x;</a>",
            "line 2 declares an entity",
        );
        check(&"<a>".repeat(100_000), "nested deeper");
        check("</a>", "closes more");
        check("<a/><b/>", "second root");
        check(&format!("<a {}/>", "b=\"\" ".repeat(65)), "more attributes");
        check(
            &format!("<a>{}</a>", "<b xmlns:c=\"d\"/>".repeat(65)),
            "more namespaces",
        );
        check(&format!("<a>{}</a>", "<part/>".repeat(2_001)), "parts");
    }
}
