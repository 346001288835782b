# Sourced by the scripts that read a screen back: `. "$(dirname "$0")/stage.sh" LABEL PROGRAM`.
# A folder of its own to work in, where nothing of the user's is found, a terminal (or several, each
# with a name; 'stage' where none is given), and checks that wait until something stands there.
#
# Needs tmux, and rig.sh what it needs. Prints a line for each check with how long it took; ends at
# the first that fails. A check waits long, as machines may be slow: how long is no part of it.

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
label=$1
program=$(realpath "${2:?give the program to test}")
work=$(mktemp -d)
patience=30
socket=concento-$label-$$
export LC_ALL=C.UTF-8 HOME=$work XDG_RUNTIME_DIR=$work/runtime CONCENTO_RIG=$work/rig
export XDG_STATE_HOME=$work/state XDG_DATA_HOME=$work/data XDG_CONFIG_HOME=$work/settings
mkdir -m 700 "$XDG_RUNTIME_DIR"
cd "$work"

terminal() { tmux -L "$socket" -f /dev/null "$@"; }
# What a script has to put right itself is the body of this, defined anew after sourcing.
tidy_more() { :; }
tidy() {
  tidy_more || true
  terminal kill-server 2>/dev/null || true
  [ -z "${player:-}" ] || kill "$player" 2>/dev/null || true
  "$here/rig.sh" down 2>/dev/null || true
  cd /
  # What was killed may still be writing.
  rm -rf "$work" 2>/dev/null || { sleep 1; rm -rf "$work"; }
}
trap tidy EXIT

said() { echo "$label: $*"; }
fail() {
  echo "$label: FAILED: $*" >&2
  local name
  for name in $(terminal list-sessions -F '#S' 2>/dev/null | grep -v '^foyer$'); do
    echo "--- $name" >&2
    terminal capture-pane -p -t "=$name:" >&2 || true
  done
  exit 1
}
# open NAME COLUMNS ROWS COMMAND: what runs in that terminal from now on.
open() {
  # Without another terminal the server would end, and the next one might meet it at the door.
  terminal has-session -t =foyer 2>/dev/null || terminal new-session -d -s foyer 'sleep 10000'
  terminal kill-session -t "=$1" 2>/dev/null || true
  terminal new-session -d -s "$1" -x "$2" -y "$3" "$4; echo ended with \$?; sleep 1000"
}
# stage COMMAND: the same for the one terminal most scripts have.
stage() { open stage 100 30 "$1"; }
# The process in a terminal.
process() {
  local until=$((SECONDS + patience)) found
  while [ $SECONDS -lt $until ]; do
    found=$(pgrep -P "$(terminal display-message -p -t "=${1:-stage}:" '#{pane_pid}')" || true)
    if [ -n "$found" ]; then echo "$found"; return; fi
    sleep 0.05
  done
  fail "nothing was started"
}
screen() { terminal capture-pane -p -t "=${1:-stage}:" 2>/dev/null; }
# Milliseconds of a clock.
now() { echo $(($(date +%s%N) / 1000000)); }
# happens NAME COMMAND...: what is done to the terminal of this name, or to what it needs; the
# next check of it tells how long after that it was.
declare -A happened
happens() { local name=$1; shift; happened[$name]=$(now); "$@"; }
# In seconds, from milliseconds.
seconds() { echo "$(($1 / 1000)).$(printf %03d $(($1 % 1000))) s"; }
# wait_for WHAT COMMAND...: until the command succeeds.
wait_for() {
  local what=$1 begun after='' until=$((SECONDS + patience)); shift
  begun=$(now)
  until "$@"; do
    [ $SECONDS -lt $until ] || fail "$what"
    sleep 0.05
  done
  if [ -n "${of:-}" ] && [ -n "${happened[$of]:-}" ]; then
    after=", $(seconds $(($(now) - ${happened[$of]}))) after it happened"
    unset "happened[$of]"
  fi
  said "$what ($(seconds $(($(now) - begun)))$after)"
}
# Whether all patterns stand on one picture of a screen.
stands() {
  local pane pattern; pane=$(screen "$1"); shift
  for pattern in "$@"; do grep -qE -- "$pattern" <<<"$pane" || return 1; done
}
not() { ! "$@"; }
# see WHAT PATTERN..., see_on NAME WHAT PATTERN...: until all stand there at once.
see() { see_on stage "$@"; }
see_on() { local of=$1 what=$2; shift 2; wait_for "$what" stands "$of" "$@"; }
# gone_on NAME WHAT PATTERN: until it stands there no more.
gone_on() { wait_for "$2" not stands "$1" "$3"; }
# press KEY..., press_on NAME KEY...
press() { press_on stage "$@"; }
press_on() { local name=$1 key; shift; for key in "$@"; do terminal send-keys -t "=$name:" -- "$key"; sleep 0.1; done; }
# Whether a process runs: one that has ended may stay a zombie until somebody asks for it.
runs() { [ -d "/proc/$1" ] && ! grep -q '^State:.*Z' "/proc/$1/status" 2>/dev/null; }
