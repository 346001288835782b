//! Tables by kind of chord and by separability.

use std::io::Write;
use std::path::Path;

use super::columns::{Table, number, percent, section};
use super::ear::Mode;
use super::pack::{Chord, Kind, Separability};
use super::score::{Hit, Scored, ScoredVoice};
use super::statistics::{mean, median, quantile};

/// An error that is to be rare, in cents.
pub(crate) const FAR: f64 = 5.0;

/// Prints how well all voices of a pack are heard.
pub(crate) fn print(
    folder: &Path,
    mode: Mode,
    chords: &[Chord],
    scores: &[Scored],
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let silent = scores
        .iter()
        .filter(|scored| scored.voices.iter().all(|voice| voice.hit.is_none()))
        .count();
    let knows = match mode {
        Mode::Expected => "The voices are known, and their cents are wanted.",
        Mode::Free => "Only who plays is known, and where their notes stand.",
    };
    section(
        out,
        &format!("{}, {}", folder.display(), mode.word()),
        &format!(
            "{} chords, {} updates ({silent} of them without any true voice). {knows} A voice \
             counts as shown when it is ok with a confidence of a half or more and within 25 \
             cents of one that sounds, one to one; cents are the absolute errors of those. \
             Hidden voices have no pitch of their own that could be told: they are not to be \
             shown as ok, and far off when they are is the worst (per cent of the hidden). \
             Precision is the share of the voices shown that sound. Wrong notes and splits \
             (doubles of a voice that sounds) are counted by chord.",
            chords.len(),
            scores.len(),
        ),
    )?;
    let mut table = Table::new(&[
        "voices",
        "count",
        "shown %",
        "not hidden %",
        "median c",
        "95 % c",
        "over 5 c %",
        "hidden",
        "ok %",
        "ok, over 5 c %",
        "precision %",
        "wrong",
        "splits",
    ]);
    let whole: Vec<&Scored> = scores.iter().collect();
    row(&mut table, "all", &whole, None);
    for (kind, name) in Kind::ALL {
        let own: Vec<&Scored> = scores.iter().filter(|s| s.kind == kind).collect();
        row(&mut table, name, &own, None);
    }
    for (class, name) in Separability::ALL {
        row(&mut table, name, &whole, Some(class));
    }
    writeln!(out, "{table}")?;
    Ok(())
}

/// The row of these updates, or of their voices of one class.
fn row(table: &mut Table, name: &str, scores: &[&Scored], class: Option<Separability>) {
    let voices: Vec<(f64, &ScoredVoice)> = scores
        .iter()
        .flat_map(|scored| scored.voices.iter().map(|voice| (scored.weight, voice)))
        .filter(|(_, voice)| class.is_none_or(|class| voice.separability == class))
        .collect();
    if voices.is_empty() {
        return;
    }
    let weigh = |is: &dyn Fn(&ScoredVoice) -> bool| -> f64 {
        let own = voices.iter().filter(|(_, voice)| is(voice));
        // Floats sum to minus zero where there are none.
        own.fold(0.0, |sum, (weight, _)| sum + weight)
    };
    let hidden = |voice: &ScoredVoice| voice.separability == Separability::Hidden;
    let far = |voice: &ScoredVoice| voice.hit.is_some_and(|hit| hit.cents > FAR);
    let share = |part: f64, of: f64| (of > 0.0).then(|| part / of);
    let hits: Vec<Hit> = voices.iter().filter_map(|(_, voice)| voice.hit).collect();
    let cents = || hits.iter().map(|hit| hit.cents);
    let shown = weigh(&|voice| voice.hit.is_some());
    let n_hidden = weigh(&hidden);
    let strays = |is_split: bool| -> f64 {
        let count = |scored: &&Scored| {
            let own = scored.strays.iter().filter(|s| s.is_split == is_split);
            scored.weight * own.count() as f64
        };
        scores.iter().map(count).fold(0.0, |a, b| a + b)
    };
    let (wrong, splits) = (strays(false), strays(true));
    let mut cells = vec![
        name.to_owned(),
        format!("{:.0}", weigh(&|_| true)),
        percent(share(shown, weigh(&|_| true))),
        percent(share(
            weigh(&|voice| voice.hit.is_some() && !hidden(voice)),
            weigh(&|voice| !hidden(voice)),
        )),
        number(median(cents()), 2),
        number(quantile(cents(), 0.95), 2),
        percent(mean(cents().map(|cents| f64::from(u8::from(cents > FAR))))),
        format!("{n_hidden:.0}"),
        percent(share(
            weigh(&|voice| hidden(voice) && voice.hit.is_some()),
            n_hidden,
        )),
        percent(share(weigh(&|voice| hidden(voice) && far(voice)), n_hidden)),
    ];
    // Strays belong to no class of voices, so there is no precision by class.
    if class.is_none() {
        cells.extend([
            percent(share(shown, shown + wrong + splits)),
            format!("{wrong:.1}"),
            format!("{splits:.1}"),
        ]);
    }
    table.row(cells);
}
