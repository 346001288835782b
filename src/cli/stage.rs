//! Puts a rehearsal on the screen: what `rehearse` and `demo` share.

use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};

use anyhow::Context;

use super::Usage;
use super::guarded::tell;
use super::keeping::Keeping;
use super::log::Log;
use super::planning::Outlook;
use super::take_home::TakeHome;
use crate::analysis::chord::Sought;
use crate::bearings::Sheet;
use crate::drone::Wanted;
use crate::listening::{self, DroneKeys, Inputs, Listener};
use crate::plain::as_argument;
use crate::plan::Settled;
use crate::rehearsal::{Chronicle, Entry, Loudspeaker, Rehearsal, Update};
use crate::session::{self, Recorder, Status};
use crate::sound::Source;
use crate::sound::playback::{OutputChoice, Playback, PlaybackState};
use crate::stand::{Outlet, What};
use crate::tui::{
    self, BearingsShell, Beginning, Door, Ending, Home, Opening, Options, PlanShell, Planning,
    Recording, SetupShell, Shell,
};

/// Refuses before anything is opened where there is no screen to show it on.
pub(super) fn needs_terminal() -> Result<(), Usage> {
    if io::stdout().is_terminal() {
        Ok(())
    } else {
        Err(Usage(tui::Error::NotATerminal.to_string()))
    }
}

/// What the screen needs: ears, somewhere to record what happens, and a loudspeaker where one
/// practises.
struct Hall {
    listener: Listener,
    recorder: Recorder,
    loudspeaker: Option<(Playback, DroneKeys)>,
    outlet: Outlet,
    take_home: TakeHome,
    /// The file of the plan it was prepared with.
    plan: Option<PathBuf>,
}

impl Shell for Hall {
    fn fetch(&mut self) -> Vec<Update> {
        let mut updates = self.listener.fetch();
        if let Some((playback, _)) = &mut self.loudspeaker {
            while let Some(state) = playback.news() {
                updates.push(Update::Loudspeaker(match state {
                    PlaybackState::Opening => Loudspeaker::Opening,
                    PlaybackState::Running { name, .. } => Loudspeaker::Running(name),
                    PlaybackState::Waiting(fault) => Loudspeaker::Waiting(fault.to_string()),
                }));
            }
        }
        self.outlet.hear(&updates);
        updates
    }

    fn play(&mut self, wanted: Wanted, has_headphones: bool) {
        if let Some((_, keys)) = &self.loudspeaker {
            keys.play(wanted, has_headphones);
        }
    }

    fn record(&mut self, entries: Vec<Entry>) -> Option<String> {
        self.recorder.record(&entries);
        self.outlet.keep(&entries);
        self.recorder.take_notice()
    }

    fn recording(&self) -> Recording {
        match self.recorder.status() {
            Status::Nowhere => Recording::Nowhere,
            Status::Into(name) => Recording::Into(name),
            Status::Failing(reason) => Recording::Failing(reason),
        }
    }

    fn seek(&mut self, sought: Vec<Option<Sought>>) {
        self.listener.seek(sought);
    }

    fn show_around(&mut self, rehearsal: &Rehearsal) {
        if let Status::Into(name) = self.recorder.status() {
            self.outlet.name_session(&name);
        }
        self.outlet.close_frame(rehearsal);
    }

    fn write_page(&mut self, chronicle: &Chronicle) -> String {
        self.take_home.write(chronicle)
    }

    fn write_plan(&mut self, settled: &Settled) -> String {
        write_plan(settled, self.plan.as_deref())
    }
}

/// What a plan alone on the screen needs.
struct Desk;

impl PlanShell for Desk {
    fn write_plan(&mut self, settled: &Settled) -> String {
        write_plan(settled, None)
    }
}

/// Writes a plan beside this file, or its first score, under a name that is free; says what came of
/// it.
fn write_plan(settled: &Settled, beside: Option<&Path>) -> String {
    let first = settled.pieces.first().map(|piece| &*piece.score);
    let Some(neighbour) = beside.or(first) else {
        return "there is no score to write a plan beside".to_owned();
    };
    match session::write_plan_beside(neighbour, settled) {
        Ok(path) => {
            let temperament = &settled.temperament.name;
            let notes = match settled.notes.len() {
                0 => "nothing to agree on".to_owned(),
                1 => "1 note to agree on".to_owned(),
                count => format!("{count} notes to agree on"),
            };
            let path = session::shown(&path.display().to_string());
            format!("written: {path} ({temperament}, {notes})")
        }
        Err(error) => error.to_string(),
    }
}

/// Shows a plan alone, without microphone, until it is ended; `told` is the first thing to say.
pub(super) fn show_plan(
    planning: Planning,
    told: Option<String>,
    options: &Options,
) -> anyhow::Result<()> {
    let log = Log::open()?;
    let shown = log.guarded(|quiet| tui::show_plan(planning, told, &mut Desk, options, quiet));
    conclude(shown?)
}

/// A rehearsal to be listened to.
pub(super) struct Performance {
    pub(super) what: What,
    pub(super) rehearsal: Rehearsal,
    pub(super) source: Box<dyn Source>,
    pub(super) inputs: Inputs,
    pub(super) keeping: Keeping,
    pub(super) outlook: Outlook,
}

/// Listens to the source and shows the rehearsal until it is ended; it is recorded as `keeping`
/// says. A plan that can be looked at is one more view.
pub(super) fn play(performance: Performance, options: &Options) -> anyhow::Result<()> {
    let Performance {
        what,
        rehearsal,
        source,
        inputs,
        keeping,
        outlook,
    } = performance;
    let log = Log::open()?;
    let stand = (keeping.path(), keeping.earlier());
    let kept = stand.0.clone();
    let take_home = TakeHome::of_running(kept.as_deref(), keeping.begun());
    let (rehearsal, recorder, told) = keeping.begin(rehearsal);
    let (outlet, unseen) = outlet(what, stand, &rehearsal);
    let listener = Listener::start(source, inputs, rehearsal.wishes())
        .context("no thread can be had to listen")?;
    let mut hall = Hall {
        listener,
        recorder,
        loudspeaker: None,
        outlet,
        take_home,
        plan: outlook.beside,
    };
    let told: Vec<String> = told.into_iter().chain(outlook.told).chain(unseen).collect();
    let told = (!told.is_empty()).then(|| told.join("; "));
    let opening = Opening {
        planning: outlook.planning,
        ..Opening::new(rehearsal, told)
    };
    let shown = log.show(opening, &mut hall, options);
    // Whatever happened, the end of the session goes to the disk before the program ends.
    let at = hall.recorder.whereabouts();
    let lost = hall.recorder.finish();
    conclude_recorded(shown, lost)?;
    tell_kept(at.path().or(kept).as_deref());
    Ok(())
}

/// Lets other screens watch what begins now: kept in this file, going on from these entries.
/// Says why they cannot, if they cannot.
fn outlet(
    what: What,
    (session, earlier): (Option<PathBuf>, Vec<Entry>),
    rehearsal: &Rehearsal,
) -> (Outlet, Option<String>) {
    let offset = rehearsal.chronicle().offset();
    Outlet::open(what, session, &session::date_now(), (earlier, offset))
}

/// What is needed to practise.
pub(super) struct Study {
    pub(super) rehearsal: Rehearsal,
    pub(super) source: Box<dyn Source>,
    /// The channel of the source the player is heard through, from 0.
    pub(super) input: usize,
    pub(super) output: OutputChoice,
    pub(super) keeping: Keeping,
    pub(super) is_caution_due: bool,
}

/// Plays a drone, listens through it and shows the practice until it is ended.
pub(super) fn study(study: Study, options: &Options) -> anyhow::Result<()> {
    let log = Log::open()?;
    let stand = (study.keeping.path(), study.keeping.earlier());
    let kept = stand.0.clone();
    let take_home = TakeHome::of_running(kept.as_deref(), study.keeping.begun());
    let (rehearsal, recorder, told) = study.keeping.begin(study.rehearsal);
    let (outlet, unseen) = outlet(What::Practice, stand, &rehearsal);
    let (player, keys, line) = listening::drone();
    let playback = Playback::open(study.output, Box::new(player));
    let listener = Listener::start_through(study.source, study.input, line, playback.clock())
        .context("no thread can be had to listen")?;
    let mut hall = Hall {
        listener,
        recorder,
        loudspeaker: Some((playback, keys)),
        outlet,
        take_home,
        plan: None,
    };
    let options = options.clone().cautioning(study.is_caution_due);
    let told: Vec<String> = told.into_iter().chain(unseen).collect();
    let told = (!told.is_empty()).then(|| told.join("; "));
    let shown = log.show(Opening::new(rehearsal, told), &mut hall, &options);
    if let Some((playback, _)) = hall.loudspeaker.take() {
        playback.close();
    }
    let at = hall.recorder.whereabouts();
    let lost = hall.recorder.finish();
    conclude_recorded(shown, lost)?;
    tell_kept(at.path().or(kept).as_deref());
    Ok(())
}

/// Says where the rehearsal is kept and what can be done with it, if it is.
fn tell_kept(session: Option<&Path>) {
    let Some(session) = session.filter(|session| session.is_file()) else {
        return;
    };
    let path = session::shown(&session.display().to_string());
    // Nobody may be there to read it any more.
    let _ = writeln!(
        io::stdout(),
        "kept in '{path}'\n  concento replay {argument}    look at it again\n  concento report \
         {argument} -o page.html    the page everyone takes home",
        argument = as_argument(&path)
    );
}

/// Ends as the screen has ended, or fails if anything of the session was lost.
fn conclude_recorded(
    shown: anyhow::Result<Result<Ending, tui::Error>>,
    lost: Option<String>,
) -> anyhow::Result<()> {
    match (shown, lost) {
        (Ok(Ok(Ending::Quit)), Some(lost)) => anyhow::bail!(lost),
        (shown, lost) => {
            // Whatever ended it otherwise says so itself.
            if let Some(lost) = lost {
                tell(&lost);
            }
            conclude(shown?)
        }
    }
}

/// Shows `rehearsal` until it is ended; everything it needs comes from `shell`.
pub(super) fn show(
    rehearsal: Rehearsal,
    told: Option<String>,
    shell: &mut impl Shell,
    options: &Options,
) -> anyhow::Result<()> {
    let opening = Opening::new(rehearsal, told);
    conclude(Log::open()?.show(opening, shell, options)?)
}

/// Shows a rehearsal that runs elsewhere until this screen is ended. Its log is another one:
/// that of the rehearsal goes on.
#[cfg(unix)]
pub(super) fn watch(
    rehearsal: Rehearsal,
    shell: &mut impl Shell,
    options: &Options,
) -> anyhow::Result<()> {
    let opening = Opening::new(rehearsal, None);
    conclude(Log::named("stand.log")?.show(opening, shell, options)?)
}

/// Shows a tuner's sheet step by step until it is ended.
pub(super) fn tune(
    sheet: Sheet,
    can_sound: bool,
    shell: &mut impl BearingsShell,
    options: &Options,
) -> anyhow::Result<()> {
    let shown =
        Log::open()?.guarded(|quiet| tui::run_bearings(sheet, can_sound, shell, options, quiet))?;
    conclude(shown)
}

/// Asks what has to be known of an ensemble until it is told or given up.
pub(super) fn set_up(
    beginning: Beginning,
    shell: &mut impl SetupShell,
    options: &Options,
) -> anyhow::Result<()> {
    let shown = Log::open()?.guarded(|quiet| tui::run_setup(beginning, shell, options, quiet))?;
    conclude(shown)
}

/// Shows the first screen: what is chosen there, none if it is left.
pub(super) fn choose(home: &mut Home, options: &Options) -> anyhow::Result<Option<Door>> {
    let mut chosen = None;
    let shown = Log::open()?.guarded(|quiet| {
        let (ending, door) = tui::show_home(home, options, quiet)?;
        chosen = door;
        Ok(ending)
    })?;
    conclude(shown)?;
    Ok(chosen)
}

/// Ends as the screen has ended.
fn conclude(ending: Result<Ending, tui::Error>) -> anyhow::Result<()> {
    match ending {
        Ok(Ending::Quit) => Ok(()),
        Ok(Ending::Signal(number)) => pass_on(number),
        Err(error @ tui::Error::NotATerminal) => Err(Usage(error.to_string()).into()),
        Err(error) => Err(error.into()),
    }
}

/// Ends by the signal that was caught, so that the shell knows.
#[cfg(unix)]
fn pass_on(number: i32) -> anyhow::Result<()> {
    signal_hook::low_level::emulate_default_handler(number).context("cannot end by signal")
}

#[cfg(not(unix))]
fn pass_on(_number: i32) -> anyhow::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_session_that_was_lost_is_a_failure() {
        let quit = || Ok(Ok(Ending::Quit));
        assert!(conclude_recorded(quit(), None).is_ok());
        let lost = "the end of the session could not be written (the disk is full)";
        let error = conclude_recorded(quit(), Some(lost.to_owned())).unwrap_err();
        assert_eq!(error.to_string(), lost);
        assert!(!error.is::<Usage>());
        let failed = Err(anyhow::anyhow!("the program has failed"));
        let error = conclude_recorded(failed, Some(lost.to_owned())).unwrap_err();
        assert_eq!(error.to_string(), "the program has failed");
    }
}
