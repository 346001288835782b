#!/usr/bin/env bash
# A session for real: the demo is recorded in a terminal, killed, gone on with, ended by a
# signal, recorded onto a disk that fills up, and replayed.
#
#   tests/live/sessions.sh PROGRAM
#
# Needs tmux; the full disk needs root, and is passed over without. Prints a line for each check;
# ends at the first that fails.
set -euo pipefail
. "$(dirname "$0")/stage.sh" sessions "${1:-}"

tidy_more() { mountpoint -q "$work/small" && umount "$work/small"; }
lines() { grep -c "^$2(" "$1" || true; }
# The time of the last half second that was kept, in tenths.
kept() { grep '^Heard(' "$1" | tail -1 | sed -E 's/^Heard\(at:([0-9]+)\.([0-9]).*/\1\2/'; }

stage "'$program' demo strings-find-a-chord --session evening.session"
begun=$(date +%s%N)
sleep 4
kill -9 "$(process)"
ended=$(date +%s%N)
played=$(((ended - begun) / 100000000))
[ "$(lines evening.session Heard)" -ge 5 ] || fail "something is kept"
late=$((played - $(kept evening.session) - 5))
[ "$late" -lt 10 ] || fail "kill -9 loses less than a second: $late tenths"
said "kill -9 loses less than a second ($late tenths, the start included)"

stage "'$program' demo strings-find-a-chord --session evening.session"
sleep 2
"$program" demo --session evening.session 2>refused || true
grep -q 'another concento' refused || fail "a second program is refused"
said "a second program is refused"
kill -TERM "$(process)"
see "a signal ends it" 'ended with 143|Terminated'
[ "$(lines evening.session Begun)" = 2 ] || fail "two sittings"
[ "$(lines evening.session Ended)" = 1 ] || fail "the second has ended well"
said "it is gone on with, and ended well"

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
  press q
  see "and once there is room the rehearsal ends as ever" 'ended with 0'
  "$program" sessions small --format json >list 2>told
  [ ! -s told ] || fail "no line is torn: $(cat told)"
  grep -q '"ended_well": true' list || fail "it ended well"
  holes=$(grep -o '^Heard(at:[0-9.]*' small/full.session | sed 's/.*://' |
    awk 'NR > 1 && $1 - last > 0.51 { holes++ } { last = $1 } END { print holes + 0 }')
  [ "$holes" = 0 ] || fail "nothing is missing: $holes holes"
  grep -q '^Missed(' small/full.session && fail "nothing had to be given up"
  said "a full disk tears no line and loses nothing"
fi

stage "'$program' replay evening.session --at 2"
see "a replay shows who played" 'Violin'
press q
see "and ends" 'ended with 0'
"$program" sessions . | grep -q 'evening.session' || fail "it is listed"
said "it is listed"
