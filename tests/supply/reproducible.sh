#!/usr/bin/env bash
# The release, built twice from the lock file: in two folders, with what cargo has fetched lying in
# two places. Fails unless both programs are the same bytes; prints their SHA-256.
#
#   tests/supply/reproducible.sh [FILE]     FILE: where the program is put, if it is wanted
#
# Run by hand, as it takes two whole builds. The same sum comes out elsewhere with the same rustc,
# linker and system libraries. What differs without the flags below are paths: where a library
# could panic, the program names the file it was built from, and that lies in the builder's home.
set -euo pipefail
cd "$(dirname "$0")/../.."

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
fetched=${CARGO_HOME:-$HOME/.cargo}

# build FOLDER CARGO_HOME: builds the tracked files in FOLDER.
build() {
  mkdir -p "$1"
  git ls-files -z | tar --null -T - -cf - | tar -xf - -C "$1"
  (
    cd "$1"
    export CARGO_HOME=$2 CARGO_TARGET_DIR=$1/target
    export CARGO_ENCODED_RUSTFLAGS="--remap-path-prefix=$1=/concento"$'\x1f'"--remap-path-prefix=$2=/cargo"
    cargo build --release --locked --quiet --bin concento
  )
  if grep -qaF -e "$1" -e "$2" "$1/target/release/concento"; then
    echo "reproducible: FAILED: the program names a folder of whoever built it" >&2
    exit 1
  fi
}

cargo fetch --locked --quiet
mkdir "$work/home"
ln -s "$fetched/registry" "$work/home/registry"
build "$work/one" "$fetched"
build "$work/another/and/longer" "$work/home"
one=$work/one/target/release/concento
if ! cmp "$one" "$work/another/and/longer/target/release/concento"; then
  echo "reproducible: FAILED: two builds of the same sources differ" >&2
  exit 1
fi
if [ -n "${1:-}" ]; then cp "$one" "$1"; fi
sha256sum <"$one" | cut -d' ' -f1
rustc --version
