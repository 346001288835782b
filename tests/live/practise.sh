#!/usr/bin/env bash
# Practising for real: a loudspeaker plays a drone, the microphone hears it, and a player is read
# through it.
#
#   tests/live/practise.sh PROGRAM
#
# Needs tmux and what rig.sh needs. Prints a line for each check; ends at the first that fails.
set -euo pipefail
. "$(dirname "$0")/stage.sh" practise "${1:-}"

# The steady notes of a session: hertz, one a line.
notes() { sed -nE 's/^Note\(.*steady:([0-9.]+),hz:([0-9.]+),.*/\1 \2/p' "$1" | awk '$1 >= 0.8 {print $2}'; }

"$program" demo alone --write player.wav --seconds 22 >/dev/null
"$program" record player.wav --session alone.session >/dev/null
"$here/rig.sh" up 1
"$here/rig.sh" leak on 80
eval "$("$here/rig.sh" env)"
stage "'$program' practise --session first.session"
see "the cautions are shown" 'any key goes on'
press q
see "and leave the keys their work" 'ended with 0'

# E flat and B flat: none of the trumpet's partials is near them.
stage "'$program' practise --drone Eb3,Bb3 --ceiling -12 --session through.session"
see "the drone is found in the microphone and taken out" 'drone taken out \([0-9]+ ms'
press + + + + + + + + + +
see "it is louder now" '−18 dBFS, ceiling −12'
sleep 5
# Nothing worth keeping: not even a file.
if grep -qs '^Note(' through.session; then fail "the drone alone is no player"; fi
said "the drone alone is no player"
"$here/rig.sh" play player.wav
sleep 1.5
press q
see "it ends" 'ended with 0'
notes alone.session >alone
notes through.session >through
awk 'NR == FNR {truth[NR] = $1; n = NR; next}
  {off = 1e9; for (i = 1; i <= n; i++) {
    c = 1200 * log($1 / truth[i]) / log(2); if (c < 0) c = -c; if (c < off) off = c}
   all++; near += off < 2}
  END {printf "practise: %d of %d steady notes through the drone within 2 cents of one of %d without\n",
    near, all, n; exit !(all >= 0.7 * n && near >= 0.9 * all && n > 5)}' alone through ||
  fail "notes through the drone are others"

stage "'$program' practise --drone A4"
see "a single tone sounds" 'drone taken out'
"$here/rig.sh" record heard.wav 3
"$program" analyse heard.wav | grep -qE 'A4 +41[45]\.(99|00)' || fail "what sounds is A4 at 415 Hz"
said "what sounds is A4 at 415 Hz"
"$here/rig.sh" crash
see "a lost loudspeaker is told of" 'has gone'
"$here/rig.sh" up 1
"$here/rig.sh" leak on 80
see "it is taken up again, and so is the drone" 'drone taken out'
press q
see "and it ends" 'ended with 0'
