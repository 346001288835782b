#!/usr/bin/env python3
"""An independent reading and measuring of a programme, by music21 and numpy alone.

    reference.py --key D [--trumpets 'Trumpet*'] [--keyboard 'Organ*'] SCORE...   > reference.json
    reference.py --compare PROGRAM ... SCORE...    runs PROGRAM plan and compares every figure

It shares nothing with the program but the definitions: trumpets stand on exact partials (the
nearest of 1-24 in equal temperament with partial 8 on the tonic, none over 70 cents: then on the
tempered place), keyboards on the twelve keys E flat to G sharp, all others on the temperament
extended by spelling. Time is cut into slices in which the set of sounding notes is constant, and
every pair that is spelled as a unison, fifth, fourth, third, sixth or their compounds counts by
its length. Needs music21 (read with 10.5.1) and numpy.
"""

import argparse
import fnmatch
import json
import math
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import music21
import numpy

sys.path.insert(0, str(Path(__file__).parent.parent / "scores"))
import reader

LETTERS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}
PURE = {0: (1, 1), 1: (3, 2), -1: (4, 3), 4: (5, 4), -3: (6, 5), 3: (5, 3), -4: (8, 5)}


def cents(a, b=1):
    return 1200 * math.log2(a / b)


FIFTH, SYNTONIC, PYTHAGOREAN = cents(3, 2), cents(81, 80), cents(531441, 524288)


def regular(part):
    return lambda fifths: (FIFTH - part) * fifths


def circle(narrowed):
    """Cents above C of a circulating temperament by the fifths (from C upwards) it narrows."""
    places, place = {}, 0.0
    for step in range(12):
        places[step] = place % 1200
        place += FIFTH - narrowed.get(step, 0.0)
    assert abs((place - 8400 + 600) % 1200 - 600) < 1e-6, "the circle does not close"
    return lambda fifths: places[fifths % 12]


# The fifths by their lower notes: C 0, G 1, D 2, A 3, E 4, B 5, F# 6 ... F 11.
TEMPERAMENTS = {
    "equal": circle({step: PYTHAGOREAN / 12 for step in range(12)}),
    "pythagorean": regular(0.0),
    "third-comma": regular(SYNTONIC / 3),
    "quarter-comma": regular(SYNTONIC / 4),
    "fifth-comma": regular(SYNTONIC / 5),
    "sixth-comma": regular(SYNTONIC / 6),
    "vallotti": circle({step: PYTHAGOREAN / 6 for step in (11, 0, 1, 2, 3, 4)}),
    "young-2": circle({step: PYTHAGOREAN / 6 for step in (0, 1, 2, 3, 4, 5)}),
    "werckmeister-3": circle({step: PYTHAGOREAN / 4 for step in (0, 1, 2, 5)}),
}


def fifths_of(pitch):
    assert pitch.alter == int(pitch.alter), "no quarter tones"
    return LETTERS[pitch.step] + 7 * int(pitch.alter)


def named(pitch):
    sharps = int(pitch.alter)
    return f"{pitch.step}{'#' * sharps}{'b' * -sharps}{pitch.octave}"


def tempered(fifths, key_number, temperament):
    """Cents above C4: the equal place plus what the temperament adds."""
    equal = 100 * (key_number - 60)
    return equal + (temperament(fifths) - equal + 600) % 1200 - 600


def common_bars(score):
    """How far a moment of a part must be moved so that a bar begins in all parts at once.

    music21 makes a bar of nothing but a rest as long as the time signature, in an upbeat too, and
    lets that part run late ever after. A bar is as long as the parts make it that play in it.
    """
    bars = [list(part.getElementsByClass("Measure")) for part in score.parts]
    if len({len(own) for own in bars}) != 1 or not bars[0]:
        return lambda part, at: 0
    starts, begin = [], Fraction(0)
    for row in zip(*bars):
        starts.append(begin)
        playing = [bar for bar in row if bar.flatten().notes] or row
        begin += max(Fraction(bar.highestTime) for bar in playing)

    def shift(part, at):
        own = list(part.getElementsByClass("Measure"))
        index = max(i for i, bar in enumerate(own) if Fraction(bar.offset) <= at)
        return starts[index] - Fraction(own[index].offset)

    return shift


class Piece:
    def __init__(self, path, key, trumpets, keyboard):
        score = reader.parsed(path).toSoundingPitch()
        self.key = music21.pitch.Pitch(key)
        eighth = 60 + int(self.key.ps) % 12
        self.eighth = eighth if eighth >= 69 else eighth + 12
        shift = common_bars(score)
        self.parts = []
        for part in score.parts:
            name = " ".join((part.partName or "").split())
            notes = []
            for element in part.stripTies().flatten().notes:
                if element.duration.isGrace or element.quarterLength == 0:
                    continue
                onset = Fraction(element.offset)
                onset += shift(part, onset)
                for pitch in element.pitches:
                    notes.append((onset, onset + Fraction(element.quarterLength), pitch))
            side = "other"
            if any(fnmatch.fnmatch(name.lower(), p.lower()) for p in trumpets):
                side = "trumpet"
            elif any(fnmatch.fnmatch(name.lower(), p.lower()) for p in keyboard):
                side = "keyboard"
            self.parts.append((name, side, notes))

    def partial(self, key_number):
        distances = [(abs(100 * (key_number - self.eighth) - cents(n, 8)), n) for n in range(1, 25)]
        distance, number = min(distances)
        return number if distance <= 70 else None

    def place(self, pitch, side, temperament):
        key_number, fifths = int(pitch.ps), fifths_of(pitch)
        if side == "keyboard":
            struck = next(f for f in range(-3, 9) if (f - fifths) % 12 == 0)
            return tempered(struck, key_number, temperament)
        number = self.partial(key_number) if side == "trumpet" else None
        if number is None:
            return tempered(fifths, key_number, temperament)
        tonic = tempered(fifths_of(self.key), self.eighth, temperament)
        return tonic + cents(number, 8)

    def slices(self):
        """Every constant stretch: its length and what sounds in it."""
        changes = sorted({t for _, _, notes in self.parts for on, off, _ in notes for t in (on, off)})
        events = [
            (on, off, side, pitch) for _, side, notes in self.parts for on, off, pitch in notes
        ]
        for begin, end in zip(changes, changes[1:]):
            sounding = [(p, s) for on, off, s, p in events if on <= begin and off >= end]
            yield end - begin, sounding

    def pairs(self):
        """Length, lower and upper (pitch, side), pure cents: one entry for each kind."""
        found = {}
        for length, sounding in self.slices():
            for i, one in enumerate(sounding):
                for other in sounding[i + 1 :]:
                    low, high = sorted((one, other), key=lambda x: x[0].ps)
                    interval = fifths_of(high[0]) - fifths_of(low[0])
                    if interval not in PURE:
                        continue
                    kind = (named(low[0]), low[1], named(high[0]), high[1])
                    if kind not in found:
                        found[kind] = [Fraction(0), low, high, cents(*PURE[interval])]
                    found[kind][0] += length
        return list(found.values())


def measure(pieces, temperament):
    sums = {}
    for piece, pairs in pieces:
        for length, low, high, pure in pairs:
            places = [piece.place(p, s, temperament) for p, s in (low, high)]
            error = (places[1] - places[0] - pure + 600) % 1200 - 600
            trumpets = (low[1] == "trumpet") + (high[1] == "trumpet")
            group = ("other_other", "trumpet_other", "trumpet_trumpet")[trumpets]
            for name in (group, "all"):
                entry = sums.setdefault(name, [0.0, 0.0])
                entry[0] += float(length)
                entry[1] += float(length) * error**2
    names = ("trumpet_other", "trumpet_trumpet", "other_other", "all")
    return {n: math.sqrt(sums[n][1] / sums[n][0]) if n in sums else None for n in names}


def best_fraction(pieces):
    """By trying: a grid, then a finer one around its lowest place."""
    low, high = 0.0, 1 / 3
    while high - low > 1e-7:
        grid = numpy.linspace(low, high, 11)
        values = [measure(pieces, regular(x * SYNTONIC))["all"] for x in grid]
        best = int(numpy.argmin(values))
        low, high = grid[max(best - 1, 0)], grid[min(best + 1, 10)]
    return (low + high) / 2


def farthest(pieces, temperament):
    errors = []
    for piece, pairs in pieces:
        for _, low, high, pure in pairs:
            places = [piece.place(p, s, temperament) for p, s in (low, high)]
            errors.append(abs((places[1] - places[0] - pure + 600) % 1200 - 600))
    return sorted(errors, reverse=True)[:10]


def reference(paths, key, trumpets, keyboard):
    pieces = [Piece(path, key, trumpets, keyboard) for path in paths]
    paired = [(piece, piece.pairs()) for piece in pieces]
    usage, missing, unplayable = {}, {}, {}
    for piece in pieces:
        for name, side, notes in piece.parts:
            for onset, end, pitch in notes:
                if side == "trumpet":
                    cell = usage.setdefault(name, {}).setdefault(named(pitch), {})
                    cell["partial"] = piece.partial(int(pitch.ps))
                    if cell["partial"] is None:
                        unplayable[f"{name} {named(pitch)}"] = True
                elif side == "keyboard" and not -3 <= fifths_of(pitch) <= 8:
                    cell = missing.setdefault(f"{name} {named(pitch)}", {})
                else:
                    continue
                cell["count"] = cell.get("count", 0) + 1
                cell["quarters"] = cell.get("quarters", 0) + (end - onset)
    for cell in [c for part in usage.values() for c in part.values()] + list(missing.values()):
        cell["quarters"] = float(cell["quarters"])
    temperaments = {name: measure(paired, t) for name, t in TEMPERAMENTS.items()}
    return {
        "music21": music21.__version__,
        "usage": usage,
        "unplayable": sorted(unplayable),
        "missing_keys": missing,
        "temperaments": temperaments,
        "best_fraction": best_fraction(paired),
        "farthest_in_sixth_comma": farthest(paired, TEMPERAMENTS["sixth-comma"]),
    }


def compare(program, paths, key, trumpets, keyboard):
    """Every figure of the program against the reference; the differences, in words."""
    command = [program, "plan", "--key", key, "--trumpets", ",".join(trumpets), "--format", "json"]
    if keyboard:
        command += ["--keyboard", ",".join(keyboard)]
    run = lambda more: json.loads(subprocess.run(command + more + paths, check=True, capture_output=True).stdout)
    ours, theirs = run([]), reference(paths, key, trumpets, keyboard)
    wrong = []
    same = lambda a, b, by: (a is None) == (b is None) and (a is None or abs(a - b) <= by)
    for name, expected in theirs["temperaments"].items():
        for group, value in expected.items():
            found = ours["temperaments"][name][group]
            if not same(found, value, 0.005):
                wrong.append(f"{name} {group}: {found}, reference {value}")
    if not same(ours["best_fraction"], theirs["best_fraction"], 1e-5):
        wrong.append(f"best fraction: {ours['best_fraction']}, reference {theirs['best_fraction']}")
    strip = lambda usage: {
        part: {n: (c["partial"], c["count"], round(c["quarters"], 6)) for n, c in notes.items()}
        for part, notes in usage.items()
        if notes
    }
    if strip(ours["usage"]) != strip(theirs["usage"]):
        wrong.append(f"usage: {strip(ours['usage'])}, reference {strip(theirs['usage'])}")
    bent = sorted({f"{row['part']} {row['note']}" for row in ours["unplayable"]})
    if bent != theirs["unplayable"]:
        wrong.append(f"unplayable: {bent}, reference {theirs['unplayable']}")
    missing = {}
    for row in ours["missing_keys"]:
        cell = missing.setdefault(f"{row['part']} {row['note']}", {"count": 0, "quarters": 0.0})
        cell["count"] += row["count"]
        cell["quarters"] += row["quarters"]
    if missing != theirs["missing_keys"]:
        wrong.append(f"missing: {missing}, reference {theirs['missing_keys']}")
    sixth = run(["--temperament", "sixth-comma"])
    far = [abs(row["cents"]) for row in sixth["worst"]]
    if len(far) != len(theirs["farthest_in_sixth_comma"]) or any(
        abs(a - b) > 0.005 for a, b in zip(far, theirs["farthest_in_sixth_comma"])
    ):
        wrong.append(f"farthest: {far}, reference {theirs['farthest_in_sixth_comma']}")
    return wrong


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("scores", nargs="+")
    parser.add_argument("--key", required=True)
    parser.add_argument("--trumpets", default="Trumpet*")
    parser.add_argument("--keyboard", default="")
    parser.add_argument("--compare", metavar="PROGRAM")
    given = parser.parse_args()
    trumpets = given.trumpets.split(",")
    keyboard = [name for name in given.keyboard.split(",") if name]
    if given.compare:
        wrong = compare(given.compare, given.scores, given.key, trumpets, keyboard)
        print("\n".join(wrong) or f"the same: {' '.join(given.scores)}")
        sys.exit(bool(wrong))
    print(json.dumps(reference(given.scores, given.key, trumpets, keyboard), indent=1, sort_keys=True))


main()
