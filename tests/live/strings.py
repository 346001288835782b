"""Strings that are struck once and die away, and whether tones sound where they belong.

    strings.py FILE.wav HZ...
    strings.py measure FILE.wav HZ...
"""

import array
import cmath
import math
import sys
import wave

RATE = 48000


def strike(path, strings):
    sound = [0.0] * (RATE * 4)
    for hz in strings:
        for k in range(1, 9):
            turn = 2 * math.pi * k * hz * math.sqrt(1 + 3e-5 * k * k) / RATE
            fall = (0.7 + 0.3 * k) / 2.0 / RATE
            for n in range(len(sound) - RATE // 2):
                rise = min(1, n / 200)
                sound[n + RATE // 2] += 0.09 / k**0.8 * rise * math.exp(-fall * n) * math.sin(turn * n + k)
    with wave.open(path, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(array.array("h", [int(32000 * value) for value in sound]).tobytes())


def level(samples, rate, hz):
    sums = sum(
        value * (0.5 - 0.5 * math.cos(2 * math.pi * n / len(samples))) * cmath.exp(-2j * math.pi * hz * n / rate)
        for n, value in enumerate(samples)
    )
    return abs(sums)


def measure(path, tones):
    with wave.open(path) as file:
        rate, channels = file.getframerate(), file.getnchannels()
        samples = array.array("h", file.readframes(file.getnframes()))[::channels]
    middle = samples[len(samples) // 2 : len(samples) // 2 + rate]
    for hz in tones:
        # A second tells 2 Hz: louder there than on either side.
        if level(middle, rate, hz) < 3 * max(level(middle, rate, hz - 3), level(middle, rate, hz + 3)):
            sys.exit(1)


if sys.argv[1] == "measure":
    measure(sys.argv[2], [float(hz) for hz in sys.argv[3:]])
else:
    strike(sys.argv[1], [float(hz) for hz in sys.argv[2:]])
