#!/usr/bin/env python3
"""The same recordings through this program and through general libraries, as one table.

    python3 -m venv target/peers
    target/peers/bin/pip install -r tests/peers/requirements.txt
    cargo build --release
    target/peers/bin/python tests/peers/peers.py PACK_FOLDER --program target/release/concento

The pack is a folder of recordings with manifest.json, as for `cargo bench --bench hearing`, and
every number is defined as there. Readings are compared at the centre of their window. A library
is taken to have its reading half a window later, at the end of the sound that it used; those that
look at the whole file before they decide are marked offline, and their latency is a best case.
CPU is processor time for a second of sound, after a first note that does not count: for libraries
of the call alone, for programs of the process, its start and its output. Nothing was tuned to the
pack. A library that is not installed, and McLeod's method without cargo, is left out and said.
"""
import argparse
import datetime
import json
import os
import platform
import resource
import subprocess
import sys
import time
from importlib import metadata
from pathlib import Path

import numpy as np
import soundfile

LOWEST_HZ, HIGHEST_HZ = 28.0, 2400.0
HOP_S = 0.010
WINDOW = 4096
# Below this level, in power over full scale, McLeod's method is to say nothing: -78 dB.
LEAST_MEAN_SQUARE = 10 ** (-78 / 10)
NEVER_S = 9.0
REGISTERS = {"low": (0, 110), "mid": (110, 440), "high": (440, np.inf)}


class Track:
    """Readings of one recording: centre times, hertz (NaN without pitch), when each is known."""

    def __init__(self, time_s, hz, available_s):
        self.time_s = np.asarray(time_s, float)
        hz = np.asarray(hz, float)
        self.hz = np.where(hz > 0, hz, np.nan)
        self.available_s = np.asarray(available_s, float)


class Concento:
    """This program's own `analyse`, as a user runs it."""

    name = "concento"
    settings = "as it is; live"

    def __init__(self, program):
        self.program = program
        self.version = run_text([program, "--version"]).split()[-1]

    def hear(self, path, samples, rate):
        before = children_cpu_s()
        lines = run_text([self.program, "analyse", str(path), "--format", "json"]).splitlines()
        cpu_s = children_cpu_s() - before
        rows = [row for row in map(json.loads, lines) if row["channel"] == 1]
        return Track(
            [row["time_s"] for row in rows],
            [row["hz"] or np.nan for row in rows],
            [row["available_s"] for row in rows],
        ), cpu_s


class Praat:
    """Autocorrelation with a path through the whole file."""

    name = "Praat, To Pitch (ac)"
    settings = f"{LOWEST_HZ:.0f}-{HIGHEST_HZ:.0f} Hz, the rest standard; offline"

    def __init__(self):
        import parselmouth

        self.library = parselmouth
        self.version = f"{parselmouth.PRAAT_VERSION} (praat-parselmouth {metadata.version('praat-parselmouth')})"

    def hear(self, path, samples, rate):
        sound = self.library.Sound(samples.astype(float), rate)
        start = time.process_time()
        pitch = sound.to_pitch_ac(time_step=HOP_S, pitch_floor=LOWEST_HZ, pitch_ceiling=HIGHEST_HZ)
        cpu_s = time.process_time() - start
        centres = pitch.xs()
        # Its window is three periods of the lowest pitch.
        return Track(centres, pitch.selected_array["frequency"], centres + 1.5 / LOWEST_HZ), cpu_s


class Librosa:
    """What librosa's two estimators have in common."""

    def __init__(self):
        import librosa

        self.library = librosa
        self.version = librosa.__version__

    def hear(self, path, samples, rate):
        start = time.process_time()
        hz = self.pitches(
            y=samples, sr=rate, fmin=LOWEST_HZ, fmax=HIGHEST_HZ, frame_length=WINDOW, hop_length=round(HOP_S * rate)
        )
        cpu_s = time.process_time() - start
        centres = np.arange(len(hz)) * round(HOP_S * rate) / rate
        return Track(centres, hz, centres + WINDOW / 2 / rate), cpu_s


class Yin(Librosa):
    name = "librosa yin"
    settings = f"{LOWEST_HZ:.0f}-{HIGHEST_HZ:.0f} Hz, frame {WINDOW}, the rest standard; always gives a pitch"

    def pitches(self, **arguments):
        return self.library.yin(**arguments)


class ProbabilisticYin(Librosa):
    name = "librosa pyin"
    settings = f"{LOWEST_HZ:.0f}-{HIGHEST_HZ:.0f} Hz, frame {WINDOW}, the rest standard: steps of 10 cents; offline"

    def pitches(self, **arguments):
        return self.library.pyin(**arguments)[0]


class Aubio:
    name = "aubio yinfft"
    settings = f"window {WINDOW}, the rest standard; live"

    def __init__(self):
        import aubio

        self.library = aubio
        self.version = metadata.version("aubio")

    def hear(self, path, samples, rate):
        hop = round(HOP_S * rate)
        blocks = samples[: len(samples) // hop * hop].astype(np.float32).reshape(-1, hop)
        detector = self.library.pitch("yinfft", WINDOW, hop, rate)
        detector.set_unit("Hz")
        start = time.process_time()
        hz = [detector(block)[0] for block in blocks]
        cpu_s = time.process_time() - start
        ends = np.arange(1, len(hz) + 1) * hop / rate
        return Track(ends - WINDOW / 2 / rate, hz, ends), cpu_s


class McLeod:
    name = "McLeod (pitch-detection)"
    settings = f"window {WINDOW}, clarity 0.7, over -78 dBFS; live"

    def __init__(self):
        project = Path(__file__).parent / "mcleod"
        target = Path(__file__).parents[2] / "target" / "mcleod"
        build = ["cargo", "build", "--release", "--locked", "--quiet", "--target-dir", target]
        subprocess.run([*build, "--manifest-path", project / "Cargo.toml"], check=True)
        self.program = target / "release" / "mcleod"
        lock = (project / "Cargo.lock").read_text()
        self.version = lock.split('name = "pitch-detection"\nversion = "')[1].split('"')[0]

    def hear(self, path, samples, rate):
        arguments = [rate, WINDOW, round(HOP_S * rate), LEAST_MEAN_SQUARE, 0.7]
        before = children_cpu_s()
        text = run_text([self.program, *map(str, arguments)], samples.astype("<f4").tobytes())
        cpu_s = children_cpu_s() - before
        rows = [line.split(",") for line in text.splitlines()]
        centres = np.array([float(row[0]) for row in rows])
        return Track(centres, [float(row[1] or "nan") for row in rows], centres + WINDOW / 2 / rate), cpu_s


def run_text(command, given=None):
    return subprocess.run(command, input=given, stdout=subprocess.PIPE, check=True).stdout.decode()


def children_cpu_s():
    usage = resource.getrusage(resource.RUSAGE_CHILDREN)
    return usage.ru_utime + usage.ru_stime


def latency_s(entry, track, cents, tolerance):
    """From the onset to the first of three readings in a row within the tolerance."""
    near = np.isfinite(cents) & (np.abs(cents) <= tolerance)
    starts = near[:-3] & near[1:-2] & near[2:-1] & (track.available_s[:-3] > entry["onset_s"])
    return track.available_s[:-3][starts][0] - entry["onset_s"] if starts.any() else None


def score(entry, track):
    """Errors in cents of the held part, and latencies."""
    truth = np.array(entry["track"])
    cents = 1200 * np.log2(track.hz / np.interp(track.time_s, truth[:, 0], truth[:, 1]))
    start, end = entry["steady"]
    held = cents[(track.time_s >= start) & (track.time_s <= end)]
    heard = held[np.isfinite(held)]
    return {
        "real": entry["kind"] != "synth",
        "hz": entry["truth_hz"],
        "frames": len(held),
        "voiced": len(heard) / max(len(held), 1),
        "errors": np.abs(heard),
        # A note of which nothing was heard counts as wrong throughout.
        "gross": float((np.abs(heard) > 50).mean()) if len(heard) else 1.0,
        "latency_3": latency_s(entry, track, cents, 3.0),
        "latency_1": latency_s(entry, track, cents, 1.0),
    }


def in_register(hz, name):
    low, high = REGISTERS[name]
    return hz < high if name == "low" else low <= hz <= high if name == "mid" else hz > low


def errors_cell(scores):
    """Median without gross errors / 95 % of all within / share of gross ones."""
    if not scores:
        return "-"
    errors = np.concatenate([s["errors"] for s in scores])
    fine = errors[errors <= 50]
    weights = [max(s["frames"], 1e-9) for s in scores]
    gross = np.average([s["gross"] for s in scores], weights=weights)
    if len(fine) == 0:
        return f"- / - / {100 * gross:.1f} %"
    return f"{np.median(fine):.2f} / {np.percentile(errors, 95):.2f} / {100 * gross:.1f} %"


def latency_cell(scores):
    cells = []
    for key in ("latency_3", "latency_1"):
        latencies = [NEVER_S if s[key] is None else s[key] for s in scores]
        median = np.median(latencies) if latencies else NEVER_S
        cells.append("never" if median >= NEVER_S else f"{1000 * median:.0f}")
    return " / ".join(cells)


def row(peer, scores, cpu_s, seconds):
    real = [s for s in scores if s["real"]]
    synth = [s for s in scores if not s["real"]]
    weights = [max(s["frames"], 1e-9) for s in scores]
    voiced = np.average([s["voiced"] for s in scores], weights=weights)
    fine = np.concatenate([s["errors"] for s in synth]) if synth else np.array([])
    fine = fine[fine <= 50]
    gross = np.average([s["gross"] for s in synth], weights=[max(s["frames"], 1e-9) for s in synth]) if synth else None
    return [
        peer.name,
        *(errors_cell([s for s in real if in_register(s["hz"], name)]) for name in REGISTERS),
        f"{np.median(fine):.2f} / {100 * gross:.1f} %" if len(fine) else "-",
        f"{100 * voiced:.1f} %",
        latency_cell(real),
        latency_cell(synth),
        f"{1000 * cpu_s / seconds:.1f}",
        peer.settings,
    ]


def machine():
    model = platform.processor() or platform.machine()
    try:
        lines = Path("/proc/cpuinfo").read_text().splitlines()
        model = next(line.split(":")[1].strip() for line in lines if line.startswith("model name"))
    except (OSError, StopIteration):
        pass
    return f"{model}, {os.cpu_count()} cores, {platform.system()}, Python {platform.python_version()}"


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, metavar="PACK_FOLDER", help="recordings with manifest.json")
    parser.add_argument("--program", required=True, help="the built concento")
    parser.add_argument("--every", type=int, default=1, metavar="N", help="only every Nth recording")
    arguments = parser.parse_args()
    try:
        entries = json.loads((arguments.folder / "manifest.json").read_text())[:: arguments.every]
    except OSError as error:
        parser.error(f"{error}: give the folder that holds manifest.json")

    peers, missing = [], []
    for make in (lambda: Concento(arguments.program), Praat, Yin, ProbabilisticYin, Aubio, McLeod):
        try:
            peers.append(make())
        except (ImportError, OSError, subprocess.CalledProcessError) as error:
            missing.append(f"{getattr(make, 'name', arguments.program)} ({error})")

    recordings = []
    for entry in entries:
        path = arguments.folder / entry["file"]
        samples, rate = soundfile.read(path, dtype="float32", always_2d=True)
        recordings.append((entry, path, np.ascontiguousarray(samples[:, 0]), rate))
    seconds = sum(len(samples) / rate for _, _, samples, rate in recordings)

    headings = ["estimator", *(f"real, {name}" for name in REGISTERS), "synthetic", "voiced"]
    headings += ["real, to 3 / 1 c", "synthetic, to 3 / 1 c", "CPU", "settings"]
    table = [headings, ["---"] * len(headings)]
    for peer in peers:
        print(f"{peer.name} ...", file=sys.stderr, flush=True)
        peer.hear(*recordings[0][1:])
        scores, cpu_s = [], 0.0
        for entry, path, samples, rate in recordings:
            track, own_cpu_s = peer.hear(path, samples, rate)
            scores.append(score(entry, track))
            cpu_s += own_cpu_s
        table.append(row(peer, scores, cpu_s, seconds))

    print(f"Measured {datetime.date.today()} on {machine()}")
    print(f"by `{' '.join([Path(sys.executable).name, *sys.argv])}`,")
    print(f"{len(recordings)} recordings, {seconds:.0f} s. " + "; ".join(f"{p.name} {p.version}" for p in peers) + ".")
    if missing:
        print("Left out: " + "; ".join(missing) + ".")
    print("Errors: median without gross ones, 95 % of all within (cents), wrong by over 50 cents.")
    print("Times from the onset in ms (median); CPU in ms for a second of sound.\n")
    for cells in table:
        print("| " + " | ".join(cells) + " |")


if __name__ == "__main__":
    main()
