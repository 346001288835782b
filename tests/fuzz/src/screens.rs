//! A rehearsal on a pretended terminal: every view, wide and narrow.

use concento::analysis::{NoPitch, Pitch, Reading};
use concento::rehearsal::{Rehearsal, Update};
use concento::sound::{SourceState, StreamFormat};
use concento::tui::{App, Event, Keymap, Options, Palette, Theme};
use concento::units::{Cents, Dbfs, Hertz, SampleRate, Seconds};
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::{Rect, Size};
use ratatui::widgets::Widget;

use super::steers;

/// How it is walked through.
pub(super) struct Walk {
    pub(super) theme: Theme,
    pub(super) keymap: Keymap,
    pub(super) is_practice: bool,
}

impl Default for Walk {
    fn default() -> Self {
        let themes = concento::settings::themes();
        let first = themes.into_iter().next().expect("themes are shipped");
        Self {
            theme: Theme::new(&first.colours, Palette::Rich),
            keymap: Keymap::default(),
            is_practice: false,
        }
    }
}

/// A reading of a channel.
fn reading(at: f64, channel: usize) -> Reading {
    let hertz = [293.3, 370.2, 440.9, 61.4][channel % 4] * (1.0 + 1e-4 * at);
    Reading {
        time: Seconds::new(at),
        available: Seconds::new(at),
        level: Dbfs::new(-20.0),
        clipped: channel == 1,
        pitch: match channel % 5 {
            4 => Err(NoPitch::Noise),
            _ => Ok(Pitch {
                hertz: Hertz::new(hertz).expect("it is a pitch"),
                margin: Cents::new(0.5),
                confidence: 1.0,
                inharmonicity: 0.0,
            }),
        },
        motion: None,
    }
}

/// Sounds, is steered by keys and drawn.
pub(super) fn walk(rehearsal: Rehearsal, walk: &Walk) {
    let options = Options {
        keymap: walk.keymap.clone(),
        ..Options::new(walk.theme)
    };
    let channels = rehearsal.ensemble().channels.len();
    let size = Size::new(80, 24);
    let mut app = App::new(rehearsal, &options, size);
    let format = StreamFormat {
        name: "device".to_owned(),
        rate: SampleRate::new(48_000).expect("within 8 to 192 kHz"),
        channels: channels.max(1),
    };
    app.update(Event::Update(Update::Started(format)));
    app.update(Event::Update(Update::State(SourceState::Running)));
    let mut now = 0.0;
    let mut sound = |app: &mut App, seconds: f64| {
        for _ in 0..(seconds * 10.0) as usize {
            now += 0.1;
            app.update(Event::Tick(Seconds::new(now)));
            for channel in 0..channels.min(8) {
                let reading = reading(now, channel);
                app.update(Event::Update(Update::Reading(channel, reading)));
            }
        }
    };
    sound(&mut app, 2.0);
    draw(&app, size);
    let keys = if walk.is_practice {
        "\t+>\t?"
    } else {
        "c\ndl?\u{1b}ptT+b"
    };
    for key in keys.chars() {
        let code = match key {
            '\n' => KeyCode::Enter,
            '\t' => KeyCode::Tab,
            '\u{1b}' => KeyCode::Esc,
            '>' => KeyCode::Right,
            key => KeyCode::Char(key),
        };
        app.update(Event::Key(KeyEvent::new(code, KeyModifiers::NONE)));
        draw(&app, size);
    }
    sound(&mut app, 1.0);
    draw(&app, Size::new(40, 12));
    app.finish();
}

/// Draws what there is to be seen now.
pub(super) fn draw(app: &App, size: Size) {
    let area = Rect::new(0, 0, size.width, size.height);
    let mut buffer = Buffer::empty(area);
    app.render(area, &mut buffer);
    for cell in buffer.content() {
        let found = cell.symbol().chars().find(|c| steers(*c));
        assert_eq!(found, None, "in {:?}", cell.symbol());
    }
}
