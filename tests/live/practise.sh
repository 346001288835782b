#!/usr/bin/env bash
# Practising for real: a loudspeaker plays a drone, the microphone hears it, and a player is read
# through it.
#
#   tests/live/practise.sh PROGRAM
#
# Needs tmux and what rig.sh needs. Prints a line for each check; ends at the first that fails.
set -euo pipefail

here=$(cd "$(dirname "$0")" && pwd)
program=$(realpath "${1:?give the program to test}")
work=$(mktemp -d)
export LC_ALL=C.UTF-8 XDG_STATE_HOME=$work XDG_DATA_HOME=$work CONCENTO_RIG=$work/rig
socket=concento-practise-$$
cd "$work"

terminal() { tmux -L "$socket" -f /dev/null "$@"; }
tidy() {
  terminal kill-server 2>/dev/null || true
  "$here/rig.sh" down || true
  rm -rf "$work"
}
trap tidy EXIT
fail() { echo "practise: FAILED: $*" >&2; terminal capture-pane -p -t stage >&2 || true; exit 1; }
stage() {
  terminal kill-session -t stage 2>/dev/null || true
  terminal new-session -d -s stage -x 100 -y 30 "$1; echo ended with \$?; sleep 60"
}
see() {
  local until=$((SECONDS + $1))
  while [ $SECONDS -lt $until ]; do
    if terminal capture-pane -p -t stage | grep -qE -- "$3"; then echo "practise: $2"; return; fi
    sleep 0.1
  done
  fail "$2"
}
press() { for key in "$@"; do terminal send-keys -t stage "$key"; sleep 0.1; done; }
# The steady notes of a session: hertz, one a line.
notes() { sed -nE 's/^Note\(.*steady:([0-9.]+),hz:([0-9.]+),.*/\1 \2/p' "$1" | awk '$1 >= 0.8 {print $2}'; }

"$program" demo alone --write player.wav --seconds 22 >/dev/null
"$program" record player.wav --session alone.session >/dev/null
"$here/rig.sh" up 1
"$here/rig.sh" leak on 80
eval "$("$here/rig.sh" env)"
terminal new-session -d -s foyer 'sleep 1000'

stage "'$program' practise --session first.session"
see 5 "the cautions are shown" 'any key goes on'
press q
see 5 "and leave the keys their work" 'ended with 0'

# E flat and B flat: none of the trumpet's partials is near them.
stage "'$program' practise --drone Eb3,Bb3 --ceiling -12 --session through.session"
see 15 "the drone is found in the microphone and taken out" 'drone taken out \([0-9]+ ms'
press + + + + + + + + + +
see 5 "it is louder now" '−18 dBFS, ceiling −12'
sleep 5
# Nothing worth keeping: not even a file.
if grep -qs '^Note(' through.session; then fail "the drone alone is no player"; fi
echo "practise: the drone alone is no player"
"$here/rig.sh" play player.wav
sleep 1.5
press q
see 5 "it ends" 'ended with 0'
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
see 15 "a single tone sounds" 'drone taken out'
"$here/rig.sh" record heard.wav 3
"$program" analyse heard.wav | grep -qE 'A4 +41[45]\.(99|00)' || fail "what sounds is A4 at 415 Hz"
echo "practise: what sounds is A4 at 415 Hz"
"$here/rig.sh" crash
see 10 "a lost loudspeaker is told of" 'has gone'
"$here/rig.sh" up 1
"$here/rig.sh" leak on 80
see 25 "it is taken up again, and so is the drone" 'drone taken out'
press q
see 5 "and it ends" 'ended with 0'
