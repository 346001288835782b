//! What comes in from a stand: bytes put together to lines, lines to news.
//!
//! Taken as from a stranger: lines have a greatest length, what is kept has too, and what cannot
//! be read is passed over.

use super::news::{News, Sitting};
use super::wire::{self, Greeting, LONGEST_LINE};

/// The most bytes of what was kept that are taken of one rehearsal: as long as a session file
/// that can be read.
const MOST_KEPT: usize = 400_000_000;

/// What a stand has said so far.
#[derive(Debug, Default)]
pub struct Incoming {
    /// The line that has begun.
    line: Vec<u8>,
    /// Whether it is too long, and is passed over to its end.
    is_too_long: bool,
    n_lines: usize,
    kept_bytes: usize,
    sitting: Option<Sitting>,
    other_version: Option<u64>,
}

impl Incoming {
    /// Whose rehearsal it is, once it has said so.
    pub fn sitting(&self) -> Option<&Sitting> {
        self.sitting.as_ref()
    }

    /// The version it speaks, if that is not understood here.
    pub fn other_version(&self) -> Option<u64> {
        self.other_version
    }

    /// Takes in the next bytes and adds what they tell to `news`; says whether this goes on to be a
    /// stand.
    pub fn hear(&mut self, bytes: &[u8], news: &mut Vec<News>) -> bool {
        for part in bytes.split_inclusive(|byte| *byte == b'\n') {
            if self.line.len() + part.len() > LONGEST_LINE {
                self.is_too_long = true;
                self.line.clear();
            }
            if !self.is_too_long {
                self.line.extend_from_slice(part);
            }
            if part.ends_with(b"\n") {
                let line = std::mem::take(&mut self.line);
                let is_whole = !std::mem::take(&mut self.is_too_long);
                self.n_lines += 1;
                let line = std::str::from_utf8(&line).ok().filter(|_| is_whole);
                if !self.heed(line, news) {
                    return false;
                }
            }
        }
        true
    }

    /// Takes in a line, none if it could not be read; says whether this goes on to be a stand.
    fn heed(&mut self, line: Option<&str>, news: &mut Vec<News>) -> bool {
        match (self.n_lines, &self.sitting) {
            (1, _) => match line.map_or(Greeting::Foreign, wire::greeting) {
                Greeting::Ours => true,
                Greeting::Version(version) => {
                    self.other_version = Some(version);
                    false
                }
                Greeting::Foreign => false,
            },
            (_, None) => {
                self.sitting = line.and_then(wire::sitting_from_line);
                self.sitting.is_some()
            }
            (_, Some(_)) => {
                let told = line.and_then(wire::news);
                if let (Some(News::Entry(_)), Some(line)) = (&told, line) {
                    self.kept_bytes += line.len();
                }
                news.extend(told);
                self.kept_bytes <= MOST_KEPT
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const GREETING: &[u8] = b"(version: 1, stand: \"concento\")\n\
        (what:Rehearsal,session:None,begun:\"2026-03-01T19:30:00+01:00\",process:7)\n";

    #[test]
    fn a_line_without_end_is_not_held() {
        let mut incoming = Incoming::default();
        let mut news = Vec::new();
        assert!(incoming.hear(GREETING, &mut news));
        for _ in 0..1_000 {
            assert!(incoming.hear(&vec![b'x'; 65_536], &mut news));
            assert!(incoming.line.capacity() <= 4 * LONGEST_LINE);
        }
        assert!(incoming.hear(b"\nlost 7\n", &mut news));
        assert_eq!(news, [News::Lost(7)]);
    }

    #[test]
    fn what_is_kept_has_an_end() {
        let mut incoming = Incoming {
            kept_bytes: MOST_KEPT,
            ..Incoming::default()
        };
        let mut news = Vec::new();
        assert!(incoming.hear(GREETING, &mut news));
        assert!(incoming.hear(b"lost 7\n", &mut news));
        assert!(!incoming.hear(b"Marked(at:1.0,text:\"\")\nlost 8\n", &mut news));
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn where_pieces_end_makes_no_difference(
            lines in prop::collection::vec("lost [0-9]{1,3}|now [0-9.]{1,5}|\\PC{0,9}", 0..6),
            cut: prop::sample::Index,
        ) {
            let bytes = [GREETING, lines.join("\n").as_bytes(), b"\n"].concat();
            let (first, rest) = bytes.split_at(cut.index(bytes.len()));
            let (mut whole, mut cut) = (Vec::new(), Vec::new());
            prop_assert!(Incoming::default().hear(&bytes, &mut whole));
            let mut incoming = Incoming::default();
            prop_assert!(incoming.hear(first, &mut cut) && incoming.hear(rest, &mut cut));
            prop_assert_eq!(whole, cut);
        }

        #[test]
        fn any_bytes_are_heard(bytes: Vec<u8>) {
            let _ = Incoming::default().hear(&bytes, &mut Vec::new());
            let mut incoming = Incoming::default();
            let mut news = Vec::new();
            prop_assert!(incoming.hear(GREETING, &mut news) && incoming.hear(&bytes, &mut news));
        }
    }
}
