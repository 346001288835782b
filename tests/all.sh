#!/usr/bin/env bash
# Everything that is tested, on a Debian machine with Rust: installs the packages it needs (as
# root, or through sudo), then runs the tests, real recordings and the live path.
set -euo pipefail
cd "$(dirname "$0")/.."

packages=(gcc libasound2-dev pkg-config tmux pulseaudio pulseaudio-utils libasound2-plugins
  chromium chromium-driver python3 fluidsynth fluid-soundfont-gm groff-base)
command -v npm >/dev/null || packages+=(npm)
if ! dpkg -s "${packages[@]}" >/dev/null 2>&1; then
  as_root=(); [ "$(id -u)" = 0 ] || as_root=(sudo)
  "${as_root[@]}" apt-get update
  "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends "${packages[@]}"
fi

# Runs two scripts at the same time; fails if either does.
together() {
  "$1" target/release/concento &
  local first=$! failed=0
  "$2" target/release/concento || failed=1
  wait "$first" || failed=1
  return "$failed"
}

export INSTA_UPDATE=no
cargo build --release --locked --bin concento --example evening
# Both only reckon, on a core each.
together tests/recordings/check.sh tests/evening/check.sh
tests/live/rehearse.sh target/release/concento
tests/live/sessions.sh target/release/concento
tests/live/stand.sh target/release/concento
tests/live/practise.sh target/release/concento
tests/live/bearings.sh target/release/concento
tests/live/setup.sh target/release/concento
tests/live/doctor.sh target/release/concento
together tests/fluidsynth/setup.sh tests/readme/run.py
tests/fluidsynth/check.sh target/release/concento
tests/manual/check.sh target/release/concento
cargo test --locked
tests/report/render.sh
