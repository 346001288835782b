//! The page everyone takes home: one HTML file without script or anything to fetch, to be
//! printed or read on a telephone. All text of files is escaped.
//!
//! From top to bottom: what was agreed and what to begin with next time, then what was heard.

mod agreed;
mod cells;
mod chart;
mod compared;
mod drift;
mod heading;
mod meetings;
mod next;
mod pitch;
mod player;
mod practice;
mod remarks;
mod series;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::Digest;

/// How the page looks, and what the policy knows that by: SHA-256 in base 64. A test computes it.
const STYLE: &str = include_str!("page/page.css");
const STYLE_HASH: &str = "wL3b75dpbkJF+rdk7SugHBrOEng0IYcFnriWU2KamvA=";

/// The policy of a page (W3C, Content Security Policy Level 3): nothing is fetched, nothing runs,
/// nothing is sent, and no style holds but the page's own, whatever a name may contain.
pub(super) fn policy(style_hash: &str) -> String {
    format!(
        "default-src 'none'; style-src 'sha256-{style_hash}'; img-src data:; base-uri 'none'; \
         form-action 'none'"
    )
}

/// The page of these rehearsals: a section for each, what differs between them if there are
/// several, and the own page of the player of that name.
pub fn rehearsal_page(digests: &[Digest<'_>], player: Option<&str>) -> String {
    let title = match digests {
        [one] => one.title(),
        _ => format!("{} rehearsals", digests.len()),
    };
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
                    @if digests.len() > 1 { h1 { (title) } (compared::section(digests)) }
                    @for (index, digest) in digests.iter().enumerate() {
                        (rehearsal(digest, index, digests.len() == 1))
                        @if let Some(place) = player.and_then(|name| digest.player_named(name)) {
                            (player::page(digest, place))
                        }
                    }
                }
            }
        }
    };
    page.into_string()
}

fn rehearsal(digest: &Digest<'_>, index: usize, alone: bool) -> Markup {
    html! {
        article {
            (heading::header(digest, alone))
            (pitch::section(digest))
            (cells::legend())
            (agreed::section(digest))
            (next::section(digest))
            (meetings::section(digest))
            (drift::section(digest, index))
            (series::section(digest))
            (practice::section(digest, index))
            (remarks::section(digest))
        }
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use sha2::{Digest as _, Sha256};

    /// What a policy knows a style by.
    fn hash(style: &str) -> String {
        let digits = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
        let mut out = String::new();
        for three in Sha256::digest(style).chunks(3) {
            let bits = three
                .iter()
                .fold(0, |bits, byte| bits << 8 | u32::from(*byte));
            let bits = bits << (8 * (3 - three.len()));
            for place in 0..4 {
                let digit = digits[(bits >> (18 - 6 * place)) as usize & 63];
                out.push(if place <= three.len() {
                    char::from(digit)
                } else {
                    '='
                });
            }
        }
        out
    }

    /// The policy of a page with this style knows it.
    pub(in crate::report) fn check_style(style: &str, style_hash: &str) {
        let changed = "the style has changed: write its hash down";
        assert_eq!(hash(style), style_hash, "{changed}");
        let ends = "the end of the element is that of the style";
        assert!(!style.contains('<'), "{ends}");
    }

    #[test]
    fn the_policy_knows_the_page_by_its_style() {
        // FIPS 180-2, appendix B.1.
        let abc = "ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0=";
        assert_eq!(hash("abc"), abc);
        check_style(STYLE, STYLE_HASH);
    }
}
