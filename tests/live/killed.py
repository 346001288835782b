"""Kills the whole program at random moments and reads back what it has kept.

    killed.py PROGRAM TIMES

The demo is recorded on a terminal nobody looks at, several at a time, and killed (SIGKILL)
between 0.3 and 4 s after its first picture. Every session must be read without a complaint,
hold everything from the beginning, and lose no more than was not yet a whole half second.
"""
import fcntl
import json
import os
import pathlib
import pty
import random
import re
import select
import signal
import statistics
import struct
import subprocess
import sys
import tempfile
import termios
import threading
import time

SIDE_BY_SIDE = 10
# Half a second is written when it is over and 0.2 s have passed for what comes late; the rest is
# for a machine with other things to do.
MOST_LOST_S = 1.5


def fail(what):
    sys.exit(f"terminals: FAILED: {what}")


def kill_one(program, path, moment_s):
    """How long the program had been on the screen when it was killed."""
    pid, terminal = pty.fork()
    if pid == 0:
        os.execv(program, [program, "demo", "strings-find-a-chord", "--session", str(path)])
    fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 30, 100, 0, 0))
    begun, seen = None, b""
    give_up = time.monotonic() + 30
    while True:
        now = time.monotonic()
        if now > give_up:
            fail("a demo did not begin")
        if begun is not None and now - begun >= moment_s:
            os.kill(pid, signal.SIGKILL)
            reached_s = time.monotonic() - begun
            os.waitpid(pid, 0)
            os.close(terminal)
            return reached_s
        patience = 0.05 if begun is None else min(0.05, begun + moment_s - now)
        if select.select([terminal], [], [], max(0.0, patience))[0]:
            seen = (seen + os.read(terminal, 65536))[-20000:]
            if begun is None and b"Violin" in seen:
                begun = time.monotonic()


def main():
    program, times = sys.argv[1], int(sys.argv[2])
    random.seed(1)
    folder = pathlib.Path(tempfile.mkdtemp(dir="."))
    moments = [(folder / f"{n:02}.session", random.uniform(0.3, 4.0)) for n in range(times)]
    waiting, reached = list(moments), {}

    def work():
        while waiting:
            path, moment_s = waiting.pop()
            reached[path] = kill_one(program, path, moment_s)

    workers = [threading.Thread(target=work) for _ in range(SIDE_BY_SIDE)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    if len(reached) != times:
        fail(f"{len(reached)} of {times} demos were killed")

    listed = subprocess.run([program, "sessions", folder, "--format", "json"],
                            capture_output=True, text=True, check=False)
    if listed.returncode != 0 or listed.stderr:
        fail(f"the sessions are not read: {listed.stderr}")
    losses, unkept = [], 0
    for path, _ in moments:
        # Nothing is worth a file before a note has sounded for a moment.
        if not path.exists():
            unkept += 1
            if reached[path] > MOST_LOST_S:
                fail(f"nothing is kept of {reached[path]:.2f} s")
            continue
        told = subprocess.run([program, "report", path, "--format", "json"],
                              capture_output=True, text=True, check=False)
        if told.returncode != 0 or told.stderr:
            fail(f"{path}: {told.stderr}")
        json.loads(told.stdout)
        text = path.read_text()
        if not text.endswith("\n"):
            fail(f"{path}: the last line is torn")
        spans = [float(at) for at in re.findall(r"^Heard\(at:([0-9.]+)", text, re.MULTILINE)]
        if any(b - a > 0.51 for a, b in zip(spans, spans[1:])):
            fail(f"{path}: there is a hole in {spans}")
        losses.append(reached[path] - (spans[-1] + 0.5 if spans else 0.0))
        if losses[-1] > MOST_LOST_S:
            fail(f"{path}: {losses[-1]:.2f} s of {reached[path]:.2f} s are lost")
    if len(losses) < times // 2:
        fail(f"only {len(losses)} of {times} left a session")
    print(f"terminals: killed {times} times: {statistics.median(losses):.2f} s are lost in the "
          f"median, {max(losses):.2f} s at the most; {unkept} had nothing to keep yet")


main()
