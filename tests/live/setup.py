"""Sounds for a microphone of four channels, and what was set up from them.

    setup.py FOLDER A4_HZ        a trumpet's three partials, and twelve keys of an organ in
                                 quarter-comma, as WAV files
    setup.py read FILE A4_HZ     whether the ensemble file says what was played
"""

import math
import re
import struct
import sys
import wave

RATE = 48000
NAMES = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B"]
# Fifths from C along the usual row of keys, E flat to G sharp.
FIFTHS = {"Eb": -3, "Bb": -2, "F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5, "F#": 6, "C#": 7, "G#": 8}


def hertz(name, a4):
    """Quarter-comma by its definition: four fifths make a pure major third."""
    fifth = 1200 * math.log2(5) / 4
    semitones = NAMES.index(name)
    above_c = (FIFTHS[name] * fifth) % 1200
    a_above_c = (3 * fifth) % 1200
    assert abs(above_c - 100 * semitones) < 60
    return a4 * 2 ** ((above_c - a_above_c) / 1200)


def tone(hz, seconds, weights):
    frames = int(seconds * RATE)
    ramp = int(0.05 * RATE)
    samples = []
    for frame in range(frames):
        envelope = min(1.0, frame / ramp, (frames - frame) / ramp)
        phase = 2 * math.pi * hz * frame / RATE
        samples.append(envelope * sum(w * math.sin((n + 1) * phase) for n, w in enumerate(weights)))
    return samples


def write(path, samples, channel):
    """The sound on one of four channels, 22 dB softer on the others."""
    peak = max(map(abs, samples)) or 1.0
    with wave.open(path, "wb") as file:
        file.setnchannels(4)
        file.setsampwidth(2)
        file.setframerate(RATE)
        data = bytearray()
        for sample in samples:
            for at in range(4):
                level = 0.3 if at == channel else 0.3 * 10 ** (-22 / 20)
                data += struct.pack("<h", int(32767 * level * sample / peak))
        file.writeframes(bytes(data))


def sounds(folder, a4):
    brass = [1.0, 0.9, 0.8, 0.6, 0.5, 0.35, 0.25, 0.15]
    fundamental = hertz("D", a4) / 4
    trumpet = [s for n in (4, 5, 6) for s in tone(fundamental * n, 0.9, brass)]
    write(f"{folder}/trumpet.wav", trumpet, 1)
    for name in NAMES:
        write(f"{folder}/key-{name}.wav", tone(hertz(name, a4), 2.5, [1.0, 0.4, 0.25, 0.1]), 2)


def read(path, a4):
    with open(path) as file:
        text = re.sub(r"//.*", "", file.read())
    said = float(re.search(r"a4_hz: ([0-9.]+)", text)[1])
    off = 1200 * math.log2(said / a4)
    wanted = [
        'temperament: "quarter-comma"', 'chain: "Eb-G#"', 'trumpets: (key: "D")',
        '(name: "Trumpet I", instrument: "natural-trumpet", input: 2)',
        '(name: "Organ", instrument: "organ", input: 3)',
    ]
    missing = [line for line in wanted if line not in text]
    if missing or abs(off) > 0.5:
        sys.exit(f"A4 {off:+.2f} cents off; missing {missing} in\n{text}")
    print(f"the file says what was played, A4 within {abs(off):.2f} cents")


if __name__ == "__main__":
    if sys.argv[1] == "read":
        read(sys.argv[2], float(sys.argv[3]))
    else:
        sounds(sys.argv[1], float(sys.argv[2]))
