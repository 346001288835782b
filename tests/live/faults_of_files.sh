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
data=$XDG_DATA_HOME/concento/sessions

mkdir removed renamed file swapped
begin removed removed/removed.session
begin renamed renamed/renamed.session
begin file file/file.session
begin swapped swapped/swapped.session
if [ "$(id -u)" = 0 ]; then
  is_root=yes
  mkdir fixed turning stick
  mount -t tmpfs -o size=4m none fixed
  mount -o remount,ro fixed
  mount -t tmpfs -o size=4m none stick
  begin fixed fixed/fixed.session
  begin stick stick/stick.session
else
  said "not root: nothing can be mounted, and what needs it is passed over"
fi
# A file system that an error of its own makes read-only while a file on it is being written.
fault=
if [ -n "${is_root:-}" ] && command -v mkfs.ext4 >/dev/null && truncate -s 8M image &&
  mkfs.ext4 -q image && mount -o loop,errors=remount-ro image turning 2>/dev/null; then
  fault=/sys/fs/ext4/$(basename "$(findmnt -no SOURCE "$work/turning")")/trigger_fs_error
fi
if [ -w "$fault" ]; then
  begin turning turning/turning.session
else
  fault=
  said "no file system can be made to fail here: that is passed over"
fi

for name in removed renamed file swapped; do
  wait_for "$name: it is recorded" holds "$name/$name.session" 2
done
happens removed rm -r removed
happens renamed mv renamed moved
happens file rm file/file.session
# As a program does that keeps folders alike.
swap() { cp "$1" "$1.other" && mv "$1.other" "$1"; }
happens swapped swap swapped/swapped.session
see_on removed "a folder that was taken away is told" 'not being recorded: the folder is not there'
see_on renamed "and so is one that was renamed" 'not being recorded: the folder is not there'
see_on file "a file that was taken away is told" 'session file was taken away'
see_on swapped "a file that was put in its place is left alone" 'recording goes on in'
wait_for "and written again with all that was in it" holds file/file.session 4
if [ -n "${is_root:-}" ]; then
  see_on fixed "a folder that may only be read is told" 'not being recorded: the disk may only be read'
  wait_for "stick: it is recorded" holds stick/stick.session 2
  happens stick umount -l stick
  see_on stick "a stick that was pulled is told" 'not being recorded: the folder is not there|session file was taken away'
fi
if [ -n "$fault" ]; then
  wait_for "turning: it is recorded" holds turning/turning.session 2
  happens turning tee "$fault" <<<1 >/dev/null
  see_on turning "a disk that may only be read from now on is told" 'not being recorded: the disk may only be read'
fi

# The rehearsals go on meanwhile. What can be put right is written as soon as it is.
sleep 2
happens renamed mv moved renamed
see_on renamed "the folder is back: it is written again" 'written again|, kept|taken away'
mkdir removed
wait_for "another folder of that name will do" holds removed/removed.session 6
for name in removed renamed file swapped; do press_on "$name" q; done
see_on swapped "swapped: where it is kept is told" "kept in '.*swapped-2.session'" 'replay .*swapped-2.session'
for name in removed renamed file swapped; do
  see_on "$name" "$name: it ends as ever" 'ended with 0'
  whole "$(ls -t "$name"/*.session | head -1)"
done
said "and nothing is missing in them"

# What cannot is told at the end with its place, and is whole there.
rescued() {
  press_on "$1" q
  see_on "$1" "$1: it says where all of it is" "$2" "all of it" 'ended with 1'
  wait_for "$1: and there it is" holds "$data/$1.session" 4
  whole "$data/$1.session"
}
if [ -n "${is_root:-}" ]; then
  rescued fixed 'may only be read'
  press_on stick q
  see_on stick "stick: it ends" 'ended with [01]'
  whole "$(ls stick/stick.session "$data/stick.session" 2>/dev/null | head -1)"
fi
[ -z "$fault" ] || rescued turning 'may only be read'

mkdir gone
begin gone gone/gone.session
wait_for "gone: it is recorded" holds gone/gone.session 2
happens gone rm -r gone
see_on gone "gone: it is told" 'not being recorded: the folder is not there'
kill -HUP "$(process gone)"
wait_for "gone: and even after a hangup all of it is in the data folder" holds "$data/gone.session" 2
wait_for "gone: with its end" test "$(lines "$data/gone.session" Ended)" = 1
whole "$data/gone.session"
