#!/usr/bin/env bash
# A microphone and a loudspeaker for machines without a sound card: a private PulseAudio server
# with one virtual input, which plays whatever sound file it is given, and one virtual output.
# Needs pulseaudio, pulseaudio-utils and libasound2-plugins. Leaves the user's own sound server
# and settings alone.
#
#   tests/live/rig.sh up 8 [44100]          a microphone of 1, 2, 4, 5, 6 or 8 channels, and a
#                                           stereo loudspeaker; at 48 kHz if nothing is said
#   eval "$(tests/live/rig.sh env)"         programs started from here have them as the defaults
#   tests/live/rig.sh play take.wav         into the microphone, in real time
#   tests/live/rig.sh record out.wav 5      what the loudspeaker plays, for 5 seconds
#   tests/live/rig.sh leak on 30 | leak off the microphone hears the loudspeaker, 30 ms later
#   tests/live/rig.sh unplug | plug         what listens gets nothing but zeros, as from another
#                                           input that is muted, and no error; then sound again
#   tests/live/rig.sh crash | freeze | thaw the server dies; stands still; goes on
#   tests/live/rig.sh down
#
# CONCENTO_RIG names the folder it works in; two rigs need two folders.
set -euo pipefail

home=${CONCENTO_RIG:-${TMPDIR:-/tmp}/concento-rig-$(id -u)}
server=unix:$home/socket

fail() { echo "rig: $*" >&2; exit 1; }
ask() { PULSE_SERVER=$server timeout 5 pactl "$@"; }
# The id of a process this rig has started under that name, if it still lives.
alive() { [ -e "$home/$1.pid" ] && grep -qs pulseaudio\\\|parec "/proc/$(cat "$home/$1.pid")/comm"; }
start() { # start NAME COMMAND...
  local name=$1; shift
  setsid "$@" </dev/null >"$home/$name.log" 2>&1 &
  echo $! >"$home/$name.pid"
}
signal() { if alive "$2"; then kill "-$1" "$(cat "$home/$2.pid")"; fi; }

# The order of channels that ALSA's bridge expects; with any other they would be mixed.
places=(front-left front-right rear-left rear-right front-center lfe side-left side-right)

up() {
  local channels=${1:-2} rate=${2:-48000} map
  case $channels in
    1) map=mono ;;
    2 | 4 | 5 | 6 | 8) map=$(IFS=,; echo "${places[*]:0:channels}") ;;
    *) fail "no microphone of '$channels' channels: choose 1, 2, 4, 5, 6 or 8" ;;
  esac
  down
  mkdir -p "$home"; chmod 700 "$home"; : >"$home/daemon.conf"
  export XDG_RUNTIME_DIR=$home PULSE_RUNTIME_PATH=$home PULSE_STATE_PATH=$home
  # The door is opened last: whoever waits there must not be led to the wrong room.
  cat >"$home/rooms.pa" <<ROOMS
load-module module-null-sink sink_name=stage format=float32le rate=$rate channels=$channels channel_map=$map
load-module module-null-sink sink_name=nothing format=float32le rate=$rate channels=$channels channel_map=$map
load-module module-null-sink sink_name=hall format=float32le rate=48000 channels=2
set-default-source stage.monitor
set-default-sink hall
load-module module-native-protocol-unix auth-anonymous=1 socket=$home/socket
ROOMS
  start server env PULSE_CONFIG="$home/daemon.conf" PULSE_SERVER= DBUS_SESSION_BUS_ADDRESS= \
    pulseaudio -n --daemonize=no --exit-idle-time=-1 --use-pid-file=no --disable-shm=yes \
    -F "$home/rooms.pa"
  for _ in $(seq 100); do ask info >/dev/null 2>&1 && break; sleep 0.1; done
  ask info >/dev/null || { cat "$home/server.log" >&2; fail "the sound server did not start"; }
  # A null sink alone works in blocks of two seconds. A reader in a hurry holds it at 10 ms.
  for sink in stage nothing hall; do
    start "$sink" env PULSE_SERVER="$server" parec -d $sink.monitor --latency-msec=10 --raw /dev/null
  done
  cat >"$home/alsa.conf" <<CONF
</usr/share/alsa/alsa.conf>
pcm.!default { type pulse server "$server" hint { show on description "Stage and hall" } }
ctl.!default { type pulse server "$server" }
CONF
  sleep 1
  alive server && alive stage && alive nothing && alive hall || fail "the sound server ended at once (see $home/server.log)"
}
play() {
  # Channel by channel, without mixing. 200 ms in hand ride out a busy machine.
  PULSE_SERVER=$server exec paplay --no-remap --no-remix --latency-msec=200 --device=stage "$1"
}
record() {
  local code=0
  PULSE_SERVER=$server timeout -s INT "$2" parec -d hall.monitor --latency-msec=50 \
    --rate=48000 --channels=2 --format=s16le --file-format=wav "$1" || code=$?
  # 124: the time was up, as it should be.
  [ $code = 0 ] || [ $code = 124 ] || fail "the loudspeaker cannot be recorded ($code)"
}
leak() {
  [ ! -e "$home/leak" ] || { ask unload-module "$(cat "$home/leak")" || true; rm -f "$home/leak"; }
  [ $# = 0 ] || ask load-module module-loopback source=hall.monitor sink=stage latency_msec="$1" \
    source_dont_move=true sink_dont_move=true >"$home/leak"
}
# Whatever listens to the microphone listens to this source from now on; the rig's own readers
# stay where they are.
listen_to() {
  ask list source-outputs | awk '
    /^Source Output #/ { id = substr($3, 2) }
    /application.process.binary = / { if ($3 != "\"parec\"") print id }' |
    while read -r id; do ask move-source-output "$id" "$1"; done
}
down() {
  signal TERM stage; signal TERM nothing; signal TERM hall
  signal TERM server; signal CONT server
  for _ in $(seq 40); do alive server || alive stage || alive nothing || alive hall || break; sleep 0.05; done
  signal KILL server
  rm -f "$home"/{server,stage,nothing,hall}.pid "$home"/{socket,leak}
}

case ${1:-} in
  up) up "${2:-2}" "${3:-48000}" ;;
  env) printf 'export PULSE_SERVER=%q ALSA_CONFIG_PATH=%q\n' "$server" "$home/alsa.conf" ;;
  play) [ -r "${2:-}" ] || fail "give a sound file to play"; play "$2" ;;
  record) [ -n "${3:-}" ] || fail "give a file and the seconds to record"; record "$2" "$3" ;;
  leak)
    case ${2:-} in
      on) leak "${3:-30}" ;;
      off) leak ;;
      *) fail "give 'on', with the milliseconds it takes, or 'off'" ;;
    esac ;;
  unplug) listen_to nothing.monitor ;;
  plug) listen_to stage.monitor ;;
  crash) signal KILL server; sleep 0.2; down ;;
  freeze) signal STOP server ;;
  thaw) signal CONT server ;;
  down) down ;;
  *) fail "give up, env, play, record, leak, unplug, plug, crash, freeze, thaw or down" ;;
esac
