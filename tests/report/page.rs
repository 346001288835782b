//! Writes the page of an invented rehearsal to standard output, for `render.sh`: `usual` or
//! `strange`, and with `player` the first player's own page too.
#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a program for looking at pages"
)]

mod specimen;

fn main() {
    let mut arguments = std::env::args().skip(1);
    let words = match arguments.next().as_deref() {
        Some("strange") => specimen::STRANGE,
        _ => specimen::USUAL,
    };
    let player = arguments.next().map(|_| words.players[0].0);
    let chronicle = specimen::chronicle(&words);
    let digests = [specimen::digest(&chronicle)];
    let page = concento::report::rehearsal_page(&digests, player);
    print!("{page}");
}
