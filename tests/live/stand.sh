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
. "$(dirname "$0")/stage.sh" stand "${1:-}"

temperament() { screen "$1" | head -1 | sed -E 's/.*Hz +([a-z0-9-]+).*/\1/'; }
# change WHAT: the first screen takes the next temperament.
change() {
  local before; before=$(temperament first)
  press_on first t
  for _ in $(seq 30); do [ "$(temperament first)" != "$before" ] && break; sleep 0.1; done
  [ "$(temperament first)" != "$before" ] || fail "$1"
  said "$1"
}
sockets() { find runtime/concento -name '*.stand' | wc -l; }

"$program" stand 2>told && fail "nobody runs" || [ $? = 1 ] || fail "nobody runs: another code"
grep -q 'no rehearsal is running' told || fail "nobody runs: $(cat told)"
said "nobody runs, and it says so"

open first 100 30 "'$program' demo strings-find-a-chord --session evening.session"
see_on first "a rehearsal begins" 'kept in evening.session'
see_on first "and the trumpets sound" 'Trumpet I +.*(sounding|steady)'
sleep 0.5
[ "$(stat -c %a runtime/concento)" = 700 ] || fail "the folder is private"
[ "$(stat -c %a runtime/concento/*.stand)" = 600 ] || fail "the socket is private"
said "folder and socket are private"
press_on first Enter
see_on first "a chord is held" 'held as 1'
change "the temperament is changed"

open second 80 24 "'$program' stand"
open third 60 20 "'$program' stand evening.session"
see_on second "one watches from another terminal" 'watched only: demo in evening.session'
see_on third "another by the name of the session" 'watched only: demo in evening.session'
for name in second third; do
  [ "$(temperament $name)" = "$(temperament first)" ] || fail "$name is in another temperament"
done
said "who comes late is in the same temperament"
before=$(temperament first)
change "it is changed again"
for _ in $(seq 30); do [ "$(temperament second)" != "$before" ] && break; sleep 0.1; done
[ "$(temperament second)" = "$(temperament first)" ] || fail "the change is seen"
[ "$(temperament third)" = "$(temperament first)" ] || fail "the change is seen on the third screen"
said "a change of temperament is seen on both"

press_on third c
see_on third "one looks at the chord, held before it came" '1 held'
press_on second t
see_on second "who watches changes nothing" 'only the first screen changes that'
[ "$(temperament second)" = "$(temperament first)" ] || fail "who watches has changed something"
press_on second h
gone_on second "but may hide a player" 'Trumpet I '
screen first | grep -q 'Trumpet I ' || fail "hidden on the first screen too"
press_on second Space
see_on second "and freeze the own picture" 'frozen'
screen first | grep -q frozen && fail "the first screen is frozen too"
press_on second Space

"$program" stand other.session 2>told && fail "another session" || true
grep -q "'other.session'" told || fail "another session: $(cat told)"
open fourth 80 24 "'$program' demo"
see_on fourth "a second rehearsal begins" 'listening to'
"$program" stand 2>told && fail "which one?" || true
grep -q '2 rehearsals are running' told || fail "which one: $(cat told)"
grep -qE 'concento stand .*/evening.session ' told || fail "what to type: $(cat told)"
said "of two rehearsals it says what to type"
press_on fourth q
see_on fourth "the second one ends" 'ended with 0'

kill -9 "$(process first)"
see_on second "a killed rehearsal has broken off" 'broken off'
see_on third "the last picture stays" '1 held'
open first 100 30 "'$program' demo strings-find-a-chord --session evening.session"
see_on second "and is joined when it comes back" 'watched only: demo in evening.session'
see_on third "on the other screen, too" 'watched only: demo in evening.session'
[ "$(sockets)" = 1 ] || fail "what the killed one has left is gone: $(sockets) sockets"
said "what the killed one has left is gone"
press_on first q
see_on first "the rehearsal ends" 'ended with 0'
see_on second "and is said to have ended" 'the demo has ended; q leaves'
see_on third "on both" 'the demo has ended; q leaves'
[ "$(sockets)" = 0 ] || fail "no socket is left"
press_on second q
see_on second "who watched may leave" 'ended with 0'

chmod 777 runtime/concento
open first 100 30 "'$program' demo"
see_on first "a folder open to all is told" 'no second screen can watch'
see_on first "and the rehearsal goes on" 'listening to'
press_on first q
see_on first "and ends" 'ended with 0'
if [ "$(id -u)" = 0 ]; then
  chmod 700 runtime/concento
  chown 65534 runtime/concento
  open first 100 30 "'$program' demo"
  see_on first "so is one of another user" 'no second screen can watch'
  press_on first q
  see_on first "and that rehearsal ends, too" 'ended with 0'
fi
