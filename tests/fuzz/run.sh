#!/usr/bin/env bash
# Fuzzes every target, or those named, one after another: `tests/fuzz/run.sh [SECONDS] [TARGET...]`.
#
# Needs the nightly toolchain and cargo-fuzz. Each target begins with the corpus that lies here and
# goes on with one of its own under FUZZ (a new folder in the place for temporary files unless set).
# What crashes, hangs or takes too much memory is kept there, and it goes on. FUZZ_BUILT names a
# folder with targets that are built already. The last lines say what each came to.
set -u
cd "$(dirname "$0")"
seconds=${1:-600}
shift || true
targets=("$@")
if [ $# -eq 0 ]; then
    targets=(ensemble session plan settings exercise scene temperament musicxml mxl midi audio stand)
fi
place=${FUZZ:-$(mktemp -d)}
built=${FUZZ_BUILT:-}
if [ -z "$built" ]; then
    cargo +nightly fuzz build --fuzz-dir . || exit 1
    built=target/$(rustc +nightly -vV | sed -n 's/^host: //p')/release
fi

for target in "${targets[@]}"; do
    words=dictionaries/ron.dict
    longest=16384
    case $target in
        musicxml | mxl) words=dictionaries/musicxml.dict ;;
        midi) words=dictionaries/midi.dict ;;
        audio) words=dictionaries/audio.dict ;;
        stand | session) longest=8192 ;;
    esac
    mkdir -p "$place/corpus/$target" "$place/artifacts/$target" "$place/logs"
    nice -n 19 "$built/$target" -fork=1 -ignore_crashes=1 -ignore_timeouts=1 -ignore_ooms=1 \
        -max_total_time="$seconds" -rss_limit_mb=1024 -timeout=10 -max_len="$longest" \
        -dict="$words" -artifact_prefix="$place/artifacts/$target/" \
        "$place/corpus/$target" "corpus/$target" >>"$place/logs/$target.log" 2>&1
    count=$(find "$place/artifacts/$target" -type f | wc -l)
    echo "$target: $count found; $(grep '^#' "$place/logs/$target.log" | tail -1)"
done
