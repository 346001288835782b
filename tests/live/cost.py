#!/usr/bin/env python3
"""What a screen costs: bytes a second to the terminal, and processor time of each thread.

    tests/live/cost.py "PROGRAM ARGUMENTS" [SECONDS] [COLUMNSxROWS ...]

By hand: figures for the README, nothing fails. Runs the program in a pseudo terminal of each size
(80x24, 120x40 and 200x60 if none is named), lets it settle for three seconds, and counts what it
writes and what its threads use in the seconds after that. Linux only.
"""
import fcntl
import os
import pty
import select
import signal
import struct
import sys
import termios
import time


def threads(pid):
    """Seconds of processor time of each thread, by name."""
    used = {}
    for task in os.listdir(f"/proc/{pid}/task"):
        try:
            stat = open(f"/proc/{pid}/task/{task}/stat").read()
        except FileNotFoundError:
            continue
        name, rest = stat[stat.index("(") + 1 : stat.rindex(")")], stat[stat.rindex(")") + 2 :].split()
        ticks = int(rest[11]) + int(rest[12])
        used[f"{name}/{task}"] = ticks / os.sysconf("SC_CLK_TCK")
    return used


def drain(fd, until):
    """Bytes that come until then."""
    count = 0
    while (left := until - time.monotonic()) > 0:
        if select.select([fd], [], [], left)[0]:
            try:
                count += len(os.read(fd, 65536))
            except OSError:
                # Nobody writes to it any more.
                break
    return count


def measure(words, seconds, columns, rows):
    pid, fd = pty.fork()
    if pid == 0:
        os.environ.update(TERM="xterm-256color")
        os.environ.pop("COLORTERM", None)
        os.execvp(words[0], words)
    fcntl.ioctl(fd, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
    first = drain(fd, time.monotonic() + 3)
    before, begun = threads(pid), time.monotonic()
    count = drain(fd, begun + seconds)
    elapsed, after = time.monotonic() - begun, threads(pid)
    os.kill(pid, signal.SIGTERM)
    drain(fd, time.monotonic() + 0.3)
    os.close(fd)
    os.waitpid(pid, 0)
    print(f"{columns}x{rows}: {count / elapsed / 1000:.1f} kB/s (the first three seconds {first / 3000:.1f})")
    for name, used in sorted(after.items()):
        share = 100 * (used - before.get(name, 0)) / elapsed
        if share >= 0.1:
            print(f"    {name.split('/')[0]:16} {share:5.1f} % of a core")


words = sys.argv[1].split()
seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 20
for size in sys.argv[3:] or ["80x24", "120x40", "200x60"]:
    measure(words, seconds, *map(int, size.split("x")))
