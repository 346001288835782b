#!/usr/bin/env bash
# What can happen to a terminal: it is closed, its program is told to end, or is stopped and goes
# on, its size changes a thousand times. The terminal must be given back as it was, and the
# session must hold everything up to the end. Then the whole program is killed at fifty moments.
#
#   tests/live/faults_of_terminals.sh PROGRAM
#
# Needs tmux and python3. Prints a line for each check; ends at the first that fails.
set -euo pipefail
. "$(dirname "$0")/stage.sh" terminals "${1:-}"

mkdir -p "$XDG_CONFIG_HOME/concento"
echo '(version: 1, mouse: true)' >"$XDG_CONFIG_HOME/concento/settings.ron"

# What a program may change about a terminal: its modes, whether the alternate screen is up,
# whether there is a cursor, and who is told of the mouse.
modes() {
  local name=$1
  stty -a -F "$(terminal display-message -p -t "=$name:" '#{pane_tty}')" | tr '\n' ' '
  terminal display-message -p -t "=$name:" \
    'alternate #{alternate_on} cursor #{cursor_flag} mouse #{mouse_any_flag}'
}
same() { [ "$(modes "$1")" = "$2" ]; }
# kept NAME AT_LEAST: the session has ended well and holds every half second up to its end, and
# at least so many.
kept() {
  local heard last ended
  [ "$(grep -c '^Ended(' "$1.session")" = 1 ] || fail "$1: the session has no end"
  heard=$(grep -c '^Heard(' "$1.session")
  last=$(grep '^Heard(' "$1.session" | tail -1 | sed -E 's/^Heard\(at:([0-9]+)\.([0-9]).*/\1\2/')
  ended=$(grep '^Ended(' "$1.session" | sed -E 's/^Ended\(at:([0-9]+)\.([0-9]).*/\1\2/')
  [ "$heard" -ge "$2" ] || fail "$1: $heard half seconds are kept, not $2"
  # The last span begins half a second before the end at the most, or has only begun there.
  [ $((ended - last)) -le 5 ] || fail "$1: the end is missing: $last of $ended tenths"
}
# begin NAME: the demo in a shell of its own, which has job control as a user's has.
declare -A before
begin() {
  terminal has-session -t =foyer 2>/dev/null || terminal new-session -d -s foyer 'sleep 10000'
  terminal new-session -d -s "$1" -x 100 -y 30 "bash --norc --noprofile -i"
  wait_for "$1: a shell" stands "$1" '[$#] *$'
  before[$1]=$(modes "$1")
  terminal send-keys -t "=$1:" "'$program' demo strings-find-a-chord --session $1.session" Enter
}
program_in() { pgrep -f -- "--session $1.session" | head -1; }

for name in HUP TERM INT QUIT TSTP; do begin "$name"; done
for name in HUP TERM INT QUIT TSTP; do
  see_on "$name" "$name: a demo sounds" 'Violin.*[♯♭A-G][0-9]'
done
[[ $(modes TERM) = *"-icanon"*"alternate 1 cursor 0 mouse 1"* ]] || fail "the terminal is taken"
sleep 2

for signal in TERM INT QUIT; do
  kill "-$signal" "$(program_in "$signal")"
  wait_for "$signal: the terminal is as it was" same "$signal" "${before[$signal]}"
  terminal send-keys -t "=$signal:" 'echo ended with $?' Enter
  see_on "$signal" "$signal: the shell knows why" "ended with $((128 + $(kill -l "$signal")))"
  kept "$signal" 4
done
pid=$(program_in HUP)
terminal kill-session -t =HUP
wait_for "HUP: a closed terminal ends it" not runs "$pid"
kept HUP 4

pid=$(program_in TSTP)
for how in "signal" "key"; do
  if [ "$how" = key ]; then terminal send-keys -t =TSTP: C-z; else kill -TSTP "$pid"; fi
  wait_for "TSTP by $how: the terminal is as it was" same TSTP "${before[TSTP]}"
  see_on TSTP "and the shell has it" 'Stopped'
  grep -q '^State:.*T' "/proc/$pid/status" || fail "it does not stand still"
  sleep 1
  terminal send-keys -t =TSTP: 'clear; fg' Enter
  see_on TSTP "and it is taken again" 'Violin.*[♯♭A-G][0-9]'
  [[ $(modes TSTP) = *"-icanon"*"alternate 1 cursor 0 mouse 1"* ]] || fail "taken as it was: $(modes TSTP)"
done
press_on TSTP q
wait_for "TSTP: and given back at the end" same TSTP "${before[TSTP]}"
kept TSTP 4

# A thousand sizes, from none at all to larger than any screen, over all views.
begin sizes
see_on sizes "sizes: a demo sounds" 'Violin.*[♯♭A-G][0-9]'
pid=$(program_in sizes)
begun=$(now)
seed=0
for key in p c d l '?'; do
  press_on sizes "$key"
  seed=$((seed + 1))
  python3 "$here/sizes.py" "$(terminal display-message -p -t =sizes: '#{pane_tty}')" 200 "$seed"
  runs "$pid" || fail "sizes: the program has ended"
done
press_on sizes Escape p
took=$(($(now) - begun))
terminal resize-window -t =sizes: -x 90 -y 30
terminal resize-window -t =sizes: -x 100 -y 30
see_on sizes "after 1000 sizes in $took ms the picture is whole" 'A 415.0 Hz' 'Violin.*[♯♭A-G][0-9]'
press_on sizes q
wait_for "sizes: the terminal is as it was" same sizes "${before[sizes]}"
kept sizes 2

# More keys at once than a terminal is read in one go, a sequence that is never finished, and text
# from another program: it is no key, and stands in one line where something is typed.
open keys 100 30 "'$program' demo strings-find-a-chord --session keys.session"
see_on keys "keys: a demo sounds" 'Violin.*[♯♭A-G][0-9]'
# put [-p] TEXT: all at once, with -p as a paste.
put() {
  terminal set-buffer -b put "${@: -1}"
  terminal paste-buffer -d -b put -t =keys: ${2:+"$1"}
}
# goes_on WHAT: the picture moves, and the recording with it.
goes_on() {
  local size
  size=$(stat -c %s keys.session)
  longer() { [ "$(stat -c %s keys.session)" -gt "$size" ]; }
  wait_for "$1" longer
}
put "$(printf 'p%.0s' $(seq 5000))l"
see_on keys "keys: after 5000 at once the last one counts" 'Enter player by player'
put "$(printf '\033[')"
goes_on "keys: a sequence without an end stops nothing"
press_on keys A
put -p "$(printf 'tt\nquit\nq')"
see_on keys "keys: what is pasted is no key" 'pasted is passed over'
press_on keys p M
put -p "$(printf 'Trumpets low\nquiet please')"
see_on keys "keys: and is one line where words are wanted" 'Trumpets low quiet please'
press_on keys Enter
see_on keys "keys: which is marked" 'marked 0:'
press_on keys q
see_on keys "keys: and q ends it" 'ended with 0'
grep -q '^Marked(.*Trumpets low quiet please' keys.session || fail "the words are kept"
[ "$(grep -c '^Tuned(' keys.session)" -le 1 ] || fail "no letter of it tuned anything"
# Closed where a sequence waits for its end: whoever reads on from there reads for ever.
open torn 100 30 "'$program' demo strings-find-a-chord --session torn.session"
see_on torn "torn: a demo sounds" 'Violin.*[♯♭A-G][0-9]'
pid=$(program_in torn)
terminal send-keys -t =torn: -l "$(printf '\033[')"
sleep 1
terminal kill-session -t =torn
wait_for "torn: a terminal that is closed in the middle of a key ends it" not runs "$pid"
kept torn 1

# Killed at fifty moments, ten at a time. Each waits for its screen's first picture, so that the
# start of the program is no part of the moment.
python3 "$here/killed.py" "$program" 50
