#!/usr/bin/env bash
# Laying the bearings for real: the loudspeaker plays the tones of a step, then two strings sound in
# the microphone and the screen tells how they beat.
#
#   tests/live/bearings.sh PROGRAM
#
# Needs tmux, python3 and what rig.sh needs. Prints a line for each check; ends at the first that
# fails.
set -euo pipefail

here=$(cd "$(dirname "$0")" && pwd)
program=$(realpath "${1:?give the program to test}")
work=$(mktemp -d)
export LC_ALL=C.UTF-8 XDG_STATE_HOME=$work XDG_DATA_HOME=$work CONCENTO_RIG=$work/rig
socket=concento-bearings-$$
cd "$work"

terminal() { tmux -L "$socket" -f /dev/null "$@"; }
tidy() {
  terminal kill-server 2>/dev/null || true
  "$here/rig.sh" down || true
  rm -rf "$work"
}
trap tidy EXIT
fail() { echo "bearings: FAILED: $*" >&2; terminal capture-pane -p -t stage >&2 || true; exit 1; }
see() {
  local until=$((SECONDS + $1))
  while [ $SECONDS -lt $until ]; do
    if terminal capture-pane -p -t stage | grep -qE -- "$3"; then echo "bearings: $2"; return; fi
    sleep 0.1
  done
  fail "$2"
}
press() { for key in "$@"; do terminal send-keys -t stage "$key"; sleep 0.1; done; }

python3 "$here/strings.py" two.wav 207.5 277.45 && python3 "$here/strings.py" one.wav 207.5
"$here/rig.sh" up 1
eval "$("$here/rig.sh" env)"
terminal new-session -d -s stage -x 80 -y 24 \
  "'$program' bearings --temperament sixth-comma --hear; echo ended with \$?; sleep 60"
see 5 "the cautions are shown before anything sounds" 'Never force a pin'
press Space
see 5 "the first note sounds" 'the tones as they have to be'
press Space Space
see 5 "D from A is the third step" 'tune D4 from A3, fourth'
"$here/rig.sh" record tones.wav 3
python3 "$here/strings.py" measure tones.wav 207.5 277.24 || fail "both tones sound where they belong"
echo "bearings: both tones sound where they belong"
see 8 "they end by themselves" 'listening'
"$here/rig.sh" play one.wav &
see 6 "a string alone is named" 'A3 alone'
wait $!
"$here/rig.sh" play two.wav &
# Four times 207.5 Hz and three times 277.45 Hz, both a little stiff: 2.27 beats.
see 6 "two strings are heard to beat, and which way" 'heard: wide \(±0\.[0-9]\)'
see 2 "the upper one lies above its place" 'D4: cents above its place'
wait $!
see 3 "and what was heard stays" 'what is shown was heard [0-9]+ s ago'
press q
see 5 "it ends" 'ended with 0'
