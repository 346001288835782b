//! The notes of a rehearsal, which copies of its record share.

use std::sync::Arc;

use super::Note;

/// A copy shares whole pages of so many notes; the page that is being written is copied when the
/// next note is put on it.
const PAGE: usize = 512;

/// Notes in the order they ended. A clone costs next to no time and memory, however many there are.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Notes {
    /// All of them full but the last.
    pages: Vec<Arc<Vec<Note>>>,
}

impl Notes {
    /// How many there are.
    pub fn len(&self) -> usize {
        let full = self.pages.len().saturating_sub(1) * PAGE;
        full + self.pages.last().map_or(0, |page| page.len())
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.pages.is_empty()
    }

    /// The note at a place, counted from 0.
    pub fn get(&self, index: usize) -> Option<&Note> {
        self.pages.get(index / PAGE)?.get(index % PAGE)
    }

    /// The note that ended last.
    pub fn last(&self) -> Option<&Note> {
        self.pages.last()?.last()
    }

    /// From the first to the last.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = &Note> {
        self.pages.iter().flat_map(|page| page.iter())
    }

    /// Those before `index`, the nearest first.
    pub(super) fn back_from(&self, index: usize) -> impl Iterator<Item = &Note> {
        (0..index).rev().map_while(|before| self.get(before))
    }

    /// Those after `index`.
    pub(super) fn on_from(&self, index: usize) -> impl Iterator<Item = &Note> {
        (index + 1..).map_while(|after| self.get(after))
    }

    pub(super) fn push(&mut self, note: Note) {
        match self.pages.last_mut() {
            Some(page) if page.len() < PAGE => Arc::make_mut(page).push(note),
            _ => {
                let mut page = Vec::with_capacity(PAGE);
                page.push(note);
                self.pages.push(Arc::new(page));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::MadeUp;
    use super::*;

    fn filled(count: usize) -> (Notes, Vec<Note>) {
        let mut made_up = MadeUp::new(&["Violin I"]);
        made_up.play(0, "A4", 0.0, 1.0, 0.0);
        let one = *made_up.chronicle.notes().last().unwrap();
        let all: Vec<Note> = (0..count)
            .map(|number| Note {
                channel: number,
                ..one
            })
            .collect();
        let mut notes = Notes::default();
        for note in &all {
            notes.push(*note);
        }
        (notes, all)
    }

    #[test]
    fn notes_are_read_as_they_were_written() {
        for count in [0, 1, PAGE - 1, PAGE, PAGE + 1, 3 * PAGE + 7] {
            let (notes, all) = filled(count);
            assert_eq!(notes.len(), count);
            assert_eq!(notes.is_empty(), count == 0);
            assert!(notes.iter().eq(&all), "{count}");
            assert!(notes.iter().rev().eq(all.iter().rev()), "{count}");
            assert_eq!(notes.last(), all.last());
            assert_eq!(notes.get(count), None);
            for index in [0, PAGE - 1, PAGE, 2 * PAGE + 3] {
                assert_eq!(notes.get(index), all.get(index));
                if index < count {
                    assert!(notes.back_from(index).eq(all[..index].iter().rev()));
                    assert!(notes.on_from(index).eq(&all[index + 1..]));
                }
            }
        }
    }

    #[test]
    fn a_copy_keeps_its_notes_and_shares_the_pages_that_are_full() {
        let (mut notes, all) = filled(2 * PAGE + 5);
        let copy = notes.clone();
        notes.push(all[0]);
        assert_eq!(copy.len(), 2 * PAGE + 5);
        assert!(copy.iter().eq(&all));
        assert_eq!(notes.len(), copy.len() + 1);
        let is_shared = |page: usize| Arc::ptr_eq(&notes.pages[page], &copy.pages[page]);
        assert_eq!(
            [is_shared(0), is_shared(1), is_shared(2)],
            [true, true, false]
        );
    }
}
