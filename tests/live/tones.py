"""Writes a sound file of steady tones, one channel for each that is given.

    tones.py OUT SECONDS TONE...

A tone is HZ:LEVEL:CURRENT: whole hertz, the peak (more than 1 clips), and a direct current; a
microphone's hiss lies below it. HZ 0 is the hiss alone, and 'zeros' is no signal at all. With
'@FROM-TO' behind it, it sounds in those seconds only, and the hiss the rest of the time.
"""
import array
import math
import random
import struct
import sys

RATE = 48_000
# Of a decent microphone: quieter than what counts as sound.
HISS = 10 ** (-84 / 20)


def second(tone, noise):
    """A second of a tone, which is a whole number of periods."""
    if tone == "zeros":
        return array.array("f", bytes(4 * RATE))
    hz, level, current = (float(part) for part in (tone + ":0:0").split(":")[:3])
    if hz == 0:
        return array.array("f", (n + current for n in noise))
    shape = [sum(math.sin(2 * math.pi * n * k * hz / RATE) / k for k in (1, 2, 3, 4))
             for n in range(RATE)]
    scale = level / max(shape)
    return array.array("f", (max(-1.0, min(1.0, s * scale + n + current))
                             for s, n in zip(shape, noise)))


def main():
    path, seconds, tones = sys.argv[1], int(sys.argv[2]), sys.argv[3:]
    random.seed(1)
    noise = [random.gauss(0, HISS) for _ in range(RATE)]
    hiss = second("0", noise)
    channels = []
    for tone in tones:
        tone, _, span = tone.partition("@")
        begin, end = (int(s) for s in span.split("-")) if span else (0, seconds)
        channels.append((second(tone, noise), begin, end))
    count = len(channels)
    with open(path, "wb") as out:
        size = 4 * count * RATE * seconds
        out.write(b"RIFF" + struct.pack("<I", 36 + size) + b"WAVEfmt " +
                  struct.pack("<IHHIIHH", 16, 3, count, RATE, 4 * count * RATE, 4 * count, 32) +
                  b"data" + struct.pack("<I", size))
        for at in range(seconds):
            block = array.array("f", bytes(4 * count * RATE))
            for index, (sound, begin, end) in enumerate(channels):
                block[index::count] = sound if begin <= at < end else hiss
            block.tofile(out)


main()
