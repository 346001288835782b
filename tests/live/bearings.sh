#!/usr/bin/env bash
# Laying the bearings for real: the loudspeaker plays the tones of a step, then two strings sound in
# the microphone and the screen tells how they beat.
#
#   tests/live/bearings.sh PROGRAM
#
# Needs tmux, python3 and what rig.sh needs. Prints a line for each check; ends at the first that
# fails.
set -euo pipefail
. "$(dirname "$0")/stage.sh" bearings "${1:-}"

python3 "$here/strings.py" two.wav 207.5 277.45 && python3 "$here/strings.py" one.wav 207.5
"$here/rig.sh" up 1
eval "$("$here/rig.sh" env)"
open stage 80 24 "'$program' bearings --temperament sixth-comma --hear"
see "the cautions are shown before anything sounds" 'Never force a pin'
press Space
see "the first note sounds" 'the tones as they have to be'
press Space Space
see "D from A is the third step" 'tune D4 from A3, fourth'
"$here/rig.sh" record tones.wav 3
python3 "$here/strings.py" measure tones.wav 207.5 277.24 || fail "both tones sound where they belong"
said "both tones sound where they belong"
see "they end by themselves" 'listening'
"$here/rig.sh" play one.wav &
see "a string alone is named" 'A3 alone'
wait $!
"$here/rig.sh" play two.wav &
# Four times 207.5 Hz and three times 277.45 Hz, both a little stiff: 2.27 beats.
see "two strings are heard to beat, and which way" 'heard: wide \(±0\.[0-9]\)'
see "the upper one lies above its place" 'D4: cents above its place'
wait $!
see "and what was heard stays" 'what is shown was heard [0-9]+ s ago'
press q
see "it ends" 'ended with 0'
