//! How much is done for each second of sound. A machine that cannot keep up does less on purpose,
//! step by step, before sound is lost.

/// From all to as little as is still of use.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Effort {
    /// Everything: a reading every [`HOP`](super::HOP).
    #[default]
    Full,
    /// A reading, and a chord, half as often.
    Half,
    /// A quarter as often.
    Quarter,
    /// The same, and at most four voices are searched for where nobody said which.
    FourVoices,
    /// The same with two voices.
    TwoVoices,
}

impl Effort {
    /// From most to least.
    pub const ALL: [Self; 5] = [
        Self::Full,
        Self::Half,
        Self::Quarter,
        Self::FourVoices,
        Self::TwoVoices,
    ];

    /// Hops from one reading to the next.
    pub fn stride(self) -> u32 {
        match self {
            Self::Full => 1,
            Self::Half => 2,
            Self::Quarter | Self::FourVoices | Self::TwoVoices => 4,
        }
    }

    /// The most voices that are searched for in a sound.
    pub fn voices(self) -> usize {
        match self {
            Self::Full | Self::Half | Self::Quarter => super::chord::MOST_VOICES,
            Self::FourVoices => 4,
            Self::TwoVoices => 2,
        }
    }

    /// The next lesser one; none below the least.
    pub fn less(self) -> Option<Self> {
        Self::ALL.get(self as usize + 1).copied()
    }

    /// The next greater one; none above all.
    pub fn more(self) -> Option<Self> {
        Self::ALL[..self as usize].last().copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_step_down_costs_less_and_is_undone_by_a_step_up() {
        for effort in Effort::ALL {
            let Some(less) = effort.less() else {
                assert_eq!(effort, Effort::TwoVoices);
                continue;
            };
            assert_eq!(less.more(), Some(effort));
            assert!(less > effort);
            let cost = |e: Effort| (e.voices(), std::cmp::Reverse(e.stride()));
            assert!(cost(less) < cost(effort), "{less:?}");
        }
        assert_eq!(Effort::Full.more(), None);
    }
}
