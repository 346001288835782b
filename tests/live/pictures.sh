#!/usr/bin/env bash
# The pictures of the README, made anew from the real program: assets/*.svg. By hand; needs tmux
# and some minutes.
#
#     tests/live/pictures.sh target/release/concento
set -euo pipefail
cd "$(dirname "$0")/../.."

program=$(readlink -f "$1")
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
export HOME="$work/home" XDG_DATA_HOME="$work/home" XDG_STATE_HOME="$work/home"
export XDG_CONFIG_HOME="$work/home" XDG_RUNTIME_DIR="$work"
mkdir "$HOME"

# NAME SECONDS COLUMNS ROWS COMMAND [KEY@SECOND ...]
picture() {
  local name=$1 seconds=$2 columns=$3 rows=$4 command=$5
  shift 5
  python3 tests/live/picture.py "$command" "$seconds" "$columns" "$rows" "assets/$name.svg" "$@"
}

"$program" demo twenty-minutes --record "$work/evening.session" >/dev/null 2>&1
"$program" demo alone --write "$work/alone.wav" >/dev/null
cp tests/data/scores/sonata.musicxml "$work/"

picture home 1.5 80 22 "cd '$work' && '$program'"
picture players 13 100 30 "'$program' demo"
picture daylight 13 100 30 "'$program' demo --theme daylight"
picture large 6.5 80 24 "'$program' demo" Down@1 Down@1.1 Down@1.2 Down@1.3 Tab@1.5
picture groups 12.5 100 24 "'$program' demo" Down@1 Down@1.1 Down@1.2 x@1.4 Up@1.5 Up@1.6 Up@1.7 Up@1.8 Up@1.9
picture chord 7 100 24 "'$program' demo" Enter@4.7 c@4.8
picture chord-large 7 100 30 "'$program' demo" Enter@4.7 c@4.8 Tab@5
picture drift 4 100 30 "'$program' replay '$work/evening.session' --at 19:30" d@1.5
picture ledger 4 100 30 "'$program' replay '$work/evening.session' --at 19:30" l@1.5
picture agree 13.5 100 30 "'$program' demo" e@13
picture help 3 100 30 "'$program' demo" '?@2'
picture plan 3 100 30 "cd '$work' && '$program' plan sonata.musicxml --screen"
picture bearings 3 80 24 "'$program' bearings --temperament vallotti --hear" Space@1 Space@1.3 Space@1.6
picture practice 13 100 30 "'$program' practise --from '$work/alone.wav' --exercise hold" Escape@1
