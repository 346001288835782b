//! The ledger view, with meetings made by hand.

use ratatui::buffer::Buffer;

use super::drift::text;
use super::*;
use crate::rehearsal::{
    Channel, Decision, Family, GroupRow, Ledger, LedgerRow, Meeting, Resolution, Spread, VoiceLabel,
};
use crate::tui::keymap::Action;
use crate::tui::ledger::{LedgerPane, LedgerView};
use crate::units::NoteName;

fn spread(median: f64, spread: f64) -> Spread {
    Spread {
        median: Cents::new(median),
        spread: Cents::new(spread),
    }
}

fn group(family: Family, median: f64, from_partial: Option<f64>) -> GroupRow {
    GroupRow {
        family,
        from_tempered: spread(median, 3.2),
        from_partial: from_partial.map(|cents| spread(cents, 3.0)),
        count: 12,
        sounding: Seconds::new(75.0),
    }
}

fn row(player: usize, hertz: Hertz, count: usize) -> LedgerRow {
    let places = crate::rehearsal::tests::sixth_comma().place(hertz);
    let partial = places.partial.filter(|_| player < 2);
    LedgerRow {
        player,
        label: match partial {
            Some(place) => VoiceLabel::Partial(place.partial),
            None => VoiceLabel::Note(places.tempered.note),
        },
        tempered: places.tempered,
        partial: places.partial,
        from_tempered: spread(places.tempered.cents.get(), 2.6),
        from_partial: places.partial.map(|place| spread(place.cents.get(), 2.6)),
        count,
        sounding: Seconds::new(9.0 * count as f64),
        trend_per_minute: (count > 4).then(|| Cents::new(-0.4)),
        last: Seconds::new(1200.0),
    }
}

fn name(text: &str) -> NoteName {
    text.parse().unwrap()
}

fn meeting(note: &str, partial: u8, gap: f64, groups: Vec<GroupRow>, apart: f64) -> Meeting {
    Meeting {
        note: name(note),
        gap: (partial > 0).then(|| Cents::new(gap)),
        partial: (partial > 0).then_some(partial),
        groups,
        apart: (apart > 0.0).then(|| Cents::new(apart)),
        together: Seconds::new(apart * 3.0),
        decision: None,
        rows: Vec::new(),
    }
}

fn decided(resolution: Option<Resolution>, note: &str, remark: &str) -> Decision {
    Decision {
        at: Seconds::new(700.0),
        note: name(note),
        resolution,
        remark: remark.to_owned(),
    }
}

pub(super) fn ledger() -> Ledger {
    use Family::{Keyboard, Strings, Trumpets, Voices, Winds};
    let rows = vec![
        row(0, hz(11).raised(Cents::new(-2.0)), 12),
        row(1, hz(11).raised(Cents::new(3.0)), 1),
        row(2, note("G#5"), 9),
        row(4, note("G#4").raised(Cents::new(-6.0)), 4),
    ];
    let all = |trumpets: f64, strings: f64, winds: f64| {
        vec![
            group(Trumpets, trumpets, Some(-1.0)),
            group(Strings, strings, None),
            group(Winds, winds, None),
        ]
    };
    let mut g_sharp = meeting("G#", 11, -39.0, all(-38.4, -1.6, 4.0), 42.0);
    g_sharp.rows = vec![0, 1, 2, 3];
    g_sharp.decision = Some(decided(
        Some(Resolution::FollowTemperament),
        "G#",
        "bars 12\u{2013}14",
    ));
    let mut b = meeting("B", 13, 55.0, vec![group(Trumpets, 52.0, Some(-3.0))], 0.0);
    b.decision = Some(decided(None, "B", ""));
    let mut f_sharp = meeting("F#", 10, -7.0, all(-9.0, -2.0, 1.0), 10.0);
    let meet = Resolution::MeetBetween(Cents::new(-3.0));
    f_sharp.decision = Some(decided(Some(meet), "F#", ""));
    f_sharp.groups.push(group(Keyboard, 0.0, None));
    let mut a = meeting("A", 12, 4.0, all(3.0, 1.0, -2.0), 5.0);
    a.groups.insert(3, group(Voices, -1.0, None));
    let e_flat = meeting("Eb", 0, 0.0, vec![group(Winds, 3.0, None)], 0.0);
    let d = meeting("D", 8, 0.0, all(1.0, 0.0, 0.4), 2.0);
    Ledger {
        rows,
        meetings: vec![g_sharp, f_sharp, a, d, b, e_flat],
    }
}

fn players() -> Vec<Channel> {
    rehearsal(&BAND).ensemble().channels.clone()
}

fn size(width: u16, height: u16) -> Size {
    Size { width, height }
}

fn view(keys: &[Action], ledger: &Ledger) -> LedgerView {
    let mut view = LedgerView::new();
    for action in keys {
        view.update(*action, ledger, size(80, 24));
    }
    view
}

fn pane(keys: &[Action], (width, height): (u16, u16), palette: Palette) -> Buffer {
    let ledger = ledger();
    let area = Rect::new(0, 0, width, height);
    let mut buffer = Buffer::empty(area);
    LedgerPane {
        view: &view(keys, &ledger),
        ledger: &ledger,
        players: &players(),
        everyone: Some(Cents::new(3.2)),
        theme: &Theme::dark(palette),
    }
    .render(area, &mut buffer);
    buffer
}

/// The pane of a window of this size: three rows less for header and footer.
fn shown(keys: &[Action], width: u16, height: u16) -> String {
    text(&pane(keys, (width, height - 3), Palette::Rich))
}

#[test]
fn note_by_note() {
    let open = [Action::Open];
    insta::assert_snapshot!("ledger_80x24", shown(&[], 80, 24));
    insta::assert_snapshot!("ledger_120x40", shown(&open, 120, 40));
    insta::assert_snapshot!("ledger_200x60", shown(&open, 200, 60));
    insta::assert_snapshot!("ledger_60x10", shown(&open, 60, 10));
    let tenths = [Action::Decimals, Action::Sort, Action::SelectNext];
    insta::assert_snapshot!("ledger_tenths_80x24", shown(&tenths, 80, 24));
}

#[test]
fn rows_are_sorted_four_ways() {
    let ledger = ledger();
    let first = |n: usize| {
        let keys = vec![Action::Sort; n];
        let view = view(&keys, &ledger);
        view.selected(&ledger).unwrap().note.ascii()
    };
    assert_eq!(
        [first(0), first(1), first(2), first(3), first(4)],
        ["G#", "Eb", "G#", "G#", "G#"]
    );
    let decided = shown(&[Action::Sort, Action::Sort, Action::Sort], 120, 40);
    let row = |note: &str| {
        decided
            .lines()
            .position(|line| line.get(2..).is_some_and(|l| l.starts_with(note)))
    };
    assert!(
        row("F\u{266f}") < row("B") && row("G\u{266f}") < row("A"),
        "{decided}"
    );
}

#[test]
fn the_selection_stays_on_its_note_when_rows_move() {
    let mut ledger = ledger();
    let mut view = view(&[Action::SelectNext], &ledger);
    assert_eq!(view.selected(&ledger).unwrap().note, name("F#"));
    ledger.meetings.reverse();
    assert_eq!(view.selected(&ledger).unwrap().note, name("F#"));
    view.update(Action::PageDown, &ledger, size(80, 24));
    assert_eq!(view.selected(&ledger).unwrap().note, name("G#"));
    view.update(Action::PageUp, &ledger, size(80, 24));
    assert_eq!(view.selected(&ledger).unwrap().note, name("Eb"));
    assert_eq!(view.selected(&Ledger::default()), None);
}

#[test]
fn places_keep_their_hues_and_what_is_agreed_has_none() {
    let theme = Theme::dark(Palette::Rich);
    let buffer = pane(&[Action::Open], (120, 37), Palette::Rich);
    let (nature, _) = cell_of(&buffer, axis::NATURE);
    assert_eq!(Some(nature), theme.nature.fg);
    let (agreed, modifier) = cell_of(&buffer, axis::AGREED);
    let plain = theme.player.fg.unwrap();
    assert_eq!((agreed, modifier), (plain, Modifier::BOLD));
    for palette in [Palette::Plain, Palette::Sixteen] {
        let buffer = pane(&[Action::Open], (80, 21), palette);
        for verdict in [Color::Red, Color::Green, Color::LightRed, Color::LightGreen] {
            assert!(buffer.content().iter().all(|cell| cell.fg != verdict));
        }
    }
}

#[test]
fn an_empty_ledger_says_what_to_do() {
    let mut stage = Stage::new(&BAND, 80, 24);
    stage.press("lv^$s><.");
    assert!(
        stage
            .text()
            .contains("nothing held yet: a note stands here")
    );
    stage.press("e");
    assert!(
        stage
            .text()
            .contains("no note is in the ledger yet to agree on")
    );
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(60) })]
    #[test]
    fn no_size_breaks_the_pane(
        width in 0_u16..210, height in 0_u16..62,
        keys in prop::collection::vec(prop::sample::select(vec![
            Action::Open, Action::Sort, Action::SelectNext, Action::PageDown, Action::Decimals,
        ]), 0..9),
    ) {
        pane(&keys, (width, height), Palette::Rich);
    }
}
