#!/usr/bin/env bash
# The temperament of a keyboard by ear: single keys of a synthesiser retuned to a known temperament,
# measured, and what is proposed held against the truth.
#
#   tests/fluidsynth/setup.sh PROGRAM
#
# Needs fluidsynth, fluid-soundfont-gm and python3. Prints a line for each keyboard; ends at the
# first that fails.
set -euo pipefail

here=$(cd "$(dirname "$0")" && pwd)
program=$(realpath "${1:?give the program to test}")
font=${SOUND_FONT:-/usr/share/sounds/sf2/FluidR3_GM.sf2}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work"
[ -r "$font" ] || { echo "setup: FAILED: no sound font '$font': install fluid-soundfont-gm" >&2; exit 1; }

# Sounds of General MIDI, counted from 0. How far their A4 may lie off, in cents.
sounds=(square=80=1 organ=16=1 harpsichord=6=1)
render() { # render MIDI
  fluidsynth -ni -q -R 0 -C 0 -r 48000 -g 0.5 -F sound.wav -T wav -O s16 "$font" "$1" >/dev/null
  "$program" analyse sound.wav --format csv
}
for sound in "${sounds[@]}"; do
  IFS== read -r name number _ <<<"$sound"
  python3 "$here/keys.py" write "$name.mid" "$number"
  render "$name.mid" >"$name.csv"
done
while read -r temperament a4; do
  for sound in "${sounds[@]}"; do
    IFS== read -r name _ cents <<<"$sound"
    "$program" retune --temperament "$temperament" --a4 "$a4" --into "$name.mid" -o tuned.mid >/dev/null
    render tuned.mid >tuned.csv
    said=$(python3 "$here/keys.py" judge "$name.csv" tuned.csv "$program" "$temperament" "$a4" "$cents") || {
      echo "setup: $name in $temperament at $a4: FAILED" >&2; exit 1
    }
    echo "setup: $name in $temperament at $a4: $said"
    rm tuned.mid
  done
done <<'LIST'
equal 440
quarter-comma 415
sixth-comma 415
vallotti 440
werckmeister-3 415
kirnberger-3 440
pythagorean 415
LIST
