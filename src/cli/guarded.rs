//! The way of all words to the terminal: what would steer it is written out, wherever it comes
//! from.

use std::io::{self, Write};

use crate::plain::written_out;

/// Says something on standard error under the program's name. Nobody hears of it if that is closed.
pub(super) fn tell(what: &str) {
    let _ = writeln!(io::stderr(), "concento: {}", written_out(what));
}

/// A writer of text. Bytes that are none come out as the mark that stands for them.
#[derive(Debug)]
pub(super) struct Guarded<W> {
    to: W,
    /// The beginning of a character whose rest has not come yet.
    begun: Vec<u8>,
}

impl<W: Write> Guarded<W> {
    pub(super) fn new(to: W) -> Self {
        Self {
            to,
            begun: Vec::new(),
        }
    }

    /// Passes on what is whole of what has begun.
    fn pass(&mut self) -> io::Result<()> {
        let mut done = 0;
        for chunk in self.begun.utf8_chunks() {
            // Lines of tables for spreadsheets end in two characters.
            for (index, piece) in chunk.valid().split("\r\n").enumerate() {
                if index > 0 {
                    self.to.write_all(b"\r\n")?;
                }
                self.to.write_all(written_out(piece).as_bytes())?;
            }
            done += chunk.valid().len();
            let is_begun = done + chunk.invalid().len() == self.begun.len()
                && !chunk.invalid().is_empty()
                && is_unfinished(chunk.invalid());
            if is_begun {
                break;
            }
            if !chunk.invalid().is_empty() {
                self.to.write_all("\u{fffd}".as_bytes())?;
            }
            done += chunk.invalid().len();
        }
        self.begun.drain(..done);
        Ok(())
    }
}

/// Whether these bytes may become a character with what follows.
fn is_unfinished(bytes: &[u8]) -> bool {
    std::str::from_utf8(bytes).is_err_and(|error| error.error_len().is_none())
}

impl<W: Write> Write for Guarded<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.begun.extend_from_slice(bytes);
        // A return may be followed by the line feed that makes it an end of line.
        let held = self.begun.pop_if(|byte| *byte == b'\r');
        let passed = self.pass();
        self.begun.extend(held);
        passed.map(|()| bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.to.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plain::steers;
    use proptest::prelude::*;

    fn through(pieces: &[&[u8]]) -> String {
        let mut out = Vec::new();
        let mut guarded = Guarded::new(&mut out);
        for piece in pieces {
            guarded.write_all(piece).unwrap();
        }
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn harmless_text_comes_out_as_it_is() {
        let check = |text: &str| assert_eq!(through(&[text.as_bytes()]), text);
        check("Trumpet II \u{2013} 7 \u{266f}\n");
        check("a,b\r\n\"c\",d\r\n");
        assert_eq!(
            through(&[b"a\r", b"\n\xe2\x99", b"\xaf\n"]),
            "a\r\n\u{266f}\n"
        );
    }

    #[test]
    fn what_steers_does_not_come_out() {
        assert_eq!(through(&[b"a\x1b[2J\rb\n"]), "a\\u001b[2J\\u000db\n");
        assert_eq!(through(&[b"\xe2\x80", b"\xae.\n"]), "\\u202e.\n");
        assert_eq!(through(&[b"a\x9bb\xff\n"]), "a\u{fffd}b\u{fffd}\n");
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn nothing_steers_however_it_is_cut(bytes: Vec<u8>, cut: prop::sample::Index) {
            let (first, rest) = bytes.split_at(cut.index(bytes.len() + 1));
            let out = through(&[first, rest]);
            prop_assert!(!out.replace("\r\n", "\n").contains(|c| c != '\n' && steers(c)));
            prop_assert_eq!(out, through(&[&bytes]));
        }
    }
}
