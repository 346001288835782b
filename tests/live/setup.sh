#!/usr/bin/env bash
# Setting up for real: a trumpet and an organ play into a virtual microphone of four channels, keys
# are pressed in a terminal, and the ensemble file that comes of it is read.
#
#   tests/live/setup.sh PROGRAM
#
# Needs tmux, python3 and what rig.sh needs. Prints a line for each check; ends at the first that
# fails.
set -euo pipefail
. "$(dirname "$0")/stage.sh" setup "${1:-}"

# The channels of these files have no names, which is told each time.
play() { "$here/rig.sh" play "$1" 2>/dev/null; }

if "$program" setup >out 2>err </dev/null; then fail "it needs a terminal"; else code=$?; fi
[ $code = 2 ] && grep -q "needs a terminal" err || fail "without a terminal it says so and ends with 2"
said "without a terminal it says so and ends with 2"

python3 "$here/setup.py" . 416.2
"$here/rig.sh" up 4
eval "$("$here/rig.sh" env)"
open stage 80 24 "'$program' setup"
see "the inputs are listed, and the default one is heard" 'which microphone.*'
see "with the channels it says it has" '2 inputs'
press Right
see "as many channels are heard as are asked for" '4 inputs'
press Enter
see "it asks who plays" 'who plays'
play trumpet.wav &
see "the trumpet is found by its input" 'input 2: Trumpet I'
see "and by how much it is louder than the next" '2[0-9] dB louder than input'
wait $!
press Enter
see "it asks for the next one" 'another player'
play key-A.wav &
see "the next player is found" 'input 3: Trumpet II'
wait $!
press O r g a n
see "whose instrument is known by the name" 'Chamber organ'
press Enter Enter
see "nothing sounds before the first key" 'no single note sounds'
for key in A C E; do
  see "it asks for $key" "play the keyboard.s $key alone"
  play "key-$key.wav"
  see "and takes it" "$key is taken"
done
for _ in 1 2 3 4 5 6 7 8 9; do
  if screen | grep -q 'enough: press Enter'; then break; fi
  asked=$(screen | grep -oE "keyboard.s [A-G][♯♭]? alone" | sed -E 's/keyboard.s (.*) alone/\1/')
  key=$(sed 's/♯/#/; s/♭/b/' <<<"$asked")
  play "key-$key.wav"
  see "$key, which it asked for, is taken too" "$asked is taken"
done
see "one temperament is left" 'only quarter-comma fits'
press Enter
see "the trumpets' key is known by what they played" 'partials of a series on D'
press Enter
see "the file is shown before it is written" 'the file.s name: ensemble.ron'
press Enter
see "it is written, and how to go on is told" 'concento rehearse ensemble.ron'
python3 "$here/setup.py" read ensemble.ron 416.2 | sed 's/^/setup: /' || fail "the file says what was played"
press Enter
see "the rehearsal begins at once" 'Trumpet I'
play key-A.wav &
see "and hears the organ on its input" 'Organ .*tempered A +steady'
wait $!
press q
see "it ends" 'ended with 0'
