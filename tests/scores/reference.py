"""What music21 reads of scores, as the CSV that `cargo run --example scores` prints, and by whom.

For each file, part and sounding note: how often it is played, tied notes counted once, and for
how many quarter notes altogether. music21 parses and transposes; ties are joined here, note by
note also within chords, as its own `stripTies` joins chords only whole. Run by hand with
music21 10.5.1: reference.py FILE... > FILE.csv
"""

import csv
import sys
import warnings
import zipfile
from fractions import Fraction
from xml.etree import ElementTree

import music21
from music21 import chord, converter, note

warnings.filterwarnings("ignore")
BY = f"music21 {music21.VERSION_STR}"


def ascii_name(pitch):
    # To the nearest key where a pitch lies between two, of both the one with less accidental.
    alter = pitch.alter
    whole = int(abs(alter) + 0.4999) * (1 if alter > 0 else -1)
    signs = ("#" if whole > 0 else "b") * abs(whole)
    return f"{pitch.step}{signs}{pitch.octave}", pitch.diatonicNoteNum, whole


def key_number(pitch):
    name, _, whole = ascii_name(pitch)
    return 12 * (pitch.octave + 1) + {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}[pitch.step] + whole


def sounding(part):
    """(onset, end, key, name, tie) of every note of a part, chords taken apart."""
    notes = []
    for element in part.recurse().notes:
        if element.duration.isGrace or isinstance(element, note.Unpitched):
            continue
        if "ChordSymbol" in element.classes or "PercussionChord" in element.classes:
            continue
        onset = Fraction(element.getOffsetInHierarchy(part)).limit_denominator(100_000)
        length = Fraction(element.duration.quarterLength).limit_denominator(100_000)
        if length == 0:
            continue
        members = element.notes if isinstance(element, chord.Chord) else [element]
        for member in members:
            tie = member.tie or (element.tie if len(members) == 1 else None)
            # The chord's members carry their own; a chord that is tied whole has it itself.
            kind = tie.type if tie is not None else None
            name = ascii_name(member.pitch)[0]
            notes.append((onset, onset + length, key_number(member.pitch), name, kind))
    return sorted(notes, key=lambda one: one[:4])


def joined(notes):
    done, open_ties = [], {}
    for onset, end, key, name, kind in notes:
        index = None
        if kind in ("stop", "continue"):
            before = open_ties.get((key, onset), [])
            same = [i for i in before if done[i][2] == name] or before
            if same:
                index = same[0]
                before.remove(index)
                done[index][1] = end
        if index is None:
            index = len(done)
            done.append([onset, end, name, key])
        if kind in ("start", "continue"):
            open_ties.setdefault((key, end), []).append(index)
    return done


def parsed(path):
    """The score, with rests for cues, which music21 takes for notes like others."""
    if path.endswith(".mid"):
        return converter.parse(path)
    text = open(path, "rb").read()
    if path.endswith(".mxl"):
        with zipfile.ZipFile(path) as packed:
            names = [name for name in packed.namelist() if not name.startswith(("META-INF", "mimetype"))]
            text = packed.read(names[0])
    if b"<cue" not in text:
        return converter.parse(path)
    root = ElementTree.fromstring(text)
    for written in root.iter("note"):
        if written.find("cue") is not None and (pitch := written.find("pitch")) is not None:
            pitch.clear()
            pitch.tag = "rest"
    return converter.parse(ElementTree.tostring(root, "unicode"), format="musicxml")


def rows(path):
    score = parsed(path)
    if "Opus" in score.classes:
        raise ValueError("an opus")
    score = score.toSoundingPitch()
    # The staves of one part come as parts of their own, called after it.
    parts = {}
    for index, part in enumerate(score.parts):
        identity = str(part.id)
        own = identity.split("-Staff")[0] if "-Staff" in identity else f"{identity} {index}"
        parts.setdefault(own, []).extend(sounding(part))
    for number, notes in enumerate(parts.values(), start=1):
        sums = {}
        for onset, end, name, key in joined(sorted(notes, key=lambda one: one[:4])):
            count, quarters = sums.get((key, name), (0, Fraction(0)))
            sums[key, name] = (count + 1, quarters + end - onset)
        for (key, name), (count, quarters) in sorted(sums.items()):
            yield [path, number, name, count, quarters]


def main(paths):
    table = csv.writer(sys.stdout, lineterminator="\n")
    table.writerow(["file", "part", "note", "count", "quarters", "by"])
    for path in paths:
        try:
            table.writerows([*row, BY] for row in list(rows(path)))
        except Exception as error:  # whatever music21 raises is a result too
            table.writerow([path, "error", f"{type(error).__name__}: {error}"[:200], "", "", BY])


if __name__ == "__main__":
    main(sys.argv[1:])
