#!/usr/bin/env bash
# The demo's twenty minutes, heard faster than real time: the record against the scene's truth.
# Usage: tests/evening/check.sh CONCENTO
set -euo pipefail
cd "$(dirname "$0")/../.."

concento=$1
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
"$concento" demo twenty-minutes --record "$folder/evening.session"
cargo run --quiet --profile "${CARGO_PROFILE:-release}" --locked --example evening -- "$folder/evening.session"
