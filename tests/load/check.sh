#!/usr/bin/env bash
# The live path under load, fed by a thread that stands for the sound card's: 32 channels in real
# time lose nothing; an overload of twenty times that is met by doing less, and then more again.
#
#   tests/load/check.sh LOAD [SECONDS]
#
# LOAD is the example of that name, optimised. Ten minutes: tests/load/check.sh LOAD 600.
set -euo pipefail

load=${1:?give the example to run}
"$load" 32 "${2:-20}*1"
"$load" 32 "6*20" "30*1"
