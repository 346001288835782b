#!/usr/bin/env bash
# What can happen to the folder a session is kept in while it is recorded: it is read-only from
# the start, or becomes so; it is taken away, or given another name; the file is taken away. What
# is wrong stands on the screen within seconds, the rehearsal goes on, and nothing is lost that
# any disk could take. (A disk that fills up is in sessions.sh.)
#
#   tests/live/faults_of_files.sh PROGRAM
#
# Needs tmux; mounting needs root, and what needs it is passed over without. Prints a line for
# each check; ends at the first that fails.
set -euo pipefail
. "$(dirname "$0")/stage.sh" files "${1:-}"

tidy_more() {
  local folder
  for folder in fixed turning stick; do
    ! mountpoint -q "$work/$folder" || umount -l "$work/$folder"
  done
}
lines() { grep -c "^$2(" "$1" || true; }
# begin NAME SESSION
begin() { open "$1" 100 30 "'$program' demo strings-find-a-chord --session $2"; }
# Whether a session holds at least so many half seconds.
holds() { [ -f "$1" ] && [ "$(lines "$1" Heard)" -ge "$2" ]; }
# whole SESSION: it ended well and nothing is missing in it.
whole() {
  local holes
  [ "$(lines "$1" Ended)" = 1 ] || fail "$1 has no end"
  [ "$(lines "$1" Missed)" = 0 ] || fail "something of $1 was given up"
  holes=$(grep -o '^Heard(at:[0-9.]*' "$1" | sed 's/.*://' |
    awk 'NR == 1 && $1 > 0.51 { holes++ } NR > 1 && $1 - last > 0.51 { holes++ } { last = $1 } END { print holes + 0 }')
  [ "$holes" = 0 ] || fail "$1 has $holes holes"
  "$program" report "$1" --format json >/dev/null 2>told || fail "$1: $(cat told)"
  [ ! -s told ] || fail "$1: $(cat told)"
}
root=$([ "$(id -u)" = 0 ] && echo yes || echo no)

mkdir removed renamed file
begin removed removed/evening.session
begin renamed renamed/evening.session
begin file file/evening.session
if [ "$root" = yes ]; then
  mkdir fixed turning stick
  mount -t tmpfs -o size=4m none fixed
  mount -o remount,ro fixed
  mount -t tmpfs -o size=4m none turning
  mount -t tmpfs -o size=4m none stick
  begin turning turning/evening.session
  begin stick stick/evening.session
  "$program" demo strings-find-a-chord --session fixed/evening.session 2>told </dev/null && fail "a read-only folder is taken"
  cat told
else
  said "no root: nothing is mounted, and what needs it is passed over"
fi
for name in removed renamed file; do wait_for "$name: it is recorded" holds "$name/evening.session" 2; done

rm -r removed
mv renamed moved
rm file/evening.session
see_on removed "a folder that was taken away is told" 'not being recorded: the folder is not there'
see_on renamed "and so is one that was renamed" 'not being recorded: the folder is not there'
see_on file "a file that was taken away is told, and there is another" 'session file was taken away'
wait_for "with all that was in the first" holds file/evening.session 4
if [ "$root" = yes ]; then
  wait_for "turning: it is recorded" holds turning/evening.session 2
  mount -o remount,ro turning
  see_on turning "a disk that may only be read from now on is told" 'not being recorded: the disk may only be read'
fi
