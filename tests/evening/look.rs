use concento::listening::{Inputs, hear_out};
use concento::rehearsal::*;
use concento::sound::Pace;
use concento::sound::scene::SceneSource;
use concento::units::*;
use std::convert::Infallible;
use std::sync::Arc;
use std::time::Instant;
fn main() {
    let scene = Arc::new(
        concento::session::demo_scene(Some("twenty-minutes"))
            .unwrap()
            .load()
            .unwrap(),
    );
    let rate: u32 = std::env::args()
        .nth(1)
        .map_or(24000, |s| s.parse().unwrap());
    let ensemble = Ensemble {
        title: scene.title().into(),
        tuning: scene.tuning().clone(),
        channels: scene
            .players()
            .iter()
            .enumerate()
            .map(|(i, p)| Channel {
                name: p.name().into(),
                instrument: concento::session::instrument(p.instrument())
                    .unwrap()
                    .clone(),
                input: i + 1,
                visible: true,
                chain: None,
                players: 1,
            })
            .collect(),
    };
    let rehearsal = Rehearsal::new(ensemble, concento::session::temperaments(None).unwrap());
    let source = SceneSource::new(
        Arc::clone(&scene),
        SampleRate::new(rate).unwrap(),
        Pace::Fast,
    );
    let t = Instant::now();
    let mut n = 0;
    let r = hear_out(
        rehearsal,
        Box::new(source),
        Inputs::Every,
        |_, _| {},
        |e| {
            n += e.len();
            Ok::<_, Infallible>(())
        },
    )
    .unwrap();
    println!(
        "heard in {:?}, {n} entries, {} notes",
        t.elapsed(),
        r.chronicle().notes().len()
    );
    // notes against truth
    let mut errs: Vec<f64> = Vec::new();
    let mut per: Vec<Vec<f64>> = vec![Vec::new(); 6];
    let mut lost = 0;
    for note in r.chronicle().notes() {
        let mut sum = 0.0;
        let mut k = 0;
        let (a, b) = (note.begun.get() + 0.25, note.ended.get() - 0.1);
        for i in 0..200 {
            let t = a + (b - a) * f64::from(i) / 199.0;
            if let Some(h) = scene.truth(note.channel, Seconds::new(t - 0.05)) {
                sum += h.above(note.hertz).get();
                k += 1;
            }
        }
        if k < 120 {
            lost += 1;
            continue;
        }
        let e = -sum / f64::from(k);
        errs.push(e.abs());
        per[note.channel].push(e);
        if e.abs() > 3.0 {
            println!("{note:?} err {e}");
        }
    }
    errs.sort_by(f64::total_cmp);
    println!(
        "{} notes with truth, {lost} without; |err| median {:.3} p95 {:.3} max {:.3}",
        errs.len(),
        errs[errs.len() / 2],
        errs[errs.len() * 95 / 100],
        errs.last().unwrap()
    );
    for (i, p) in per.iter_mut().enumerate() {
        p.sort_by(f64::total_cmp);
        println!("{i}: {} bias {:.3}", p.len(), p[p.len() / 2]);
    }
    let t = Instant::now();
    let l = Ledger::of(r.chronicle());
    println!("ledger {:?}", t.elapsed());
    for m in &l.meetings {
        println!(
            "{} gap {:?} p{:?} apart {:?} together {:.0}",
            m.note,
            m.gap.map(|c| c.get()),
            m.partial,
            m.apart.map(|c| c.get()),
            m.together.get()
        );
        for g in &m.groups {
            println!(
                "   {:?} {:+.1} ±{:.1} n{} from partial {:?}",
                g.family,
                g.from_tempered.median.get(),
                g.from_tempered.spread.get(),
                g.count,
                g.from_partial.map(|s| s.median.get())
            );
        }
    }
    let t = Instant::now();
    let d = Drift::of(r.chronicle());
    println!("drift {:?}", t.elapsed());
    println!("{:?}", d.findings);
    for (name, line) in [("ens", &d.ensemble), ("ser", &d.series)] {
        for p in line.points.iter().step_by(4) {
            println!(
                "{name} {:.1} min {:+.2} ±{:.2} n{}",
                p.at.get() / 60.0,
                p.cents.get(),
                p.margin.get(),
                p.count
            );
        }
    }
    for (i, line) in &d.players {
        println!("player {i} moved {:?}", line.moved());
    }
    for i in 0..2 {
        if let Some(s) = TrueSeries::of(r.chronicle(), i) {
            println!(
                "{i}: {:+.2} ±{:.2} n{}",
                s.from_planned.get(),
                s.margin.get(),
                s.count
            );
            for h in s.habits {
                println!(
                    "   p{} {:+.2} ±{:.2} n{} {}",
                    h.partial.number(),
                    h.cents.get(),
                    h.spread.get(),
                    h.count,
                    h.counts
                );
            }
        }
    }
}
