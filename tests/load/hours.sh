#!/usr/bin/env bash
# Eight hours of a rehearsal in less than a minute, by readings: memory stays within 10 MB and the
# session within what is promised.
#
#   tests/load/hours.sh SOAK
#
# SOAK is the example of that name, optimised. With ears, an hour of work: SOAK FILE 8.
set -euo pipefail

soak=${1:?give the example to run}
folder=$(mktemp -d)
trap 'rm -r "$folder"' EXIT
"$soak" "$folder/hours.session" 8 readings
