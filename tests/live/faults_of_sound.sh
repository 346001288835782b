#!/usr/bin/env bash
# What can happen to the sound: its server freezes, dies and comes back at another rate; the
# microphone is moved away without an error; inputs clip, carry direct current, or nothing but
# zeros; the device has fewer channels than the ensemble; the program stands still; the date
# jumps. What is wrong must stand on the screen in words, the sound must be taken up again, and
# the sessions must hold the right pitches and no note that lies across a hole.
#
#   tests/live/faults_of_sound.sh PROGRAM
#
# Needs tmux, python3, faketime and what rig.sh needs; three rigs run side by side. Prints a line
# for each check; ends at the first that fails.
set -euo pipefail
. "$(dirname "$0")/stage.sh" sound "${1:-}"

rigs=(server moved wiring)
rig() { local name=$1; shift; CONCENTO_RIG=$work/rig-$name "$here/rig.sh" "$@"; }
# play RIG FILE: round and round, whenever the server lives.
play() {
  (while true; do rig "$1" play "$2" || sleep 0.2; done) >/dev/null 2>&1 &
  players+=($!)
}
players=()
tidy_more() {
  [ ${#players[@]} = 0 ] || kill "${players[@]}" 2>/dev/null || true
  local name
  for name in "${rigs[@]}"; do rig "$name" down 2>/dev/null || true; done
}
# listen NAME RIG COMMAND
listen() { open "$1" 120 40 "$(rig "$2" env | tr '\n' ';') $3"; }
notes() { python3 "$here/notes.py" "$program" "$@" || fail "what is kept of $2 is right"; }
# The last moment that is kept, on the session's own clock.
moment() { grep -o "^Heard(at:[0-9.]*" "$1.session" | tail -1 | sed 's/.*://'; }

fake=$(ls /usr/lib/*/faketime/libfaketimeMT.so.1 2>/dev/null | head -1)
[ -n "$fake" ] || fail "faketime is not installed"

python3 "$here/tones.py" alone.wav 20 440:0.2 0 &
# Who clips does so in the first four seconds of twenty.
python3 "$here/tones.py" wiring.wav 20 440:0.2 330:0.1:0.3 0:0:0.3 zeros 550:1.5@0-4 0 &
rig server up 2 & rig moved up 2 & rig wiring up 6 &
wait
play server alone.wav; play moved alone.wav; play wiring wiring.wav

# The wiring is heard in rows, the others in large figures.
rehearse="'$program' rehearse"
seats="$rehearse '$here/seats.ron'"
listen wiring wiring "$seats --session wiring.session"
listen server server "$rehearse --session server.session"
listen moved moved "$rehearse --session moved.session"
listen still wiring "$rehearse --channels 6 --session still.session"
echo '+0' >offset
listen clock server "LD_PRELOAD='$fake' FAKETIME_TIMESTAMP_FILE='$work/offset' FAKETIME_NO_CACHE=1 \
  FAKETIME_DONT_FAKE_MONOTONIC=1 $rehearse --session clock.session"
tone='Input 1 .*tempered B♭'
see_on server "server: the tone is heard" "$tone"
see_on clock "clock: the tone is heard" "$tone"
see_on moved "moved: the tone is heard" "$tone"
see_on wiring "clipping is told, with its input" 'Loud overloads input 5: turn it down'
see_on still "still: the tone is heard" 'Input 1 .*B♭'
sleep 2

# What only takes time, side by side.
frozen_at=$(now)
happens still kill -STOP "$(process still)"
happens moved rig moved unplug
happens server rig server freeze
see_on server "a frozen server is told" 'has stopped answering'
see_on moved "a microphone that was moved away is told" 'nothing but zeros for [2-9] s: .* muted'
for hours in +2h -26h; do
  echo "$hours" >offset
  sleep 0.5
done
sleep 1
happens moved rig moved plug
see_on moved "and when it is back the tone is heard" "$tone"
see_on wiring "an input of zeros beside others is named" 'nothing but zeros on input 4 for 1[0-9] s'
see_on wiring "direct current is silence, and beside it pitches are right" \
  'Plain .* B♭4 ' 'Shifted .* F4 ' 'Current .* quiet' 'Muted .* quiet' 'Room .* quiet'
while [ $(($(now) - frozen_at)) -lt 11000 ]; do sleep 0.1; done
happens server rig server thaw
happens still kill -CONT "$(process still)"
see_on still "a program that stood still says so" 'stood still for 1[0-9] s and heard nothing'
see_on still "and hears the tone" 'Input 1 .*B♭'
see_on server "server: the tone is heard again" "$tone"
see_on clock "clock: and so it is whatever the date is" "$tone"

happens server rig server crash
see_on server "a server that died is told" 'has gone|cannot be opened|no microphone'
press_on clock q
see_on clock "clock: it ends as ever" 'ended with 0'
last=$(moment clock)
awk "BEGIN { exit !($last > 10 && $last < 300) }" || fail "the session's clock is not the date's: $last"
rig server up 2 44100
happens server true
see_on server "server: the tone is heard at another rate" "$tone"
sleep 3

# A device with one channel or two for six players.
rig moved crash
rig moved up 2
press_on moved q
see_on moved "moved: it ends as ever" 'ended with 0'
listen few moved "$seats --session few.session"
see_on few "fewer channels than players are told" 'the same sound on inputs 1.* and [3-6]: has the device so many'
press_on few q
rig moved crash
rig moved up 1
python3 "$here/tones.py" one.wav 20 440:0.2
play moved one.wav
listen one moved "$rehearse --session one.session"
see_on one "a device with one channel is heard" "$tone"

# Gone on with at a date before it began: a second sitting, after the first all the same.
listen clock moved "LD_PRELOAD='$fake' FAKETIME=-26h FAKETIME_DONT_FAKE_MONOTONIC=1 \
  $rehearse --session clock.session"
see_on clock "clock: it is gone on with, a day before it began" "$tone"
sleep 2

for name in server wiring still clock one; do press_on "$name" q; done
for name in server wiring still clock few one; do see_on "$name" "$name: it ends as ever" 'ended with 0'; done
notes server.session 'Input 1' 440 4
notes moved.session 'Input 1' 440 3
notes wiring.session Plain 440 8
notes wiring.session Shifted 330 8
# The hole ended when it was told, and lasted for ten seconds and more.
hole=$(sed -nE 's/^Fault\(at:([0-9.]+),.*stood still for 1[0-9] s.*/\1/p' still.session)
[ -n "$hole" ] || fail "the hole is kept"
notes still.session 'Input 1' 440 3 "$(awk "BEGIN { print $hole - 5 }")" "$(awk "BEGIN { print $hole - 1 }")"
notes clock.session 'Input 1' 440 3
[ "$(grep -c '^Begun(' clock.session)" = 2 ] || fail "clock: two sittings"
"$program" sessions . --format json >list 2>told || fail "the sessions are listed"
[ ! -s told ] || fail "the sessions are read without a complaint: $(cat told)"
notes one.session 'Input 1' 440 1
said "all pitches that are kept are right to the cent, and no note lies across a hole"
grep -q '^Fault(.*nothing but zeros' moved.session || fail "the silence is kept"
[ "$(grep -c '^Running(' moved.session)" -ge 2 ] || fail "and so is its end"
said "and what happened stands in the sessions"
