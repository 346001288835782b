#!/usr/bin/env bash
# Renders the page of a rehearsal in a headless Chromium: as a telephone of 360 pixels, in the
# dark, and on paper. Fails if something is fetched, said on the console, too wide, or longer than
# two sheets of A4 (a player's own page may add one). Of the page named, or of invented
# rehearsals, one with names that mean harm.
#
#   tests/report/render.sh [PAGE.html] [FOLDER_FOR_PICTURES]
#
# Needs python3, chromium and chromedriver (Debian: chromium chromium-driver).
set -euo pipefail
cd "$(dirname "$0")/../.."

for needed in python3 chromedriver; do
    command -v "$needed" >/dev/null || { echo "render.sh: $needed is missing" >&2; exit 1; }
done
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
pictures=${2:-$folder}

if [ -n "${1:-}" ]; then
    python3 tests/report/render.py "$1" --pictures "$pictures"
else
    for words in usual strange; do
        cargo run --quiet --profile "${CARGO_PROFILE:-dev}" --locked --example page -- $words >"$folder/page.html"
        python3 tests/report/render.py "$folder/page.html" --pictures "$pictures/$words"
        cargo run --quiet --profile "${CARGO_PROFILE:-dev}" --locked --example page -- $words player >"$folder/player.html"
        python3 tests/report/render.py "$folder/player.html" --sheets 3 \
            --pictures "$pictures/$words-player"
    done
fi
