#!/usr/bin/env bash
# The live path for real: a recording played into a microphone of eight channels, 'rehearse' in
# a terminal, and the screen read back. Then the sound server dies and comes back, freezes and
# goes on, and the rehearsal must take the sound up again by itself.
#
#   tests/live/rehearse.sh PROGRAM
#
# Needs tmux and what rig.sh needs. Prints a line for each check; ends at the first that fails.
set -euo pipefail

here=$(cd "$(dirname "$0")" && pwd)
program=$(realpath "${1:?give the program to test}")
work=$(mktemp -d)
export CONCENTO_RIG=$work/rig LC_ALL=C.UTF-8 XDG_STATE_HOME=$work
socket=concento-live-$$

terminal() { tmux -L "$socket" -f /dev/null "$@"; }
tidy() {
  terminal kill-server 2>/dev/null || true
  [ -z "${player:-}" ] || kill "$player" 2>/dev/null || true
  "$here/rig.sh" down || true
  rm -rf "$work"
}
trap tidy EXIT

# see SECONDS WHAT PATTERN...: waits until every pattern stands on the screen at once.
see() {
  local until=$((SECONDS + $1)) what=$2 pane pattern found; shift 2
  while [ $SECONDS -lt $until ]; do
    pane=$(terminal capture-pane -p -t stage)
    found=yes
    for pattern in "$@"; do grep -qE -- "$pattern" <<<"$pane" || found=; done
    if [ -n "$found" ]; then echo "live: $what"; return; fi
    sleep 0.1
  done
  echo "live: FAILED: $what" >&2
  printf '%s\n' "$pane" >&2
  exit 1
}
# The rig plays round and round, from the start each time.
play() {
  (while true; do "$here/rig.sh" play "$work/take.wav" || sleep 0.2; done) >/dev/null 2>&1 &
  player=$!
}

# The first seven seconds: the chord of D on partials 8, 10 and 12, the organ on its third.
"$program" demo strings-find-a-chord --write "$work/take.wav" --seconds 7 >/dev/null
"$here/rig.sh" up 8
eval "$("$here/rig.sh" env)"
play
terminal new-session -d -s stage -x 100 -y 30 \
  "'$program' rehearse '$here/band.ron'; echo ended with \$?; sleep 60"

# The organ does not waver: F sharp of sixth-comma meantone, 7.2 cents above the pure third.
organ='Organ .* F♯4 +5 +\+7 +F♯ +±0 '
third='Trumpet III .* D5 +8 +[+−±][0-3] +D +[+−±][0-3] '
see 20 "both deviations of organ and trumpet are on the screen" "$organ" "$third"
terminal send-keys -t stage t
see 5 "another temperament is a key away" 'Organ .* F♯4 .* F♯ +[+−][1-9]'
terminal send-keys -t stage T
see 5 "and back" "$organ"
terminal send-keys -t stage +
see 5 "the pitch standard moves by half a hertz" 'A 415\.5 Hz'
terminal send-keys -t stage -- -
see 5 "and back" 'A 415\.0 Hz' "$organ"

"$here/rig.sh" crash
see 5 "a lost input is told in words" 'has gone|cannot be opened|no microphone'
"$here/rig.sh" up 8
see 20 "and taken up again by itself" "$organ"
"$here/rig.sh" freeze
see 5 "a frozen sound server is told in words" 'stopped answering'
terminal send-keys -t stage '?'
see 2 "while the screen answers to keys" 'quit'
terminal send-keys -t stage Escape
"$here/rig.sh" thaw
see 15 "and the sound goes on" "$organ"
terminal send-keys -t stage q
see 5 "the terminal is given back" 'ended with 0'

# Two shared microphones: five voices before the first, three strings before the second. The
# chord view tells them apart; a key holds the trumpets' chord, which goes into the session.
kill "$player"; player=
perl "$here/mix.pl" "$work/take.wav" "$work/shared.wav" 1,2,3,7,8 4,5,6
mv "$work/shared.wav" "$work/take.wav"
"$here/rig.sh" up 2
play
terminal new-window -t stage \
  "'$program' rehearse '$here/shared.ron' --session '$work/held.session'; echo ended with \$?; sleep 60"
terminal send-keys -t stage c
see 30 "the voices of two shared microphones stand on the ladder" \
  'Gallery p5/F♯4 +[+−][67] +±0 ' 'Gallery p8/D5 +[+−±][0-3] +[+−±][0-3] ' 'Strings D4 +[+−±][0-2] +[+−±][0-2] '
terminal send-keys -t stage Enter
see 3 "a key holds the trumpets' chord" 'held as 1: .*p8' '◎ 1 held .* ago: .*p8(/D5)? [+−±][0-3] '
terminal send-keys -t stage 0
see 3 "and another releases it" '◎ none in use'
terminal send-keys -t stage 1
see 3 "and it is recalled by its number" '◎ 1 held .* ago: .*p8(/D5)? [+−±][0-3] '
terminal send-keys -t stage Tab
see 3 "the large form can be read from afar" '█'
terminal send-keys -t stage q
see 5 "the terminal is given back again" 'ended with 0'
grep -q 'label:"p8"' "$work/held.session"
echo "live: the held chord is in the session"

# A terminal that is closed takes the program with it. What has ended may stay a zombie for
# seconds, until the process that adopted it looks: that counts as ended.
runs() { grep -qs '^State:[[:space:]]*[^ZX[:space:]]' "/proc/$1/status"; }
terminal new-window -t stage "exec '$program' demo alone"
sleep 1
demo=$(terminal list-panes -t stage -F '#{pane_pid}')
runs "$demo"
terminal kill-server
for _ in $(seq 50); do runs "$demo" || break; sleep 0.1; done
if runs "$demo"; then
  cat "/proc/$demo/status" >&2 || true
  echo "live: FAILED: closing the terminal ends it" >&2; exit 1
fi
echo "live: closing the terminal ends it"
echo "live: all is well"
