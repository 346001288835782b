"""Writes the keys of a keyboard one by one, and asks the program what they are tuned to.

    keys.py write FILE.mid SOUND
    keys.py judge UNTUNED.csv TUNED.csv PROGRAM TEMPERAMENT A4_HZ CENTS_TO_ALLOW

Asks as a musician at the keyboard would be asked: A, C and E first, then the keys the program wants
to hear, until it wants no more. The truth must come first, or among those that are said to be alike,
and A4 within the cents that are allowed: counted from the level of the untuned sound, as the sound
font's own is some cents off for whole instruments. What its single keys are off is left in.
"""

import csv
import json
import math
import statistics
import struct
import subprocess
import sys

NAMES = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B"]
LOWEST = 60  # C4
SECONDS = 2.5  # from one key to the next


def write(path, sound):
    def event(ticks, *data):
        size = [ticks & 0x7F]
        while ticks := ticks >> 7:
            size.insert(0, ticks & 0x7F | 0x80)
        return bytes(size + list(data))

    # 480 ticks a quarter, two quarters a second.
    track = event(0, 0xFF, 0x51, 3, 0x07, 0xA1, 0x20) + event(0, 0xC0, sound)
    for key in range(LOWEST, LOWEST + 12):
        track += event(240, 0x90, key, 90) + event(1920, 0x80, key, 0) + event(240, 0xB0, 0x50, 0)
    track += event(960, 0xFF, 0x2F, 0)
    head = b"MThd" + struct.pack(">IHHH", 6, 0, 1, 480)
    with open(path, "wb") as file:
        file.write(head + b"MTrk" + struct.pack(">I", len(track)) + track)


def pitches(path):
    heard = [[] for _ in NAMES]
    with open(path) as file:
        for row in csv.DictReader(file):
            if row["hz"]:
                place, within = divmod(float(row["time_s"]), SECONDS)
                # The second that follows the beginning of the key, as on the screen.
                if 0.35 < within < 1.35 and int(place) < len(NAMES):
                    heard[int(place)].append(float(row["hz"]))
    return {name: statistics.median(hz) for name, hz in zip(NAMES, heard) if len(hz) > 20}


def ask(program, heard):
    keys = ",".join(f"{name}={hz:.4f}" for name, hz in heard.items())
    told = subprocess.run(
        [program, "temperaments", "--fit", keys, "--format", "json"],
        check=True, capture_output=True, text=True,
    )
    return json.loads(told.stdout)


def judge(untuned, path, program, temperament, a4, limit):
    heard = pitches(path)
    if set(heard) != set(NAMES):
        sys.exit(f"FAILED: heard only {sorted(heard)}")
    played = {name: heard[name] for name in ("A", "C", "E")}
    told = ask(program, played)
    while new := [name for name in told["play_next"] if name in heard and name not in played]:
        played.update({name: heard[name] for name in new[:1]})
        told = ask(program, played)
    alike = [row["name"] for row in told["temperaments"] if row["fits"]]
    level = ask(program, pitches(untuned))["a4_hz"] / 440
    off = 1200 * math.log2(told["a4_hz"] / a4 / level)
    row = next(row for row in told["temperaments"] if row["name"] == temperament)
    farthest = max(row["notes"], key=lambda note: abs(note["off_cents"]))
    said = (
        f"{len(played)} keys, {told['verdict']}: {', '.join(alike) or told['temperaments'][0]['name']}; "
        f"A4 {off:+.2f} cents; residuals {row['off_cents']:.2f}, "
        f"at most {farthest['off_cents']:+.1f} on {farthest['key']}"
    )
    if temperament not in alike:
        sys.exit(f"FAILED: {said}: the truth is not among them")
    if abs(off) > limit:
        sys.exit(f"FAILED: {said}: more than {limit} cents")
    print(said)


if __name__ == "__main__":
    if sys.argv[1] == "write":
        write(sys.argv[2], int(sys.argv[3]))
    else:
        judge(*sys.argv[2:6], float(sys.argv[6]), float(sys.argv[7]))
