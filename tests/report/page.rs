//! Writes the page of an invented rehearsal to standard output, for `render.sh`. With a name, that
//! player's own page is added.
#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a program for looking at pages"
)]

mod specimen;

fn main() {
    let chronicle = specimen::chronicle();
    let digests = [specimen::digest(&chronicle)];
    let player = std::env::args().nth(1);
    let page = concento::report::rehearsal_page(&digests, player.as_deref());
    print!("{page}");
}
