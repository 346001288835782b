#!/usr/bin/env bash
# The manual pages are rendered without a warning, and bash completes with what it is given.
#
#   tests/manual/check.sh PROGRAM
#
# Needs groff (Debian: groff-base). Prints a line for each check; ends at the first that fails.
set -euo pipefail

program=$(realpath "${1:?give the program to test}")
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
fail() { echo "manual: FAILED: $*" >&2; exit 1; }

"$program" manual --output "$work/man1" >"$work/said"
"$program" manual --output "$work/man1" | grep -q '^0 pages written' || fail "the same pages twice"
pages=("$work"/man1/*.1)
commands=$("$program" --help | sed -n '/^Commands:/,/^Options:/s/^  \([a-z-]*\)  .*/\1/p' | grep -v '^help$')
for command in $commands; do
  [ -e "$work/man1/concento-$command.1" ] || fail "no page for '$command'"
  "$program" manual "$command" | cmp -s - "$work/man1/concento-$command.1" || fail "two pages for '$command'"
done
[ ${#pages[@]} = $(($(wc -w <<<"$commands") + 1)) ] || fail "${#pages[@]} pages for: $commands"
for page in "${pages[@]}"; do
  groff -man -K utf8 -Tutf8 -P -cbou -ww -rLL=78n "$page" >"$work/page" 2>"$work/warnings"
  [ ! -s "$work/warnings" ] || fail "$(basename "$page"): $(head -3 "$work/warnings")"
  for section in NAME SYNOPSIS DESCRIPTION OPTIONS EXAMPLES; do
    grep -q "^$section$" "$work/page" || fail "$(basename "$page") has no $section"
  done
done
echo "manual: ${#pages[@]} pages, rendered without a warning"

"$program" completions bash >"$work/completions"
# complete EXPECTED WORD...: the last word is completed to what is expected, among others.
complete_to() {
  local expected=$1; shift
  bash -euc '
    source "$1"; shift
    COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1))
    _concento concento "${COMP_WORDS[COMP_CWORD]}" "${COMP_WORDS[COMP_CWORD - 1]}"
    printf "%s\n" "${COMPREPLY[@]}"' bash "$work/completions" "$@" >"$work/replies"
  grep -qx -- "$expected" "$work/replies" || fail "'$*' is not completed to '$expected'"
}
complete_to rehearse concento reh
complete_to --session concento rehearse --se
complete_to csv concento series --format c
echo "manual: bash completes commands, options and their values"
for shell in zsh fish; do
  if command -v $shell >/dev/null; then
    "$program" completions $shell >"$work/of-$shell"
    $shell -n "$work/of-$shell" || fail "$shell does not understand its completions"
    echo "manual: $shell understands its completions"
  fi
done
