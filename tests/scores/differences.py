"""Where two readings of scores differ: differences.py OURS.csv THEIRS.csv. See compare.sh."""

import csv
import sys


def load(path):
    scores = {}
    with open(path, newline="") as lines:
        for row in csv.DictReader(lines):
            if row["file"] != "file":
                note = (row["part"], row["note"], row["count"], row["quarters"])
                scores.setdefault(row["file"], set()).add(note)
    # Parts without notes have a number in one of them only: those with notes are counted.
    for file, notes in scores.items():
        parts = sorted({int(note[0]) for note in notes if note[0] != "error"})
        scores[file] = {(parts.index(int(n[0])) + 1, *n[1:]) if n[0] != "error" else n for n in notes}
    return scores


ours, theirs = load(sys.argv[1]), load(sys.argv[2])
differing = 0
for file in sorted(theirs):
    mine, other = ours.get(file, set()), theirs[file]
    if mine != other:
        differing += 1
        print(f"{file}: ours {sorted(mine - other, key=str)}, music21's {sorted(other - mine, key=str)}")
print(f"{len(theirs)} scores, {len(theirs) - differing} of them the same in both")
sys.exit(differing > 0)
