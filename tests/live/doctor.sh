#!/usr/bin/env bash
# 'doctor' beside a sound server that plays, is silent, is frozen and is dead: each time it must
# answer within seconds and say what is the matter.
#
#   tests/live/doctor.sh PROGRAM
#
# Needs what rig.sh needs. Prints a line for each check; ends at the first that fails.
set -euo pipefail

here=$(cd "$(dirname "$0")" && pwd)
program=$(realpath "${1:?give the program to test}")
work=$(mktemp -d)
export CONCENTO_RIG=$work/rig LC_ALL=C.UTF-8 HOME=$work XDG_RUNTIME_DIR=$work/runtime
mkdir -m 700 "$XDG_RUNTIME_DIR"
unset XDG_DATA_HOME XDG_STATE_HOME XDG_CONFIG_HOME

tidy() {
  [ -z "${player:-}" ] || kill "$player" 2>/dev/null || true
  "$here/rig.sh" thaw || true
  "$here/rig.sh" down || true
  rm -rf "$work"
}
trap tidy EXIT

options=()
# ask CODE SECONDS WHAT PATTERN...: the doctor's answer, by which code, within how many seconds.
ask() {
  local expected=$1 seconds=$2 what=$3 code=0 pattern; shift 3
  timeout -s KILL "$seconds" "$program" doctor "${options[@]}" >"$work/answer" 2>&1 || code=$?
  for pattern in "$@"; do
    if [ $code != "$expected" ] || ! grep -qE -- "$pattern" "$work/answer"; then
      echo "doctor: FAILED: $what: exit code $code, no '$pattern' in" >&2
      cat "$work/answer" >&2
      exit 1
    fi
  done
  echo "doctor: $what"
}

"$here/rig.sh" up 2
eval "$("$here/rig.sh" env)"
ask 0 15 "silence asks whether the microphone is on" \
  '^fine +sound server +PulseAudio' '^fine +input +alsa:default .*channels' \
  '^note +microphone ' ' silence$' 'is the microphone on'
# The left channel alone.
"$program" demo alone --write "$work/take.wav" --seconds 30 >/dev/null
"$here/rig.sh" play "$work/take.wav" >/dev/null 2>&1 &
player=$!
sleep 2
ask 0 15 "sound has a level for each channel" '^note +microphone ' '\(−[0-9]+, none dBFS\)' \
  'channel 2 is silent'
# Whether the machine has much to do besides is no part of it.
options=(--live --seconds 2)
ask 0 25 "the sound card's thread, the buffer and the ears are told of live" \
  '^(fine|note) +sound in +[0-9]+ calls' '^(fine|note) +sound out +[0-9]+ calls' \
  '^(fine|note) +buffer +at most [0-9]+ blocks? of' '^(fine|note) +hearing +2 channels take'
options=()
kill "$player" 2>/dev/null || true
player=
"$here/rig.sh" freeze
ask 1 12 "a frozen sound server is told" '^trouble +sound system +does not answer' \
  '^concento: no rehearsal is possible yet, see to: sound system'
"$here/rig.sh" thaw
sleep 1
ask 0 15 "one that goes on is well again" '^fine +sound system'
"$here/rig.sh" crash
ask 1 12 "a dead sound server leaves no input" '^trouble +input +none can be listened to' \
  '^concento: no rehearsal is possible yet, see to: input'
ls "$work"/.local "$work"/.config >/dev/null 2>&1 && { echo "doctor: FAILED: it made folders" >&2; exit 1; }
echo "doctor: looking has made no file"
