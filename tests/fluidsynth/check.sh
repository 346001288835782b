#!/usr/bin/env bash
# Temperaments in a synthesiser: the same notes rendered untuned and tuned, both measured, and how
# far each note moved held against what the temperament asks for.
#
#   tests/fluidsynth/check.sh PROGRAM
#
# Needs fluidsynth, fluid-soundfont-gm and python3. Prints a line for each tuning; ends at the
# first that fails. The sound font itself is cents off on many notes: only differences tell.
set -euo pipefail

here=$(cd "$(dirname "$0")" && pwd)
program=$(realpath "${1:?give the program to test}")
font=${SOUND_FONT:-/usr/share/sounds/sf2/FluidR3_GM.sf2}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work"
[ -r "$font" ] || { echo "fluidsynth: FAILED: no sound font '$font': install fluid-soundfont-gm" >&2; exit 1; }

render() { # render MIDI WAV
  fluidsynth -ni -q -R 0 -C 0 -r 48000 -g 0.5 -F "$2" -T wav -O s16 "$font" "$1" >/dev/null
}

python3 "$here/scale.py" write untuned.mid
render untuned.mid untuned.wav
"$program" analyse untuned.wav --format csv >untuned.csv
while read -r temperament a4 kept whole; do
  options=(--temperament "$temperament" --a4 "$a4" --kept-by "$kept")
  "$program" retune "${options[@]}" ${whole:+--whole-cents} --into untuned.mid -o tuned.mid >/dev/null
  "$program" temperaments "$temperament" --a4 "$a4" --kept-by "$kept" --format json >wanted.json
  render tuned.mid tuned.wav
  "$program" analyse tuned.wav --format csv >tuned.csv
  of="$temperament at $a4 kept by $kept${whole:+ in whole cents}"
  said=$(python3 "$here/scale.py" compare untuned.csv tuned.csv wanted.json "${whole:+1.0}") || {
    echo "fluidsynth: $of: FAILED" >&2; exit 1
  }
  echo "fluidsynth: $of: $said"
  rm tuned.mid
done <<'LIST'
sixth-comma 440 A
sixth-comma 440 A whole
quarter-comma 415 A
vallotti 466 C
werckmeister-3 392 D whole
LIST
