#!/bin/sh
# Reads scores with this program and with music21 and tells where they differ.
# compare.sh FILE... ; PYTHON names an interpreter that has music21 (10.5.1 was used).
# Without files it takes all MusicXML of music21's corpus, which takes half an hour.
set -eu
here=$(dirname "$0")
python=${PYTHON:-python3}
folder=$(mktemp -d)
trap 'rm -r "$folder"' EXIT
if [ $# -eq 0 ]; then
    "$python" -c "
from music21.common import getCorpusFilePath
from pathlib import Path
for path in sorted(Path(getCorpusFilePath()).rglob('*')):
    if path.suffix in ('.mxl', '.xml', '.musicxml'):
        print(path)" > "$folder/files"
else
    printf '%s\n' "$@" > "$folder/files"
fi
tr '\n' '\0' < "$folder/files" | xargs -0 cargo run -q --release --example scores -- > "$folder/ours.csv"
tr '\n' '\0' < "$folder/files" | xargs -0 "$python" "$here/reference.py" > "$folder/theirs.csv"
"$python" "$here/differences.py" "$folder/ours.csv" "$folder/theirs.csv"
