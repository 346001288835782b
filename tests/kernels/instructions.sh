#!/usr/bin/env bash
# Instructions of one hop, all in all and for the twelve functions that take most, by what
# sounds. Counted by valgrind, so that other programs and the machine's mood do not matter.
#
#   tests/kernels/instructions.sh [SOUND...]      (silence low mid high breath run; all without)
set -euo pipefail
cd "$(dirname "$0")/../.."

if ! command -v valgrind >/dev/null || ! command -v callgrind_annotate >/dev/null; then
  echo "instructions: valgrind is missing: install it, on Debian with 'apt-get install valgrind'" >&2
  exit 2
fi

# With the names of functions; in a folder of its own, so that nothing else is built anew.
export CARGO_PROFILE_RELEASE_DEBUG=line-tables-only
cargo build --release --locked --quiet --example hops --target-dir target/instructions
program=target/instructions/release/examples/hops
seconds=2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

[ $# -gt 0 ] || set -- silence low mid high breath run
for sound in "$@"; do
  hops=$(valgrind --tool=callgrind --toggle-collect='hops::counted' \
    --callgrind-out-file="$work/$sound" --log-file="$work/log" "$program" "$sound" "$seconds" |
    sed -n 's/^hops: //p')
  # Lines are "count  file:function [object]", and a function has one for each file of which
  # something was inlined into it.
  callgrind_annotate --auto=no --show-percs=no --threshold=100 "$work/$sound" |
    awk -v hops="$hops" '
      { count = $1; gsub(",", "", count) }
      /PROGRAM TOTALS/ { total = count; next }
      total && count ~ /^[0-9]+$/ {
        $1 = ""
        name = $0
        sub(/^ [^:]*:/, "", name)
        sub(/ \[[^\]]*\]$/, "", name)
        sum[name] += count
      }
      END {
        printf "%d 100.0 all in all\n", total / hops
        for (name in sum) printf "%d %.1f %s\n", sum[name] / hops, 100 * sum[name] / total, name
      }' | sort -rn >"$work/functions"
  echo "$sound, instructions a hop:"
  head -13 "$work/functions" | while read -r count percent name; do
    printf '  %9d  %5s %%  %.90s\n' "$count" "$percent" "$name"
  done
done
