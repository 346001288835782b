#!/usr/bin/env bash
# A session for real: the demo is recorded in a terminal, killed, gone on with, ended by a
# signal, recorded onto a disk that fills up, and replayed.
#
#   tests/live/sessions.sh PROGRAM
#
# Needs tmux; the full disk needs root, and is passed over without. Prints a line for each check;
# ends at the first that fails.
set -euo pipefail

program=$(realpath "${1:?give the program to test}")
work=$(mktemp -d)
export LC_ALL=C.UTF-8 XDG_STATE_HOME=$work XDG_DATA_HOME=$work
socket=concento-sessions-$$
cd "$work"

terminal() { tmux -L "$socket" -f /dev/null "$@"; }
tidy() {
  terminal kill-server 2>/dev/null || true
  mountpoint -q "$work/small" && umount "$work/small"
  rm -rf "$work"
}
trap tidy EXIT
fail() { echo "sessions: FAILED: $*" >&2; terminal capture-pane -p -t stage >&2 || true; exit 1; }

# stage COMMAND: what is shown in a terminal from now on; its process is $shown.
stage() {
  terminal kill-session -t stage 2>/dev/null || true
  terminal new-session -d -s stage -x 110 -y 32 "$1; echo ended with \$?; sleep 60"
  local until=$((SECONDS + 5))
  while [ $SECONDS -lt $until ]; do
    shown=$(pgrep -P "$(terminal display-message -p -t stage '#{pane_pid}')" || true)
    [ -n "$shown" ] && return
    sleep 0.05
  done
  fail "nothing was started"
}
# see SECONDS WHAT PATTERN: waits until the pattern stands on the screen.
see() {
  local until=$((SECONDS + $1))
  while [ $SECONDS -lt $until ]; do
    if terminal capture-pane -p -t stage | grep -qE -- "$3"; then echo "sessions: $2"; return; fi
    sleep 0.1
  done
  fail "$2"
}
lines() { grep -c "^$2(" "$1" || true; }
# The time of the last half second that was kept, in tenths.
kept() { grep '^Heard(' "$1" | tail -1 | sed -E 's/^Heard\(at:([0-9]+)\.([0-9]).*/\1\2/'; }

# Without a stage the server would end, and the next one might meet it at the door.
terminal new-session -d -s foyer 'sleep 1000'

stage "'$program' demo strings-find-a-chord --session evening.session"
begun=$(date +%s%N)
sleep 4
kill -9 "$shown"
ended=$(date +%s%N)
played=$(((ended - begun) / 100000000))
[ "$(lines evening.session Heard)" -ge 5 ] || fail "something is kept"
late=$((played - $(kept evening.session) - 5))
[ "$late" -lt 10 ] || fail "kill -9 loses less than a second: $late tenths"
echo "sessions: kill -9 loses less than a second ($late tenths, the start included)"

stage "'$program' demo strings-find-a-chord --session evening.session"
sleep 2
"$program" demo --session evening.session 2>refused || true
grep -q 'another concento' refused || fail "a second program is refused"
echo "sessions: a second program is refused"
kill -TERM "$shown"
see 5 "a signal ends it" 'ended with 143|Terminated'
[ "$(lines evening.session Begun)" = 2 ] || fail "two sittings"
[ "$(lines evening.session Ended)" = 1 ] || fail "the second has ended well"
echo "sessions: it is gone on with, and ended well"

if [ "$(id -u)" = 0 ]; then
  mkdir small
  mount -t tmpfs -o size=80k none small
  head -c 60000 /dev/zero >small/ballast
  stage "'$program' demo strings-find-a-chord --session small/full.session"
  for _ in $(seq 100); do
    [ "$(stat -f -c %a small)" = 0 ] && break
    sleep 0.2
  done
  [ "$(stat -f -c %a small)" = 0 ] || fail "the disk fills up"
  sleep 3
  full=$(stat -c %s small/full.session)
  rm small/ballast
  sleep 3
  [ "$(stat -c %s small/full.session)" -gt "$full" ] || fail "it is written again"
  terminal send-keys -t stage q
  see 5 "and once there is room the rehearsal ends as ever" 'ended with 0'
  "$program" sessions small --format json >list 2>told
  [ ! -s told ] || fail "no line is torn: $(cat told)"
  grep -q '"ended_well": true' list || fail "it ended well"
  holes=$(grep -o '^Heard(at:[0-9.]*' small/full.session | sed 's/.*://' |
    awk 'NR > 1 && $1 - last > 0.51 { holes++ } { last = $1 } END { print holes + 0 }')
  [ "$holes" = 0 ] || fail "nothing is missing: $holes holes"
  grep -q '^Missed(' small/full.session && fail "nothing had to be given up"
  echo "sessions: a full disk tears no line and loses nothing"
fi

stage "'$program' replay evening.session --at 2"
see 5 "a replay shows who played" 'Violin'
terminal send-keys -t stage q
see 5 "and ends" 'ended with 0'
"$program" sessions . | grep -q 'evening.session' || fail "it is listed"
echo "sessions: it is listed"
