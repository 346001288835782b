#!/usr/bin/env bash
# A second screen for real: the demo runs in one terminal and is watched from two others of other
# sizes; what its leader does is seen there, what they do is not seen here; it is killed, joined
# again and ended.
#
#   tests/live/stand.sh PROGRAM
#
# Needs tmux. As root it also tries a folder of another user. Prints a line for each check; ends
# at the first that fails.
set -euo pipefail

program=$(realpath "${1:?give the program to test}")
work=$(mktemp -d)
chmod 700 "$work"
export LC_ALL=C.UTF-8 XDG_STATE_HOME=$work/state XDG_DATA_HOME=$work/data XDG_RUNTIME_DIR=$work
socket=concento-stand-$$
cd "$work"

terminal() { tmux -L "$socket" -f /dev/null "$@"; }
tidy() {
  terminal kill-server 2>/dev/null || true
  rm -rf "$work"
}
trap tidy EXIT
fail() {
  echo "stand: FAILED: $*" >&2
  for name in first second third; do terminal capture-pane -p -t "=$name:" >&2 || true; done
  exit 1
}
# open NAME COLUMNS ROWS COMMAND
open() {
  terminal kill-session -t "=$1" 2>/dev/null || true
  terminal new-session -d -s "$1" -x "$2" -y "$3" "$4; echo ended with \$?; sleep 100"
}
# see NAME SECONDS WHAT PATTERN: waits until the pattern stands on that screen.
see() {
  local until=$((SECONDS + $2))
  while [ $SECONDS -lt $until ]; do
    if terminal capture-pane -p -t "=$1:" | grep -qE -- "$4"; then echo "stand: $3"; return; fi
    sleep 0.1
  done
  fail "$3"
}
# gone NAME SECONDS WHAT PATTERN: waits until it stands there no more.
gone() {
  local until=$((SECONDS + $2))
  while [ $SECONDS -lt $until ]; do
    if ! terminal capture-pane -p -t "=$1:" | grep -qE -- "$4"; then echo "stand: $3"; return; fi
    sleep 0.1
  done
  fail "$3"
}
press() { terminal send-keys -t "=$1:" "$2"; }
temperament() { terminal capture-pane -p -t "=$1:" | head -1 | sed -E 's/.*Hz +([a-z0-9-]+).*/\1/'; }
# change WHAT: the first screen takes the next temperament.
change() {
  local before; before=$(temperament first)
  press first t
  for _ in $(seq 30); do [ "$(temperament first)" != "$before" ] && break; sleep 0.1; done
  [ "$(temperament first)" != "$before" ] || fail "$1"
  echo "stand: $1"
}
# The process in that terminal.
process() { pgrep -P "$(terminal display-message -p -t "=$1:" '#{pane_pid}')"; }
sockets() { find "$work/concento" -name '*.stand' | wc -l; }

terminal new-session -d -s foyer 'sleep 1000'

"$program" stand 2>told && fail "nobody runs" || [ $? = 1 ] || fail "nobody runs: another code"
grep -q 'no rehearsal is running' told || fail "nobody runs: $(cat told)"
echo "stand: nobody runs, and it says so"

open first 100 30 "'$program' demo strings-find-a-chord --session evening.session"
see first 10 "a rehearsal begins" 'kept in evening.session'
see first 10 "and the trumpets sound" 'Trumpet I +.*(sounding|steady)'
sleep 0.5
[ "$(stat -c %a concento)" = 700 ] || fail "the folder is private"
[ "$(stat -c %a concento/*.stand)" = 600 ] || fail "the socket is private"
echo "stand: folder and socket are private"
press first Enter
see first 5 "a chord is held" 'held as 1'
change "the temperament is changed"

open second 80 24 "'$program' stand"
open third 60 20 "'$program' stand evening.session"
see second 5 "one watches from another terminal" 'watched only: demo in evening.session'
see third 5 "another by the name of the session" 'watched only: demo in evening.session'
for name in second third; do
  [ "$(temperament $name)" = "$(temperament first)" ] || fail "$name is in another temperament"
done
echo "stand: who comes late is in the same temperament"
before=$(temperament first)
change "it is changed again"
for _ in $(seq 30); do [ "$(temperament second)" != "$before" ] && break; sleep 0.1; done
[ "$(temperament second)" = "$(temperament first)" ] || fail "the change is seen"
[ "$(temperament third)" = "$(temperament first)" ] || fail "the change is seen on the third screen"
echo "stand: a change of temperament is seen on both"

press third c
see third 5 "one looks at the chord, held before it came" '1 held'
press second t
see second 5 "who watches changes nothing" 'only the first screen changes that'
[ "$(temperament second)" = "$(temperament first)" ] || fail "who watches has changed something"
press second h
gone second 5 "but may hide a player" 'Trumpet I '
terminal capture-pane -p -t =first: | grep -q 'Trumpet I ' || fail "hidden on the first screen too"
press second Space
see second 5 "and freeze the own picture" 'frozen'
terminal capture-pane -p -t =first: | grep -q frozen && fail "the first screen is frozen too"
press second Space

"$program" stand other.session 2>told && fail "another session" || true
grep -q "'other.session'" told || fail "another session: $(cat told)"
open fourth 80 24 "'$program' demo"
see fourth 10 "a second rehearsal begins" 'listening to'
"$program" stand 2>told && fail "which one?" || true
grep -q '2 rehearsals are running' told || fail "which one: $(cat told)"
grep -qE 'concento stand .*/evening.session ' told || fail "what to type: $(cat told)"
echo "stand: of two rehearsals it says what to type"
press fourth q
see fourth 5 "the second one ends" 'ended with 0'

kill -9 "$(process first)"
see second 5 "a killed rehearsal has broken off" 'broken off'
see third 5 "the last picture stays" '1 held'
open first 100 30 "'$program' demo strings-find-a-chord --session evening.session"
see second 10 "and is joined when it comes back" 'watched only: demo in evening.session'
see third 10 "on the other screen, too" 'watched only: demo in evening.session'
[ "$(sockets)" = 1 ] || fail "what the killed one has left is gone: $(sockets) sockets"
echo "stand: what the killed one has left is gone"
press first q
see first 5 "the rehearsal ends" 'ended with 0'
see second 5 "and is said to have ended" 'the demo has ended; q leaves'
see third 5 "on both" 'the demo has ended; q leaves'
[ "$(sockets)" = 0 ] || fail "no socket is left"
press second q
see second 5 "who watched may leave" 'ended with 0'

chmod 777 concento
open first 100 30 "'$program' demo"
see first 10 "a folder open to all is told" 'no second screen can watch'
see first 10 "and the rehearsal goes on" 'listening to'
press first q
see first 5 "and ends" 'ended with 0'
if [ "$(id -u)" = 0 ]; then
  chmod 700 concento
  chown 65534 concento
  open first 100 30 "'$program' demo"
  see first 10 "so is one of another user" 'no second screen can watch'
  press first q
  see first 5 "and that rehearsal ends, too" 'ended with 0'
fi
