//! The drift view, with lines made by hand.

use ratatui::buffer::Buffer;

use super::*;
use crate::rehearsal::{
    Channel, Drift, DriftLine, DriftPoint, Finding, Habit, Rehearsal, TrueSeries,
};
use crate::tui::drift::{DriftPane, DriftView};
use crate::tui::keymap::Action;
use crate::units::Celsius;

fn line(points: &[(f64, f64)]) -> DriftLine {
    let point = |(at, cents): &(f64, f64)| DriftPoint {
        at: Seconds::new(*at),
        cents: Cents::new(*cents),
        margin: Cents::new(0.6),
        count: 9,
    };
    DriftLine {
        points: points.iter().map(point).collect(),
    }
}

/// A line that rises by `rise` from 20 minutes on, over 40.
fn rising(from: f64, rise: f64) -> DriftLine {
    let points: Vec<(f64, f64)> = (1..=40)
        .map(|n| {
            let minute = f64::from(n);
            let risen = ((minute - 20.0) / 20.0).clamp(0.0, 1.0) * rise;
            (60.0 * minute, from + risen + 0.4 * (minute * 1.7).sin())
        })
        .collect();
    line(&points)
}

fn players() -> Vec<Channel> {
    rehearsal(&BAND).ensemble().channels.clone()
}

fn drift() -> Drift {
    Drift {
        ensemble: rising(0.0, 6.4),
        series: rising(-3.0, 3.0),
        players: vec![
            (2, rising(1.0, 7.0)),
            (3, rising(-1.0, 6.0)),
            (5, rising(0.5, 2.0)),
        ],
        winds: DriftLine::default(),
        expected: vec![
            (Seconds::new(120.0), Cents::new(0.0)),
            (Seconds::new(1300.0), Cents::new(4.0)),
            (Seconds::new(2300.0), Cents::new(10.4)),
        ],
        findings: vec![
            Finding::Everyone {
                cents: Cents::new(6.4),
                since: Seconds::new(1180.0),
            },
            Finding::One {
                player: 5,
                cents: Cents::new(-4.2),
                since: Seconds::new(1450.0),
            },
            Finding::Series {
                cents: Cents::new(-3.3),
                since: Seconds::new(1500.0),
            },
        ],
    }
}

fn series() -> TrueSeries {
    let habit = |number: u8, cents: f64, counts| Habit {
        partial: number.try_into().unwrap(),
        cents: Cents::new(cents),
        spread: Cents::new(3.4),
        count: 7,
        counts,
    };
    TrueSeries {
        player: 0,
        fundamental: Hertz::new(69.92).unwrap(),
        margin: Cents::new(0.8),
        from_planned: Cents::new(14.3),
        count: 41,
        habits: vec![
            habit(4, 1.2, true),
            habit(6, -0.4, true),
            habit(8, 0.3, true),
            habit(9, -2.0, true),
            habit(11, -18.0, false),
            habit(13, 22.0, false),
        ],
    }
}

struct Told {
    drift: Drift,
    series: Option<TrueSeries>,
    keys: Vec<Action>,
}

impl Told {
    fn pane(&self, width: u16, height: u16, palette: Palette) -> Buffer {
        let rehearsal: Rehearsal = rehearsal(&BAND);
        // Keys work on the chronicle's players, which a new rehearsal knows.
        let mut view = DriftView::new();
        for action in &self.keys {
            view.update(*action, &rehearsal);
        }
        let area = Rect::new(0, 0, width, height);
        let mut buffer = Buffer::empty(area);
        let theme = Theme::dark(palette);
        DriftPane {
            view: &view,
            drift: &self.drift,
            players: &players(),
            series: self.series.as_ref(),
            adopt_key: "u",
            temperatures: &[
                (Seconds::new(120.0), Celsius::new(17.5).unwrap()),
                (Seconds::new(2300.0), Celsius::new(21.0).unwrap()),
            ],
            first_tuning: rehearsal.tuning(),
            tuning: rehearsal.tuning(),
            ended: Seconds::new(2460.0),
            theme: &theme,
        }
        .render(area, &mut buffer);
        buffer
    }

    /// The pane of a window of this size: three rows less for header and footer.
    fn text(&self, width: u16, height: u16) -> String {
        text(&self.pane(width, height - 3, Palette::Rich))
    }
}

/// What stands in a buffer, row by row.
pub(super) fn text(buffer: &Buffer) -> String {
    let rows = buffer.content().chunks(usize::from(buffer.area.width));
    let rows = rows.map(|row| {
        let row: String = row.iter().map(ratatui::buffer::Cell::symbol).collect();
        format!("|{row}|\n")
    });
    rows.collect()
}

fn told() -> Told {
    Told {
        drift: drift(),
        series: None,
        keys: vec![Action::SelectNext; 5],
    }
}

#[test]
fn everyone_over_time() {
    insta::assert_snapshot!("drift_80x24", told().text(80, 24));
    insta::assert_snapshot!("drift_120x40", told().text(120, 40));
    insta::assert_snapshot!("drift_200x60", told().text(200, 60));
    insta::assert_snapshot!("drift_60x10", told().text(60, 10));
}

#[test]
fn the_last_ten_minutes_and_a_trumpets_own_series() {
    let told = Told {
        series: Some(series()),
        keys: vec![Action::Stretch, Action::Decimals],
        ..told()
    };
    insta::assert_snapshot!("drift_series_80x24", told.text(80, 24));
    insta::assert_snapshot!("drift_series_60x10", told.text(60, 10));
}

#[test]
fn nothing_yet_says_what_to_do() {
    let told = Told {
        drift: Drift {
            findings: vec![Finding::TooEarly],
            ..Drift::default()
        },
        ..told()
    };
    for (width, height) in [(60, 10), (80, 24), (200, 60)] {
        let text = told.text(width, height).replace("|\n|", " ");
        assert!(
            text.contains("nothing held yet: drift shows once"),
            "{text}"
        );
    }
    let mut stage = Stage::new(&BAND, 80, 24);
    stage.press("d");
    assert!(stage.text().contains("nothing held yet: drift shows once"));
}

#[test]
fn lines_have_their_hue_and_their_mark() {
    for palette in [Palette::Rich, Palette::Plain] {
        let theme = Theme::dark(palette);
        let buffer = told().pane(120, 37, palette);
        let foreground = |style: ratatui::style::Style| style.fg.unwrap_or(Color::Reset);
        let mut seen = [0; 3];
        for cell in buffer.content() {
            match cell.symbol() {
                axis::NATURE => {
                    seen[0] += 1;
                    assert_eq!(cell.fg, foreground(theme.nature));
                }
                axis::TEMPERED => {
                    seen[1] += 1;
                    assert_eq!(cell.fg, foreground(theme.tempered));
                }
                axis::PLAYER => {
                    seen[2] += 1;
                    assert_eq!(cell.fg, foreground(theme.player));
                }
                _ => {}
            }
        }
        // In the numbers, the legend, and several times on the line.
        assert!(seen.iter().all(|count| *count > 3), "{seen:?}");
    }
}

#[test]
fn one_point_is_enough_and_a_flat_line_does_not_fill_the_chart() {
    for points in [&[(30.0, 2.0)][..], &[(30.0, 2.0), (600.0, 2.2)]] {
        let told = Told {
            drift: Drift {
                ensemble: line(points),
                findings: vec![Finding::Still],
                ..Drift::default()
            },
            ..told()
        };
        let text = told.text(80, 24);
        assert!(text.contains("nobody has moved"), "{text}");
        assert!(text.contains("A 415.5 Hz"), "{text}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(60) })]
    #[test]
    fn no_size_and_no_line_breaks_the_pane(
        width in 0_u16..210, height in 0_u16..62, selected in 0_usize..9,
        points in prop::collection::vec((0.0..20_000.0_f64, -900.0..900.0_f64), 0..20),
    ) {
        let drift = Drift {
            ensemble: line(&points),
            series: line(&points[points.len() / 2..]),
            players: vec![(0, line(&points)), (44, line(&points))],
            ..drift()
        };
        let told = Told {
            drift,
            series: Some(series()),
            keys: vec![Action::SelectNext; selected],
        };
        told.pane(width, height, Palette::Rich);
    }
}
