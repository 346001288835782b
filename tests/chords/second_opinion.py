#!/usr/bin/env python3
"""A second opinion on chords: their pitches by a method that shares nothing with this program.

    python3 -m venv target/second_opinion
    target/second_opinion/bin/pip install numpy==2.4.6 scipy==1.17.1
    target/second_opinion/bin/python tests/chords/second_opinion.py

Renders the chords of tests/data/chord_cases.csv as the integration test `chords_by_scipy` does
(formula below, to the sample), estimates the pitches of the same second of sound, and writes
tests/data/chord_second_opinion.csv. It knows what the program is told too: how many voices there
are and about where they stand (`sought_hz`), and how many partials each has.

1. Rotational invariance (ESPRIT) in a narrow band around each fundamental: as many complex
   exponentials as lines are expected there, of which those at multiples of lower voices are
   taken away.
2. From there a nonlinear least-squares fit (scipy.optimize.least_squares) of the waveform: all
   partials of all voices at once, exact multiples, with the amplitudes and phases eliminated
   (variable projection). The pitch of a voice may bend as a cubic, and its partials decay at a
   rate linear in their number. Fitted with the partials up to 2, 4 and all, in turn.

The pitch is the mean of the fitted bend through a Hann window over that second. `residual` is what
the fit leaves, over what the noise alone leaves: 1 to 1.8 where the fit is the true one (a wander
is no cubic), tens elsewhere.
Run with numpy 2.4.6 and scipy 1.17.1. No part of a test run.

    turns[i]  = sum over j < i of hz 2^(wander_cents sin(2 pi wander_hz j/rate + place) / 1200) / rate
    sample[i] = sum over n of level n^-fall e^(-i/rate (1 + 0.2 (n - 1)) / decay_s) sin(2 pi n turns[i] + n^2 phase)
                + noise (2 x[i] / 2^32 - 1),  x[i] = (1664525 x[i-1] + 1013904223) mod 2^32, x[-1] = place

with i from 0, n from 1 to `partials`, and `place` the voice's number within its case, from 1.
"""
import csv
from itertools import groupby
from pathlib import Path

import numpy as np
from scipy.linalg import cho_factor, cho_solve, hankel
from scipy.optimize import least_squares
from scipy.signal import firwin, resample_poly

DATA = Path(__file__).parents[1] / "data"
RATE = 48_000
SECONDS = 2.2
# The middle of the second that is measured: where an update of the program has its own.
MIDDLE_S = 1.025
# The fit works on every fourth sample: all partials lie below 5 kHz.
FEWER = 4
BAND_HZ = 24.0


def render(voice, place):
    """The sound of one voice without noise, and the noise."""
    time = np.arange(int(RATE * SECONDS)) / RATE
    cents = voice["wander_cents"] * np.sin(2 * np.pi * voice["wander_hz"] * time + place)
    steps = voice["hz"] * 2 ** (cents / 1200) / RATE
    turns = np.concatenate([[0.0], np.cumsum(steps)[:-1]])
    sound = np.zeros_like(time)
    for n in range(1, int(voice["partials"]) + 1):
        fading = np.exp(-time * (1 + 0.2 * (n - 1)) / voice["decay_s"])
        sound += voice["level"] * n ** -voice["fall"] * fading * np.sin(2 * np.pi * n * turns + n * n * voice["phase"])
    noise, x = np.empty_like(time), place
    for i in range(len(noise)):
        x = (1664525 * x + 1013904223) % 2**32
        noise[i] = voice["noise"] * (2 * x / 2**32 - 1)
    near = np.abs(time - MIDDLE_S) < 0.5
    hann = np.cos(np.pi * (time[near] - MIDDLE_S)) ** 2
    true_hz = voice["hz"] * 2 ** (np.average(cents[near], weights=hann) / 1200)
    return sound, noise, true_hz


def second(sound):
    """The second around the middle, at the lower rate."""
    fewer = resample_poly(sound, 1, FEWER)
    start = round((MIDDLE_S - 0.5) * RATE / FEWER)
    return fewer[start : start + RATE // FEWER]


def lines_in_band(sound, hz, count):
    """The frequencies of `count` lines near hz, by rotational invariance."""
    rate = RATE / FEWER
    low = sound * np.exp(-2j * np.pi * hz * np.arange(len(sound)) / rate)
    # What lies a band's width away is gone before every hundredth sample is kept.
    low = np.convolve(low, firwin(1001, 1.5 * BAND_HZ, fs=rate), mode="valid")[::100]
    half = len(low) // 2
    left = np.linalg.svd(hankel(low[:half], low[half - 1 :]))[0][:, :count]
    poles = np.linalg.eigvals(np.linalg.lstsq(left[:-1], left[1:], rcond=None)[0])
    return hz + np.angle(poles) * rate / 100 / (2 * np.pi)


def first_guess(sound, voices):
    """Every voice's fundamental, from its band and without what lower voices have there."""
    found = [None] * len(voices)
    order = sorted(range(len(voices)), key=lambda v: voices[v]["sought_hz"])
    for place, equals in groupby(order, key=lambda v: voices[v]["sought_hz"]):
        equals = list(equals)
        below = [
            round(place / voices[v]["sought_hz"]) * found[v]
            for v in order
            if voices[v]["sought_hz"] < place
            and abs(round(place / voices[v]["sought_hz"]) * voices[v]["sought_hz"] - place) < BAND_HZ / 2
        ]
        lines = list(lines_in_band(sound, place, len(equals) + len(below)))
        for hz in below:
            lines.remove(min(lines, key=lambda line: abs(line - hz)))
        for v, hz in zip(equals, sorted(lines)):
            found[v] = hz
    return found


class Fit:
    """The waveform of all voices as a function of their bends and decays."""

    OF_VOICE = 6  # Cents: mean, slope, bend, third order; decay of the first partial, more for each further one.

    def __init__(self, sound, voices, base_hz):
        self.sound, self.voices, self.base_hz = sound, voices, base_hz
        self.rate = RATE / FEWER
        self.time = (np.arange(len(sound)) + 0.5) / self.rate - 0.5
        self.orders = np.polynomial.legendre.legvander(2 * self.time, 3).T

    def cents(self, own):
        return own[:4] @ self.orders

    def residual(self, values, partials):
        columns = []
        for voice, hz, own in zip(self.voices, self.base_hz, values.reshape(-1, self.OF_VOICE)):
            turns = np.cumsum(hz * 2 ** (self.cents(own) / 1200)) / self.rate
            for n in range(1, min(partials, int(voice["partials"])) + 1):
                fading = np.exp(-self.time * (own[4] + own[5] * (n - 1)))
                columns += [fading * np.cos(2 * np.pi * n * turns), fading * np.sin(2 * np.pi * n * turns)]
        matrix = np.array(columns)
        factor = cho_factor(matrix @ matrix.T)
        return self.sound - cho_solve(factor, matrix @ self.sound) @ matrix

    def run(self):
        values = np.zeros(len(self.voices) * self.OF_VOICE)
        for partials in (2, 4, 99):
            values = least_squares(self.residual, values, args=(partials,), x_scale="jac", xtol=1e-10).x
        hann = np.cos(np.pi * self.time) ** 2
        own = values.reshape(-1, self.OF_VOICE)
        means = [np.average(self.cents(o), weights=hann) for o in own]
        return [hz * 2 ** (c / 1200) for hz, c in zip(self.base_hz, means)], np.std(self.residual(values, 99))


def main():
    with open(DATA / "chord_cases.csv") as file:
        rows = [{k: v if k in ("case", "source") else float(v) for k, v in row.items()} for row in csv.DictReader(file)]
    written = [["case", "voice", "true_hz", "scipy_hz", "residual", "source"]]
    for case, voices in groupby(rows, key=lambda row: row["case"]):
        voices = list(voices)
        rendered = [render(voice, place) for place, voice in enumerate(voices, 1)]
        noise = second(sum(noise for _, noise, _ in rendered))
        sound = second(sum(sound + noise for sound, noise, _ in rendered))
        guess = first_guess(sound, voices)
        found, left = Fit(sound, voices, guess).run()
        # Of voices sought at one place it cannot know which is which: as they rise.
        for place in {voice["sought_hz"] for voice in voices}:
            equals = [v for v, voice in enumerate(voices) if voice["sought_hz"] == place]
            for v, hz in zip(sorted(equals, key=lambda v: voices[v]["hz"]), sorted(found[v] for v in equals)):
                guess[v] = hz
        for number, ((_, _, true_hz), hz) in enumerate(zip(rendered, guess), 1):
            off = 1200 * np.log2(hz / true_hz)
            print(f"{case:<26} {number} true {true_hz:9.4f} found {hz:9.4f} off {off:+.4f} c, residual {left / np.std(noise):.3f}")
            source = "computed by tests/chords/second_opinion.py, numpy 2.4.6 and scipy 1.17.1"
            written.append([case, number, f"{true_hz:.5f}", f"{hz:.5f}", f"{left / np.std(noise):.3f}", source])
    with open(DATA / "chord_second_opinion.csv", "w", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(written)


if __name__ == "__main__":
    main()
