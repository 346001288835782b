#!/usr/bin/env bash
# Everything that is tested, on a Debian machine with Rust: installs the packages it needs (as
# root, or through sudo), then runs the tests, real recordings and the live path. What plays in real
# time and what only reckons run side by side.
set -euo pipefail
cd "$(dirname "$0")/.."

packages=(gcc libasound2-dev pkg-config tmux pulseaudio pulseaudio-utils libasound2-plugins
  faketime e2fsprogs chromium chromium-driver python3 strace fluidsynth fluid-soundfont-gm groff-base)
command -v npm >/dev/null || packages+=(npm)
if ! dpkg -s "${packages[@]}" >/dev/null 2>&1; then
  as_root=(); [ "$(id -u)" = 0 ] || as_root=(sudo)
  "${as_root[@]}" apt-get update
  "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends "${packages[@]}"
fi

# Built once and together: the program, what the scripts run beside it, and the tests.
export INSTA_UPDATE=no CARGO_PROFILE=ci
cargo test --profile ci --locked --no-run
program=${CARGO_TARGET_DIR:-target}/ci/concento

# What only reckons has half of the machine, and lets everything else go first.
reckoning() {
  renice -n 19 "$BASHPID" >/dev/null
  export RUST_TEST_THREADS=$((($(nproc) + 1) / 2))
  tests/recordings/check.sh "$program"
  tests/evening/check.sh "$program"
  tests/fluidsynth/setup.sh "$program"
  tests/fluidsynth/check.sh "$program"
  tests/manual/check.sh "$program"
  cargo test --profile ci --locked
  tests/load/hours.sh "${program%/*}/examples/soak"
  tests/report/render.sh
}

# What it prints is kept until the rest is done, so that it can be read. Either fails the whole.
said=$(mktemp)
reckoning >"$said" 2>&1 &
reckons=$!
conclude() {
  local code=$?
  wait "$reckons" || code=1
  cat "$said"
  rm "$said"
  exit "$code"
}
trap conclude EXIT
trap 'kill "$reckons" 2>/dev/null; exit 130' INT TERM

# What plays, listens and shows screens takes the time it takes, most of it spent waiting: one after
# another, as each has to hear its own sound in time.
for script in rehearse sessions stand practise bearings setup doctor \
  faults_of_sound faults_of_files faults_of_terminals; do
  tests/live/$script.sh "$program"
done
tests/load/check.sh "${program%/*}/examples/load"
tests/readme/run.py "$program"
tests/privacy/screen.py "$program"
