//! What was handed over and not yet taken, bounded.

use std::collections::VecDeque;

use crate::stand::news::{Lasting, News};

/// The most readings that wait: a few seconds of eight players.
const MOST_FLEETING: usize = 4_000;

/// The most of the rest. A thread that leaves so much is stuck, and nothing is published.
const MOST_KEPT: usize = 2_000_000;

/// What waits.
#[derive(Debug, Default)]
pub(super) struct Queue {
    news: VecDeque<News>,
    n_fleeting: usize,
    is_torn: bool,
}

impl Queue {
    pub(super) fn len(&self) -> usize {
        self.news.len()
    }

    /// Takes in one piece; what is good for a moment only where somebody watches.
    pub(super) fn push(&mut self, news: News, is_watched: bool) {
        let is_fleeting = news.lasting() == Lasting::Fleeting;
        if self.is_torn || is_fleeting && !is_watched {
            return;
        }
        if is_fleeting {
            if self.n_fleeting == MOST_FLEETING {
                self.give_up();
            }
            self.n_fleeting += 1;
        } else if self.news.len() - self.n_fleeting == MOST_KEPT {
            *self = Self {
                is_torn: true,
                ..Self::default()
            };
            return;
        }
        self.news.push_back(news);
    }

    /// Gives up the oldest readings: a tenth of them at once, as it takes a while.
    fn give_up(&mut self) {
        let mut left = MOST_FLEETING / 10;
        self.n_fleeting -= left;
        self.news.retain(|news| {
            let goes = left > 0 && news.lasting() == Lasting::Fleeting;
            left -= usize::from(goes);
            !goes
        });
    }

    /// Takes out everything; none if something that had to be kept was lost.
    pub(super) fn take(&mut self) -> Option<VecDeque<News>> {
        self.n_fleeting = 0;
        (!self.is_torn).then(|| std::mem::take(&mut self.news))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::tests::reading;

    #[test]
    fn the_oldest_readings_go_first_and_nothing_else() {
        let mut queue = Queue::default();
        for count in 0..10_000 {
            queue.push(News::Reading(count, reading(415.0)), true);
            if count % 100 == 0 {
                queue.push(News::Lost(count as u64), true);
            }
        }
        assert!(queue.len() <= MOST_FLEETING + 100);
        let taken = queue.take().unwrap();
        let lost = taken.iter().filter(|news| matches!(news, News::Lost(_)));
        assert_eq!(lost.count(), 100);
        let readings: Vec<usize> = taken
            .iter()
            .filter_map(|news| match news {
                News::Reading(channel, _) => Some(*channel),
                _ => None,
            })
            .collect();
        assert!(readings.len() > MOST_FLEETING * 8 / 10);
        // Those that are left are the last ones, all of them.
        let expected: Vec<usize> = (10_000 - readings.len()..10_000).collect();
        assert_eq!(readings, expected);
        assert_eq!(queue.len(), 0);
    }

    #[test]
    fn readings_wait_for_nobody_where_nobody_watches() {
        let mut queue = Queue::default();
        queue.push(News::Reading(0, reading(415.0)), false);
        queue.push(News::Lost(3), false);
        assert_eq!(queue.take().unwrap(), [News::Lost(3)]);
    }
}
