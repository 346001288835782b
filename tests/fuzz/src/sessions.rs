//! Session files: read in both ways, told in every form, and seen again.

use std::path::Path;

use concento::cli::replayed;
use concento::report::{
    Comparison, Digest, Occasion, SessionListReport, SessionSummary, rehearsal_page,
    rehearsals_csv, rehearsals_json,
};
use concento::session::{Session, Wanted, read_session};
use concento::units::Seconds;

use super::screens::{self, Walk};
use super::{harmless, harmless_csv, harmless_page};

/// The first line, which a file has to have; most of what is invented should get past it.
const HEAD: &[u8] = b"(version: 1, journal: \"concento\")\n";

/// A session.
pub fn session(bytes: &[u8]) {
    let path = Path::new("/nonexistent/evening.session");
    let _ = read_session(bytes, path, Wanted::Everything);
    let whole = if bytes.starts_with(b"(version") {
        bytes.to_vec()
    } else {
        [HEAD, bytes].concat()
    };
    let surveyed = read_session(&*whole, path, Wanted::WithoutHeard);
    if let Ok(session) = &surveyed {
        listed(session);
    }
    match read_session(&*whole, path, Wanted::Everything) {
        Ok(session) => told(&session),
        Err(error) => harmless(&error.to_string()),
    }
}

fn listed(session: &Session) {
    let summary = SessionSummary::new(
        session.name.clone(),
        session.begun.clone(),
        session.length(),
        &session.chronicle,
        session.ended_well,
    );
    let report = SessionListReport {
        folder: "season".to_owned(),
        sessions: vec![summary],
    };
    harmless(&report.to_table());
    harmless(&report.to_json());
}

fn told(session: &Session) {
    harmless(&session.recovered.notice().unwrap_or_default());
    let occasion = Occasion {
        name: &session.name,
        begun: &session.begun,
        chronicle: &session.chronicle,
        ended_well: session.ended_well,
        is_running: false,
        notice: session.recovered.notice(),
    };
    let digests = [Digest::of(occasion.clone()), Digest::of(occasion.clone())];
    let first = occasion.chronicle.players().first();
    harmless_page(&rehearsal_page(
        &digests[..1],
        first.map(|player| &*player.name),
    ));
    harmless_page(&rehearsal_page(&digests, None));
    harmless(&rehearsals_json(&digests));
    harmless_csv(&rehearsals_csv([&occasion]));
    let comparison = Comparison::of(&digests);
    harmless(&comparison.to_table());
    harmless(&comparison.to_json());
    let length = session.length();
    for at in [Seconds::new(length.get() / 2.0), length] {
        let rehearsal = replayed(session.clone(), at).expect("temperaments are shipped");
        if let Some(rehearsal) = rehearsal {
            screens::walk(rehearsal, &Walk::default());
        }
    }
}
