#!/usr/bin/env bash
# The live path for real: a recording played into a microphone of eight channels, 'rehearse' in
# a terminal, and the screen read back. Then the sound server dies and comes back, freezes and
# goes on, and the rehearsal must take the sound up again by itself.
#
#   tests/live/rehearse.sh PROGRAM
#
# Needs tmux and what rig.sh needs. Prints a line for each check; ends at the first that fails.
set -euo pipefail
. "$(dirname "$0")/stage.sh" live "${1:-}"

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
stage "'$program' rehearse '$here/band.ron'"

# The organ does not waver: F sharp of sixth-comma meantone, 7.2 cents above the pure third.
organ='Organ .* F♯4 +5 +\+7 +F♯ +±0 '
third='Trumpet III .* D5 +8 +[+−±][0-3] +D +[+−±][0-3] '
see "both deviations of organ and trumpet are on the screen" "$organ" "$third"
press t
see "another temperament is a key away" 'Organ .* F♯4 .* F♯ +[+−][1-9]'
press T
see "and back" "$organ"
press +
see "the pitch standard moves by half a hertz" 'A 415\.5 Hz'
press -
see "and back" 'A 415\.0 Hz' "$organ"

"$here/rig.sh" crash
see "a lost input is told in words" 'has gone|cannot be opened|no microphone'
"$here/rig.sh" up 8
see "and taken up again by itself" "$organ"
"$here/rig.sh" freeze
see "a frozen sound server is told in words" 'stopped answering'
press '?'
see "while the screen answers to keys" 'quit'
press Escape
"$here/rig.sh" thaw
see "and the sound goes on" "$organ"
press q
see "the terminal is given back" 'ended with 0'

# Two shared microphones: five voices before the first, three strings before the second. The
# chord view tells them apart; a key holds the trumpets' chord, which goes into the session.
kill "$player"; player=
perl "$here/mix.pl" "$work/take.wav" "$work/shared.wav" 1,2,3,7,8 4,5,6
mv "$work/shared.wav" "$work/take.wav"
"$here/rig.sh" up 2
play
stage "'$program' rehearse '$here/shared.ron' --session held.session"
press c
see "the voices of two shared microphones stand on the ladder" \
  'Gallery p5/F♯4 +[+−][67] +±0 ' 'Gallery p8/D5 +[+−±][0-3] +[+−±][0-3] ' 'Strings D4 +[+−±][0-2] +[+−±][0-2] '
press Enter
see "a key holds the trumpets' chord" 'held as 1: .*p8' '◎ 1 held .* ago: .*p8(/D5)? [+−±][0-3] '
press 0
see "and another releases it" '◎ none in use'
press 1
see "and it is recalled by its number" '◎ 1 held .* ago: .*p8(/D5)? [+−±][0-3] '
press Tab
see "the large form can be read from afar" '█'
press q
see "the terminal is given back again" 'ended with 0'
grep -q 'label:"p8"' held.session || fail "the held chord is in the session"
said "the held chord is in the session"

# A terminal that is closed takes the program with it.
stage "'$program' demo alone"
demo=$(process)
see "a demo sounds" 'Trumpet'
terminal kill-server
wait_for "closing the terminal ends it" not runs "$demo"
