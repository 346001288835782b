//! Where a rehearsal is recorded, and what it goes on from.

use std::path::{Path, PathBuf};

use crate::plan::Settled;
use crate::private::{self, FolderError};
use crate::rehearsal::{Decision, Entry, HeldChord, Moment, Rehearsal, SHELF};
use crate::session::{self, Place, Recorder, Session};
use crate::tuning::{Temperament, Tuning};
use crate::units::Seconds;

/// What was decided on the command line: where to record, and what came before.
#[derive(Debug)]
pub(super) struct Keeping {
    place: Place,
    /// What was settled beforehand, and holds where nothing else was agreed.
    plan: Option<Plan>,
    /// An earlier rehearsal whose agreements hold from the start.
    agreed: Option<Session>,
}

/// A plan by its name.
#[derive(Debug)]
pub(super) struct Plan {
    pub(super) path: PathBuf,
    name: String,
    pub(super) settled: Settled,
}

impl Plan {
    /// Reads the plan at `path`.
    pub(super) fn load(path: &Path) -> anyhow::Result<Self> {
        let name = path.file_stem().unwrap_or(path.as_os_str());
        Ok(Self {
            path: path.to_owned(),
            name: session::shown(&name.to_string_lossy()),
            settled: session::load_plan(path)?,
        })
    }

    /// The temperaments of a rehearsal with the plan's own among them: in the place of one of
    /// that name, as the plan is what was meant.
    pub(super) fn among(&self, mut temperaments: Vec<Temperament>) -> Vec<Temperament> {
        let own = &self.settled.temperament;
        match temperaments.iter_mut().find(|other| other.name == own.name) {
            Some(namesake) => *namesake = own.clone(),
            None => temperaments.insert(0, own.clone()),
        }
        temperaments
    }
}

impl Keeping {
    /// Records nothing.
    pub(super) fn nowhere() -> Self {
        Self {
            place: Place::Nowhere,
            plan: None,
            agreed: None,
        }
    }

    /// Records into the file at `path`: one that exists is gone on with, another is made when
    /// there is something to keep.
    pub(super) fn given(path: &Path) -> anyhow::Result<Self> {
        if path.symlink_metadata().is_ok() {
            return Ok(Self {
                place: Place::GoingOn(Box::new(session::go_on(path)?)),
                plan: None,
                agreed: None,
            });
        }
        let folder = path
            .parent()
            .filter(|folder| !folder.as_os_str().is_empty());
        let is_there = folder.is_none_or(Path::is_dir);
        anyhow::ensure!(
            is_there && path.file_name().is_some(),
            "'{}' cannot be made: name a file in a folder that exists",
            path.display()
        );
        Ok(Self {
            place: Place::New {
                path: path.to_owned(),
                makes_folder: false,
            },
            plan: None,
            agreed: None,
        })
    }

    /// Records into the platform's folder for data, in a file named after the date and time.
    ///
    /// # Errors
    ///
    /// That folder is there, and not the user's alone.
    pub(super) fn by_date() -> Result<Self, FolderError> {
        let folder = sessions_folder();
        // The folder above is the program's own as well.
        for folder in folder.iter().flat_map(|folder| folder.ancestors().take(2)) {
            private::check_folder(folder)?;
        }
        let place = folder.map(|folder| Place::New {
            path: folder.join(session::file_name_now()),
            makes_folder: true,
        });
        Ok(Self {
            place: place.unwrap_or(Place::Nowhere),
            plan: None,
            agreed: None,
        })
    }

    /// The same, with what was agreed in the session at `path`.
    pub(super) fn with_agreed(self, path: Option<&Path>) -> anyhow::Result<Self> {
        Ok(Self {
            agreed: path.map(session::survey_session).transpose()?,
            ..self
        })
    }

    /// The same, beginning with what a plan settled. The rehearsal is in its tuning already.
    pub(super) fn with_plan(self, plan: Option<Plan>) -> Self {
        Self { plan, ..self }
    }

    /// The file it is recorded into, if it is: the one asked for, as another name may be found
    /// when it is made.
    pub(super) fn path(&self) -> Option<PathBuf> {
        match &self.place {
            Place::Nowhere => None,
            Place::New { path, .. } => Some(path.clone()),
            Place::GoingOn(going_on) => Some(going_on.session.path.clone()),
        }
    }

    /// When it began, in whatever sitting: local date and time (RFC 3339).
    pub(super) fn begun(&self) -> String {
        match &self.place {
            Place::GoingOn(going_on) if !going_on.session.begun.is_empty() => {
                going_on.session.begun.clone()
            }
            Place::Nowhere | Place::New { .. } | Place::GoingOn(_) => session::date_now(),
        }
    }

    /// What was kept in earlier sittings: of the chords those that can still be recalled, each
    /// with its date.
    pub(super) fn earlier(&self) -> Vec<Entry> {
        let Place::GoingOn(going_on) = &self.place else {
            return Vec::new();
        };
        let session = &going_on.session;
        let is_held = |entry: &&Entry| matches!(entry, Entry::Held { .. });
        let others = session.entries.iter().filter(|entry| !is_held(entry));
        let held = held_before(session).into_iter().map(|chord| Entry::Held {
            at: Seconds::default(),
            chord: Box::new(chord),
        });
        others.cloned().chain(held).collect()
    }

    /// Lets `rehearsal` go on from what came before, and begins to record it. Says what must
    /// be told of that, if anything.
    pub(super) fn begin(self, mut rehearsal: Rehearsal) -> (Rehearsal, Recorder, Option<String>) {
        let now = session::date_now();
        let mut told = Vec::new();
        if let Place::GoingOn(going_on) = &self.place {
            let session = &going_on.session;
            let mut chronicle = session.chronicle.clone();
            chronicle.sit_down(session.resumed(&now));
            rehearsal = rehearsal.going_on(chronicle);
            for chord in held_before(session) {
                rehearsal.shelve(chord);
            }
            told.extend(session.recovered.notice());
            told.extend(take_up_tuning(&mut rehearsal, session));
        }
        let agreements = self
            .agreed
            .as_ref()
            .map(|agreed| agreed.chronicle.carry_over(Seconds::default()));
        if let Some(plan) = &self.plan {
            let elsewhere = agreements.as_deref().unwrap_or_default();
            told.push(plan.begin(&mut rehearsal, elsewhere));
        }
        if let Some((agreed, decisions)) = self.agreed.as_ref().zip(agreements) {
            told.push(match decisions.len() {
                0 => format!("nothing was agreed in '{}'", agreed.name),
                1 => format!("1 agreement taken over from '{}'", agreed.name),
                count => format!("{count} agreements taken over from '{}'", agreed.name),
            });
            rehearsal.take_over(decisions);
        }
        let told = (!told.is_empty()).then(|| told.join("; "));
        let rescue = rescue_for(&self.place);
        let recorder = Recorder::start(self.place, &now).or_rescued_into(rescue);
        (rehearsal, recorder, told)
    }
}

impl Plan {
    /// Agrees on what the plan settled, but for the notes that something was decided on in the
    /// session that is gone on with, or that are `agreed` on elsewhere; says what came of it.
    fn begin(&self, rehearsal: &mut Rehearsal, agreed: &[Decision]) -> String {
        let key = rehearsal.tuning().series().key();
        let decisions = self.settled.decisions(key);
        let n_settled = decisions.len();
        let is_open = |decision: &Decision| {
            let mut before = rehearsal.chronicle().decisions().iter().chain(agreed);
            !before.any(|other| other.note == decision.note)
        };
        let open: Vec<Decision> = decisions.into_iter().filter(is_open).collect();
        let n_open = open.len();
        rehearsal.take_over(open);
        let settled = &self.settled;
        let a4 = settled.standard.a4().get();
        let temperament = &settled.temperament.name;
        let mut words = vec![format!("plan '{}': {temperament} at A {a4}", self.name)];
        words.push(match n_open {
            0 => "nothing agreed".to_owned(),
            1 => "1 note agreed".to_owned(),
            count => format!("{count} notes agreed"),
        });
        if n_open < n_settled {
            words.push(format!("{} decided since", n_settled - n_open));
        }
        let elsewhere = settled.n_elsewhere(key);
        if elsewhere > 0 {
            words.push(format!("{elsewhere} for trumpets not in {key}"));
        }
        words.join(", ")
    }
}

/// Goes on in the tuning the session was left in, where the rehearsal begins in one that it
/// had begun in before; a new one is meant. Says what it is where it is another one.
fn take_up_tuning(rehearsal: &mut Rehearsal, session: &Session) -> Option<String> {
    let (_, left) = session.chronicle.tunings().last()?;
    let start = rehearsal.tuning();
    if is_same(start, left) {
        return None;
    }
    let in_words = |tuning: &Tuning, other: &Tuning| {
        let a4 = tuning.standard().a4().get();
        let series = if is_near(a4, other.standard().a4().get()) && is_in_one(tuning, other) {
            let fundamental = tuning.series().fundamental().get();
            format!(", trumpets on {fundamental:.2} Hz")
        } else {
            String::new()
        };
        let temperament = &tuning.scale().temperament().name;
        format!("{temperament} at A {a4}{series}")
    };
    let mut sittings = session.chronicle.sittings().iter();
    if !sittings.any(|sitting| is_same(&sitting.ensemble.tuning, start)) {
        let words = in_words(start, left);
        return Some(format!("now in {words}, which the session was not left in"));
    }
    let words = in_words(left, start);
    rehearsal.resume(left.clone());
    Some(format!("going on in {words}, as it was left"))
}

/// Whether both measure alike.
fn is_same(one: &Tuning, other: &Tuning) -> bool {
    let fundamental = |tuning: &Tuning| tuning.series().fundamental().get();
    let a4 = |tuning: &Tuning| tuning.standard().a4().get();
    is_near(a4(one), a4(other))
        && one.standard().kept() == other.standard().kept()
        && is_in_one(one, other)
        && one.series().key() == other.series().key()
        && is_near(fundamental(one), fundamental(other))
}

/// Whether both are in the same temperament over the same accidentals.
fn is_in_one(one: &Tuning, other: &Tuning) -> bool {
    one.scale().temperament().name == other.scale().temperament().name
        && one.scale().chain() == other.scale().chain()
}

/// Frequencies that no line of a journal tells apart.
fn is_near(one_hz: f64, other_hz: f64) -> bool {
    (one_hz - other_hz).abs() < 1e-4
}

/// Where a session goes that cannot be written where it should be: into the folder that sessions
/// are kept in, under its own name.
fn rescue_for(place: &Place) -> Option<PathBuf> {
    let name = match place {
        Place::Nowhere => return None,
        Place::New { path, .. } => path.file_name()?,
        Place::GoingOn(going_on) => going_on.session.path.file_name()?,
    };
    Some(sessions_folder()?.join(name))
}

/// The folder that sessions are kept in; none where the platform has none.
pub(super) fn sessions_folder() -> Option<PathBuf> {
    let folders = directories::ProjectDirs::from("", "", "concento")?;
    Some(folders.data_dir().join("sessions"))
}

/// The last chords that were held before, with the date of each.
fn held_before(session: &Session) -> Vec<HeldChord> {
    let chords = session
        .entries
        .iter()
        .rev()
        .filter_map(|entry| match entry {
            Entry::Held { at, chord } => {
                let moment = match &chord.moment {
                    Moment::Now(_) => Moment::Earlier(session.date(*at)),
                    earlier @ Moment::Earlier(_) => earlier.clone(),
                };
                Some(HeldChord {
                    moment,
                    ..(**chord).clone()
                })
            }
            _ => None,
        });
    let mut chords: Vec<HeldChord> = chords.take(SHELF).collect();
    chords.reverse();
    chords
}

#[cfg(test)]
pub(super) mod tests;
