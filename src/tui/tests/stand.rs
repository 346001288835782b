//! A rehearsal that is only watched.

use ratatui::layout::Size;

use super::{BAND, Stage, options};
use crate::rehearsal::tests::{reading, rehearsal};
use crate::rehearsal::{Entry, Update, Watched};
use crate::sound::SourceState;
use crate::tui::theme::Palette;
use crate::tui::{App, Effect, Event, Watching};
use crate::units::Seconds;

const WHOSE: &str = "rehearsal in evening.session";

/// A stand that follows a band.
fn stand(width: u16, height: u16) -> Stage {
    let mut stage = Stage::new(&BAND, width, height);
    let band = rehearsal(&BAND);
    let seated = Entry::Seated {
        at: Seconds::default(),
        ensemble: Box::new(band.ensemble().clone()),
    };
    let watching = rehearsal(&["Input 1"]).watching();
    stage.app = App::new(watching, &options(Palette::Rich), Size { width, height });
    for update in [
        Update::Watched(Watched::Anew),
        Update::Recalled(Box::new(seated)),
        Update::State(SourceState::Running),
    ] {
        stage.app.update(Event::Update(update));
    }
    let live = Watching::Live(WHOSE.to_owned());
    stage.app.update(Event::Watching(live));
    stage.hear(1.0, |_| BAND.iter().map(|_| reading(415.0)).collect());
    stage
}

#[test]
fn it_says_whose_it_is_and_shows_what_sounds() {
    for (width, height) in [(80, 24), (60, 20)] {
        let text = stand(width, height).text();
        assert!(
            text.contains("watched only: rehearsal in evening.session"),
            "{text}"
        );
        assert!(text.contains("Trumpet I "), "{text}");
        assert!(text.contains("steady"), "{text}");
    }
}

#[test]
fn keys_that_would_change_it_are_refused_in_words() {
    for key in ["t", "T", "+", "-", "$", "e", "m", "M", "w", "u"] {
        let mut stage = stand(80, 24);
        let before = stage.app.rehearsal().tuning().clone();
        assert_eq!(stage.press(key), None, "{key}");
        let text = stage.text();
        assert!(
            text.contains("only the first screen changes that"),
            "{key}: {text}"
        );
        assert_eq!(stage.app.rehearsal().tuning(), &before);
        assert!(stage.app.take_entries().is_empty());
    }
    // Nor does its footer offer them.
    let mut stage = stand(200, 24);
    let text = stage.text();
    let footer = text.lines().last().unwrap_or_default();
    assert!(
        !footer.contains("temperament") && !footer.contains("hold"),
        "{footer}"
    );
}

#[test]
fn the_rest_is_its_own_affair() {
    let mut stage = stand(80, 24);
    // No way leads through it as through a replay.
    let effect = stage.press("\u{2190}\u{2192}");
    assert!(!matches!(effect, Some(Effect::Travel(_))), "{effect:?}");
    stage.press(" ");
    assert!(stage.text().contains("frozen"));
    stage.press(" ");
    assert!(!stage.text().contains("frozen"));
    stage.press("h");
    assert_eq!(stage.app.rehearsal().n_hidden(), 1);
    stage.press("d");
    assert!(stage.text().contains("watched only"));
    stage.press("q");
}

#[test]
fn its_end_is_told_and_the_last_picture_stays() {
    let mut stage = stand(80, 24);
    let ended = Update::State(SourceState::Ended);
    stage.app.update(Event::Update(ended));
    let over = Watching::Over("the rehearsal has ended; q leaves".to_owned());
    stage.app.update(Event::Watching(over));
    stage.hear(5.0, |_| Vec::new());
    let text = stage.text();
    assert!(text.contains("the rehearsal has ended; q leaves"), "{text}");
    assert!(text.contains("steady"), "{text}");
    assert_eq!(stage.press("q"), Some(Effect::Quit));
}
