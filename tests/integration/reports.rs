//! Reports of invented rehearsals: what stands in them, and that names cannot do harm.

use concento::rehearsal::{Chronicle, Entry, Ledger};
use concento::report::{
    Comparison, Digest, Occasion, rehearsal_page, rehearsals_csv, rehearsals_json,
};
use concento::session::{Place, Recorder};
use concento::units::{Cents, Seconds};

use crate::program::run_in;
use crate::specimen::{BEGUN, STRANGE, USUAL, chronicle, digest, ensemble, note};

/// The text of a page, a line for each block or row, as a reader has it.
pub(crate) fn text(page: &str) -> String {
    let body = page.split_once("<body>").unwrap().1;
    let mut text = String::new();
    let mut pieces = body.split('<');
    text.push_str(pieces.next().unwrap());
    for piece in pieces {
        let (tag, after) = piece.split_once('>').unwrap();
        let ends_line = [
            "/tr", "/p", "/li", "/h1", "/h2", "/h3", "/title", "/desc", "/text",
        ];
        if ends_line.contains(&tag) {
            text.push('\n');
        } else if tag.starts_with("td") || tag.starts_with("th ") {
            text.push_str(" | ");
        }
        text.push_str(after);
    }
    let text = text.replace("&lt;", "<").replace("&gt;", ">");
    let text = text.replace("&quot;", "\"").replace("&amp;", "&");
    let lines = text
        .lines()
        .map(|line| line.split_whitespace().collect::<Vec<_>>().join(" "));
    let lines: Vec<String> = lines.filter(|line| !line.is_empty()).collect();
    lines.join("\n")
}

#[test]
fn the_page_reads_from_top_to_bottom() {
    let chronicle = chronicle(&USUAL);
    let page = rehearsal_page(&[digest(&chronicle)], Some("Violin"));
    insta::assert_snapshot!("page", text(&page));
    assert!(!page.contains("ractice"), "nothing was practised");
}

#[test]
fn names_from_files_can_do_nothing_to_a_page() {
    let chronicle = chronicle(&STRANGE);
    let mut digest = digest(&chronicle);
    digest.occasion.name = "<script>name</script>";
    digest.occasion.begun = "<script>begun</script>";
    digest.occasion.notice = Some("<script>notice</script>".to_owned());
    digest.occasion.ended_well = false;
    let digests = [digest.clone(), digest];
    for player in STRANGE.players {
        let page = rehearsal_page(&digests, Some(player.0));
        for tag in [
            "<script",
            "<img",
            "<iframe",
            "<style>*",
            "<svg onload",
            "<h1>no",
            "<b>bell",
        ] {
            assert!(!page.contains(tag), "{tag}");
        }
        assert!(page.contains("&lt;script&gt;alert(1)&lt;/script&gt;"));
        assert!(page.contains("Strings &amp; sgnirts"));
        assert!(page.contains("Organ &amp;amp; &lt;b&gt;"));
        assert!(!page.contains(['\u{202e}', '\u{2066}']));
        // What is left of attributes is quoted.
        assert!(!page.contains("\"><img") && page.contains("&quot;&gt;&lt;img"));
    }
}

#[test]
fn a_page_fetches_nothing_and_runs_nothing() {
    let chronicle = chronicle(&USUAL);
    let page = rehearsal_page(&[digest(&chronicle)], Some("Trumpet I"));
    assert!(page.starts_with("<!DOCTYPE html>"));
    let (_, policy) = page.split_once("content=\"default-src 'none'; ").unwrap();
    let (policy, _) = policy.split_once('"').unwrap();
    assert!(policy.starts_with("style-src 'sha256-"), "{policy}");
    let rest = "='; img-src data:; base-uri 'none'; form-action 'none'";
    assert!(policy.ends_with(rest), "{policy}");
    // The policy knows the style by its content; a style in an attribute would not hold.
    assert!(!page.contains(" style=") && page.matches("<style").count() == 1);
    for fetching in [
        "http:", "https:", "//", " src=", "url(", "@import", "<script",
    ] {
        assert!(!page.contains(fetching), "{fetching}");
    }
}

#[test]
fn no_word_of_a_page_judges_a_player() {
    let chronicle = chronicle(&USUAL);
    let page = text(&rehearsal_page(&[digest(&chronicle)], Some("Trumpet I"))).to_lowercase();
    for word in [
        "good",
        "bad",
        "wrong",
        "correct",
        "in tune",
        "out of tune",
        "mistake",
        "error",
    ] {
        assert!(!page.contains(word), "{word}");
    }
}

#[test]
fn numbers_of_the_page_are_those_of_the_ledger() {
    let chronicle = chronicle(&USUAL);
    let digest = digest(&chronicle);
    let page = text(&rehearsal_page(
        std::slice::from_ref(&digest),
        Some("Trumpet I"),
    ));
    let whole = |cents: Cents| cents.to_string().replace('\u{b1}', "");
    let spread = |row: concento::rehearsal::Spread| {
        format!("{} \u{b1}{:.0}", whole(row.median), row.spread.get())
    };
    for meeting in digest.ledger.meetings.iter().take(15) {
        let starts = [
            format!("| {} |", meeting.note),
            format!("| {} \u{25c6} |", meeting.note),
        ];
        let mut rows = page
            .lines()
            .filter(|line| starts.iter().any(|s| line.starts_with(s)));
        // What was agreed has a row of its own above.
        let row = rows.rfind(|line| line.ends_with('s')).unwrap();
        for group in &meeting.groups {
            assert!(row.contains(&spread(group.from_tempered)), "{row}");
        }
        if let Some(apart) = meeting.apart {
            assert!(row.contains(&format!("| {:.0} |", apart.get())), "{row}");
        }
    }
    let own = page.split_once("All pitches").unwrap().1;
    let rows: Vec<_> = digest
        .ledger
        .rows
        .iter()
        .filter(|row| row.player == 0)
        .collect();
    assert_eq!(rows.len(), 7);
    for row in rows {
        let start = format!("| {} (", row.label);
        let line = own.lines().find(|line| line.starts_with(&start)).unwrap();
        assert!(line.contains(&spread(row.from_tempered)), "{line}");
        assert!(line.contains(&spread(row.from_partial.unwrap())), "{line}");
    }
}

#[test]
fn what_was_not_measured_is_said_in_a_sentence() {
    let nothing = Chronicle::default();
    let occasion = Occasion {
        name: "empty",
        begun: BEGUN,
        chronicle: &nothing,
        ended_well: false,
        is_running: false,
        notice: Some("the last line is cut off".to_owned()),
    };
    let digest = Digest::of(occasion);
    assert_eq!(digest.ledger, Ledger::default());
    let page = text(&rehearsal_page(&[digest], None));
    insta::assert_snapshot!("empty_page", page);
}

#[test]
fn a_whole_season_is_one_table_of_notes() {
    let chronicle = chronicle(&USUAL);
    let digest = digest(&chronicle);
    let other = Occasion {
        name: "winter, the third",
        begun: "2026-12-02T19:30:00+01:00",
        ..digest.occasion.clone()
    };
    let table = rehearsals_csv([&digest.occasion, &other]);
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let headings = reader.headers().unwrap().clone();
    let place = |heading: &str| headings.iter().position(|h| h == heading).unwrap();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 2 * chronicle.notes().len());
    for (row, note) in rows.iter().zip(chronicle.notes().iter()) {
        let number = |heading: &str| row[place(heading)].parse::<f64>().unwrap();
        assert!((number("hz") - note.hertz.get()).abs() < 1e-5);
        assert!((number("begun_s") - note.begun.get()).abs() < 1e-5);
        assert!((number("tempered_cents") - note.places.tempered.cents.get()).abs() < 1e-5);
        assert!((number("a4_hz") - 415.0).abs() < 1e-9);
        assert_eq!(&row[place("session")], "winter-evening-2");
        assert_eq!(&row[place("player")], USUAL.players[note.channel].0);
    }
    assert_eq!(&rows[chronicle.notes().len()][0], "winter, the third");
    // G sharp was agreed on after half an hour: 38.9 below, as the eleventh partial is.
    let of_trumpet = |row: &&csv::StringRecord| &row[place("label")] == "p11";
    let agreed: Vec<[&str; 2]> = rows
        .iter()
        .take(chronicle.notes().len())
        .filter(of_trumpet)
        .map(|row| [&row[place("decision")], &row[place("decision_cents")]])
        .collect();
    assert_eq!(agreed[..3], [["", ""]; 3]);
    assert!(agreed[3..].iter().all(|[what, cents]| {
        *what == "follow-partial" && (cents.parse::<f64>().unwrap() + 38.9).abs() < 0.1
    }));
}

#[test]
fn json_has_the_same_numbers() {
    let chronicle = chronicle(&USUAL);
    let digest = digest(&chronicle);
    let value: serde_json::Value =
        serde_json::from_str(&rehearsals_json(std::slice::from_ref(&digest))).unwrap();
    assert_eq!(value["version"], 1);
    let rehearsal = &value["rehearsals"][0];
    assert_eq!(
        rehearsal["notes"].as_array().unwrap().len(),
        chronicle.notes().len()
    );
    let pitches = rehearsal["pitches"].as_array().unwrap();
    assert_eq!(pitches.len(), digest.ledger.rows.len());
    for (pitch, row) in pitches.iter().zip(&digest.ledger.rows) {
        let cents = pitch["tempered_cents"].as_f64().unwrap();
        assert!((cents - row.from_tempered.median.get()).abs() < 1e-5);
        assert_eq!(pitch["player"], USUAL.players[row.player].0);
    }
    assert_eq!(rehearsal["agreements"].as_array().unwrap().len(), 4);
    assert_eq!(rehearsal["drift"]["findings"][1]["player"], "Organ");
    assert_eq!(rehearsal["series"][0]["habits"][4]["counts"], false);
    let mut keys: Vec<&str> = rehearsal
        .as_object()
        .unwrap()
        .keys()
        .map(|k| &**k)
        .collect();
    keys.sort_unstable();
    insta::assert_snapshot!(keys.join(" "));
}

/// Three rehearsals, the first of them given last: the eleventh partial came near its place
/// and moved away, the violin's A moved down by 6.
fn season(chronicle: &Chronicle) -> Vec<Digest<'_>> {
    let rehearsal = |name, begun, eleventh: f64, a: f64| {
        let mut digest = digest(chronicle);
        digest.occasion.name = name;
        digest.occasion.begun = begun;
        for row in &mut digest.ledger.rows {
            let off = match (row.player, &*row.label.to_string()) {
                (0, "p11") => eleventh,
                (2, "A4") => a,
                _ => continue,
            };
            let moved = Cents::new(off) - row.from_tempered.median;
            row.from_tempered.median += moved;
            if let Some(from) = &mut row.from_partial {
                from.median += moved;
            }
        }
        digest
    };
    vec![
        rehearsal("second", "2026-11-18T19:30:00+01:00", -39.0, 1.0),
        rehearsal("third", "2026-11-25T19:30:00+01:00", -26.0, -2.0),
        rehearsal("first", "2026-11-11T19:30:00+01:00", -28.0, 4.0),
    ]
}

#[test]
fn rehearsals_are_compared_in_order_of_date() {
    let chronicle = chronicle(&USUAL);
    let digests = season(&chronicle);
    let comparison = Comparison::of(&digests);
    let names: Vec<&str> = comparison
        .digests()
        .iter()
        .map(|d| d.occasion.name)
        .collect();
    assert_eq!(names, ["first", "second", "third"]);
    assert!(comparison.pitches[0].came_back);
    assert_eq!(comparison.pitches[0].label.to_string(), "p11");
    assert!((comparison.pitches[1].change.get() + 6.0).abs() < 1e-9);
    assert!(
        comparison.pitches[2..]
            .iter()
            .all(|p| p.change.get().abs() < 1e-9)
    );
    let table = comparison.to_table();
    let top: Vec<&str> = table.lines().take(9).collect();
    insta::assert_snapshot!("comparison", top.join("\n"));
    let value: serde_json::Value = serde_json::from_str(&comparison.to_json()).unwrap();
    assert_eq!(value["pitches"][0]["came_back"], true);
    assert_eq!(value["pitches"][1]["change_cents"], -6.0);
    assert_eq!(
        value["agreements"][0]["agreed"].as_array().unwrap().len(),
        3
    );
    let page = rehearsal_page(&digests, None);
    assert!(page.contains("<title>3 rehearsals</title>") && page.contains("came back"));
}

#[test]
fn a_partial_under_another_name_is_the_same_place() {
    let chronicle = chronicle(&USUAL);
    let mut digests = season(&chronicle);
    digests.remove(0);
    // In the third rehearsal the eleventh was played as G, 4 cents nearer to its partial.
    let third = &mut digests[0];
    let row = third
        .ledger
        .rows
        .iter_mut()
        .find(|row| row.label.to_string() == "p11");
    let row = row.unwrap();
    row.tempered.note = "G5".parse().unwrap();
    row.from_tempered.median = Cents::new(21.0);
    let first = digests[1]
        .ledger
        .rows
        .iter()
        .find(|row| row.label.to_string() == "p11");
    let before = first.unwrap().from_partial.unwrap().median;
    let row = digests[0]
        .ledger
        .rows
        .iter_mut()
        .find(|row| row.label.to_string() == "p11");
    row.unwrap().from_partial.as_mut().unwrap().median = before - Cents::new(4.0);
    let comparison = Comparison::of(&digests);
    let pitch = comparison
        .pitches
        .iter()
        .find(|pitch| pitch.label.to_string() == "p11");
    let change = pitch.unwrap().change;
    assert!((change.get() + 4.0).abs() < 1e-9, "{change:?}");
}

#[test]
fn one_rehearsal_has_nothing_to_be_compared_with() {
    let folder = tempfile::tempdir().unwrap();
    let (code, out, errors) = run_in(folder.path(), &["compare", "a.session"]);
    assert_eq!((code, out.as_str()), (2, ""));
    assert!(errors.contains("give two sessions or more"), "{errors}");
    let (code, _, errors) = run_in(folder.path(), &["compare", "a.session", "a.session"]);
    assert_eq!(code, 2);
    assert!(errors.contains("'a.session' is given twice"), "{errors}");
    assert_eq!(run_in(folder.path(), &["report"]).0, 2);
    let csv_player = [
        "report",
        "a.session",
        "--format",
        "csv",
        "--player",
        "Organ",
    ];
    assert_eq!(run_in(folder.path(), &csv_player).0, 2);
}

#[test]
fn what_is_no_session_is_told_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("diary.txt"), "dear diary\n").unwrap();
    for words in [
        &["report", "diary.txt", "-o", "page.html"][..],
        &["report", "lost.session", "-o", "page.html"],
        &["compare", "diary.txt", "lost.session"],
    ] {
        let (code, out, errors) = run_in(folder.path(), words);
        assert_eq!((code, out.as_str()), (1, ""), "{errors}");
        assert!(errors.starts_with("concento: "), "{errors}");
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}

/// Keeps an evening of an invented band in a session file.
fn keep(path: &std::path::Path, begun: &str, off: f64) {
    let band = ensemble("Evening", &USUAL.players);
    let tuning = band.tuning.clone();
    let mut entries = vec![Entry::Seated {
        at: Seconds::new(0.0),
        ensemble: Box::new(band),
    }];
    for time in 0..6 {
        let begun = 10.0 + 60.0 * f64::from(time);
        entries.push(Entry::Note(note(&tuning, 0, "G#5", -38.0, begun)));
        entries.push(Entry::Note(note(&tuning, 2, "G#5", off, begun)));
    }
    entries.sort_by(|a, b| a.at().get().total_cmp(&b.at().get()));
    let place = Place::New {
        path: path.to_owned(),
        makes_folder: false,
    };
    let mut recorder = Recorder::start(place, begun);
    recorder.record(&entries);
    assert_eq!(recorder.finish(), None);
}

#[test]
fn sessions_become_pages_data_and_a_comparison() {
    let folder = tempfile::tempdir().unwrap();
    keep(
        &folder.path().join("first.session"),
        "2026-11-11T19:30:00+01:00",
        -8.0,
    );
    keep(
        &folder.path().join("second.session"),
        "2026-11-18T19:30:00+01:00",
        -30.0,
    );
    let both = ["first.session", "second.session"];
    let run = |words: &[&str]| run_in(folder.path(), &[words, &both].concat());

    let to_file = ["report", "--player", "Violin", "-o", "page.html"];
    assert_eq!(run(&to_file), (0, String::new(), String::new()));
    let page = std::fs::read_to_string(folder.path().join("page.html")).unwrap();
    let text = text(&page);
    assert!(
        text.contains("Wednesday 11 November 2026, 19:30 to 19:35 (5 min)."),
        "{text}"
    );
    assert!(
        text.contains("| G♯ | p11 −39 | −38 ±0 | −8 ±0 | 30 | 15 s"),
        "{text}"
    );
    assert!(
        text.contains("| G♯ | p11 −39 | −38 ±0 | −30 ±0 | 8 | 15 s"),
        "{text}"
    );
    // What is there is not written over.
    let (code, _, errors) = run(&to_file);
    assert_eq!(code, 1);
    assert!(errors.contains("'page.html' exists already"), "{errors}");
    assert_eq!(
        std::fs::read_to_string(folder.path().join("page.html")).unwrap(),
        page
    );

    let (code, out, _) = run(&["report", "--player", "Violin"]);
    assert_eq!((code, out == page), (0, true));
    let (code, _, errors) = run(&["report", "--player", "Viola"]);
    assert_eq!(code, 2);
    assert!(
        errors.contains("'Viola' plays in none of these rehearsals: give one of Dulcian"),
        "{errors}"
    );
    let (code, table, _) = run(&["report", "--format", "csv"]);
    assert_eq!((code, table.lines().count()), (0, 25));
    let (code, out, _) = run(&["report", "--format", "json"]);
    assert_eq!(code, 0);
    assert!(out.starts_with("{\n  \"version\": 1,"), "{out}");

    let (code, table, _) = run(&["compare"]);
    assert_eq!(code, 0);
    assert!(
        table.contains("Violin     G♯5    G♯5   +31   −8   +9  −30     −22"),
        "{table}"
    );
}

#[test]
fn a_spreadsheet_runs_no_name() {
    let mut chronicle = Chronicle::default();
    let band = ensemble("Evening", &[("=cmd|' /C calc'!A1", "violin")]);
    let tuning = band.tuning.clone();
    chronicle.take(&Entry::Seated {
        at: Seconds::new(0.0),
        ensemble: Box::new(band),
    });
    chronicle.take(&Entry::Note(note(&tuning, 0, "A4", 3.0, 10.0)));
    let occasion = digest(&chronicle).occasion;
    let table = concento::report::rehearsals_csv([&occasion]);
    let line = table.lines().nth(1).unwrap();
    assert!(line.contains(",'=cmd"), "{line}");
}
