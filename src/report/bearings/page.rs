//! The tuner's sheet as one page: to lie on the instrument, or on a telephone.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::{BearingsReport, StepRow};
use crate::report::layout::level;
use crate::report::page::policy;
use crate::report::wording::plain;

/// How the page looks, and what its policy knows that by.
const STYLE: &str = include_str!("page.css");
const STYLE_HASH: &str = "53KgHuWftwY2FqjDRHbtctI0xnPhK0LZNbxSRhAb2sg=";

pub(super) fn page(report: &BearingsReport) -> String {
    let title = format!("Tuner\u{2019}s sheet: {}", plain(&report.title));
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy(STYLE_HASH));
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) }
                // Without it a browser would ask for one.
                link rel="icon" href="data:,";
                style { (PreEscaped(STYLE)) }
            }
            body {
                main {
                    header {
                        h1 { (plain(&report.title)) }
                        p.level {
                            b { (level(report.a4_hz, report.kept_by)) }
                            ", keys " (report.chain) "."
                        }
                        ul.cautions { @for caution in report.cautions { li { (caution) } } }
                    }
                    table {
                        thead {
                            tr {
                                th scope="col" { span.unseen { "step" } }
                                th scope="col" { "what" }
                                th.number scope="col" { "Hz" }
                                th.number scope="col" { "beats a second" }
                                th scope="col" { "how" }
                            }
                        }
                        tbody { @for row in &report.steps { (step(row)) } }
                    }
                    ul.remarks { @for remark in &report.remarks { li { (plain(remark)) } } }
                }
            }
        }
    };
    page.into_string()
}

fn step(row: &StepRow) -> Markup {
    html! {
        tr class=(row.deed) {
            th scope="row" { (row.step) }
            td.what { span.deed { (row.deed) } " " (row.what()) }
            td.number { (row.hertz()) @if row.hz.is_some() { span.unit { "\u{a0}Hz" } } }
            td.number { @if row.interval.is_some() { span.unit { "beats: " } } (row.beats()) }
            td.how { (row.how) }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::page::tests::check_style;

    #[test]
    fn the_policy_knows_the_sheet_by_its_style() {
        check_style(STYLE, STYLE_HASH);
    }
}
