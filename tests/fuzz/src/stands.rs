//! What comes from the other end of a socket, shown; and the same told again.

use concento::rehearsal::{Rehearsal, Update, Watched};
use concento::session;
use concento::stand::{Incoming, News};
use concento::units::Seconds;

use super::harmless;
use super::screens::{self, Walk};

/// What every stand says first; most of what is invented should get past it.
const GREETING: &[u8] = b"(version: 1, stand: \"concento\")\n\
    (what: Rehearsal, session: None, begun: \"2026-03-01T19:30:00+01:00\", process: 7)\n";

/// Lines of a stand.
pub fn stand(bytes: &[u8]) {
    let mut strange = Incoming::default();
    strange.hear(bytes, &mut Vec::new());
    let mut incoming = Incoming::default();
    let mut news = Vec::new();
    incoming.hear(GREETING, &mut news);
    // As it comes over a socket: in pieces that end anywhere.
    for piece in bytes.chunks(97) {
        if !incoming.hear(piece, &mut news) {
            break;
        }
    }
    if let Some(sitting) = incoming.sitting() {
        harmless(&sitting.begun);
        harmless(sitting.session.as_deref().unwrap_or_default());
    }
    news.truncate(400);
    for one in &news {
        again(one);
    }
    // Most of what is invented tells nothing.
    if !news.is_empty() {
        watched(news);
    }
}

/// What is told of a piece of news tells the same again.
fn again(news: &News) {
    let Some(line) = news.to_line("2026-03-01T19:30:00+01:00") else {
        return;
    };
    assert!(
        line.ends_with('\n') && line.matches('\n').count() == 1,
        "{line:?}"
    );
    let mut incoming = Incoming::default();
    let mut heard = Vec::new();
    incoming.hear(GREETING, &mut heard);
    assert!(incoming.hear(line.as_bytes(), &mut heard));
    // Once rounded, it stays as it is.
    let lines: Vec<String> = heard
        .iter()
        .filter_map(|news| news.to_line("2026-03-01T19:30:00+01:00"))
        .collect();
    assert_eq!(lines, [line]);
}

fn watched(news: Vec<News>) {
    let temperaments = session::temperaments(None).expect("they are shipped");
    let mut rehearsal = Rehearsal::new(session::default_ensemble(2), temperaments).watching();
    rehearsal.take(Update::Watched(Watched::Anew));
    let mut now = Seconds::default();
    for one in news {
        if let News::Now(at) = one {
            now = at;
            rehearsal.tick(now);
        }
        if let Some(update) = one.into_update() {
            rehearsal.take(update);
        }
    }
    rehearsal.tick(now + Seconds::new(0.1));
    screens::walk(rehearsal, &Walk::default());
}
