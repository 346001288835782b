#!/usr/bin/env bash
# Setting up for real: a trumpet and an organ play into a virtual microphone of four channels, keys
# are pressed in a terminal, and the ensemble file that comes of it is read.
#
#   tests/live/setup.sh PROGRAM
#
# Needs tmux, python3 and what rig.sh needs. Prints a line for each check; ends at the first that
# fails.
set -euo pipefail

here=$(cd "$(dirname "$0")" && pwd)
program=$(realpath "${1:?give the program to test}")
work=$(mktemp -d)
export LC_ALL=C.UTF-8 XDG_STATE_HOME=$work XDG_DATA_HOME=$work XDG_CONFIG_HOME=$work CONCENTO_RIG=$work/rig
socket=concento-setup-$$
cd "$work"

terminal() { tmux -L "$socket" -f /dev/null "$@"; }
tidy() {
  terminal kill-server 2>/dev/null || true
  "$here/rig.sh" down || true
  rm -rf "$work"
}
trap tidy EXIT
shown() { terminal capture-pane -p -t stage; }
fail() { echo "setup: FAILED: $*" >&2; shown >&2 || true; exit 1; }
see() { # see SECONDS WHAT PATTERN
  local until=$((SECONDS + $1))
  while [ $SECONDS -lt $until ]; do
    if shown | grep -qE -- "$3"; then echo "setup: $2"; return; fi
    sleep 0.1
  done
  fail "$2"
}
press() { for key in "$@"; do terminal send-keys -t stage "$key"; sleep 0.1; done; }
# The channels of these files have no names, which is told each time.
play() { "$here/rig.sh" play "$1" 2>/dev/null; }

if "$program" setup >out 2>err </dev/null; then fail "it needs a terminal"; else code=$?; fi
[ $code = 2 ] && grep -q "needs a terminal" err || fail "without a terminal it says so and ends with 2"
echo "setup: without a terminal it says so and ends with 2"

python3 "$here/setup.py" . 416.2
"$here/rig.sh" up 4
eval "$("$here/rig.sh" env)"
terminal new-session -d -s stage -x 80 -y 24 "'$program' setup; echo ended with \$?; sleep 60"
see 15 "the inputs are listed, and the default one is heard" 'which microphone.*'
see 15 "with the channels it says it has" '2 inputs'
press Right
see 8 "as many channels are heard as are asked for" '4 inputs'
press Enter
see 3 "it asks who plays" 'who plays'
play trumpet.wav &
see 5 "the trumpet is found by its input" 'input 2: Trumpet I'
see 1 "and by how much it is louder than the next" '2[0-9] dB louder than input'
wait $!
press Enter
see 3 "it asks for the next one" 'another player'
play key-A.wav &
see 6 "the next player is found" 'input 3: Trumpet II'
wait $!
press O r g a n
see 2 "whose instrument is known by the name" 'Chamber organ'
press Enter Enter
see 4 "nothing sounds before the first key" 'no single note sounds'
for key in A C E; do
  see 3 "it asks for $key" "play the keyboard.s $key alone"
  play "key-$key.wav"
  see 4 "and takes it" "$key is taken"
done
for _ in 1 2 3 4 5 6 7 8 9; do
  if shown | grep -q 'enough: press Enter'; then break; fi
  asked=$(shown | grep -oE "keyboard.s [A-G][♯♭]? alone" | sed -E 's/keyboard.s (.*) alone/\1/')
  key=$(sed 's/♯/#/; s/♭/b/' <<<"$asked")
  play "key-$key.wav"
  see 4 "$key, which it asked for, is taken too" "$asked is taken"
done
see 1 "one temperament is left" 'only quarter-comma fits'
press Enter
see 3 "the trumpets' key is known by what they played" 'partials of a series on D'
press Enter
see 3 "the file is shown before it is written" 'the file.s name: ensemble.ron'
press Enter
see 3 "it is written, and how to go on is told" 'concento rehearse ensemble.ron'
python3 "$here/setup.py" read ensemble.ron 416.2 | sed 's/^/setup: /' || fail "the file says what was played"
press Enter
see 8 "the rehearsal begins at once" 'Trumpet I'
play key-A.wav &
see 6 "and hears the organ on its input" 'Organ .*tempered A +steady'
wait $!
press q
see 5 "it ends" 'ended with 0'
