"""Holds the notes of a session against what was played.

    notes.py PROGRAM SESSION PLAYER HERTZ LEAST [MOMENT...]

All notes of the player must stand at HERTZ to within a cent, and sound for LEAST seconds in all;
none may sound at a MOMENT (seconds on the session's clock).
"""
import csv
import io
import math
import subprocess
import sys

program, session, player, hertz, least = sys.argv[1:6]
told = subprocess.run([program, "report", session, "--format", "csv"],
                      capture_output=True, text=True, check=True)
notes = [row for row in csv.DictReader(io.StringIO(told.stdout)) if row["player"] == player]
total = 0.0
for note in notes:
    cents = 1200 * math.log2(float(note["hz"]) / float(hertz))
    begun, ended = float(note["begun_s"]), float(note["ended_s"])
    total += ended - begun
    if abs(cents) > 1.0:
        sys.exit(f"{session}: {note['hz']} Hz at {begun} s is {cents:+.2f} cents from {hertz} Hz")
    for at in sys.argv[6:]:
        if begun < float(at) < ended:
            sys.exit(f"{session}: a note from {begun} to {ended} s sounds at {at} s")
if total < float(least):
    sys.exit(f"{session}: {player} sounds for {total:.1f} s in all, not for {least}")
