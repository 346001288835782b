#!/usr/bin/env python3
"""A terminal screen as an SVG picture, for the README.

    tests/live/picture.py PROGRAM_AND_ARGUMENTS SECONDS COLUMNS ROWS OUT.svg [KEY@SECOND ...]

Runs the program in tmux, presses the keys (as tmux calls them) each at its second, waits, and
draws what the pane then shows. Needs tmux.
"""
import html
import os
import re
import subprocess
import sys
import time

CELL_W, CELL_H, SIZE = 8.4, 18, 14
GROUND, PLAIN = "#121212", "#d0d0d0"
AT_REST = {"fg": PLAIN, "bg": None, "bold": False, "dim": False, "inverse": False}
BASIC = ["#000000", "#cd3131", "#0dbc79", "#e5e510", "#2472c8", "#bc3fbc", "#11a8cd", "#e5e5e5"]

# Which quarters of a cell a block character fills: upper left, upper right, lower left, right.
QUARTERS = dict(zip("▀▄█▌▐▘▝▖▗▙▟▛▜▚▞", ["1100", "0011", "1111", "1010", "0101", "1000", "0100", "0010", "0001", "1011", "0111", "1110", "1101", "1001", "0110"]))
EIGHTHS = "▁▂▃▄▅▆▇"

# Columns and rows of the eight dots of a Braille pattern, in the order of its bits.
DOTS = [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2), (0, 3), (1, 3)]
is_braille = lambda c: "\u2800" <= c <= "\u28ff"


def indexed(n):
    """The colour of an index of the 256."""
    if n < 16:
        return BASIC[n % 8]
    if n < 232:
        n -= 16
        level = lambda v: 0 if v == 0 else 55 + 40 * v
        return "#%02x%02x%02x" % (level(n // 36), level(n // 6 % 6), level(n % 6))
    return "#%02x%02x%02x" % ((8 + 10 * (n - 232),) * 3)


def runs(line, style):
    """(text, style) pieces of a line with SGR codes; `style` goes on into the next line."""
    for part in re.split(r"(\x1b\[[0-9;]*m)", line):
        if not part.startswith("\x1b["):
            if part:
                yield part, dict(style)
            continue
        codes = [int(c or 0) for c in part[2:-1].split(";")]
        while codes:
            c = codes.pop(0)
            if c == 0:
                style.update(AT_REST)
            elif c in (1, 2, 22):
                style["bold"], style["dim"] = c == 1, c == 2
            elif c in (7, 27):
                style["inverse"] = c == 7
            elif c in (38, 48):
                kind = codes.pop(0)
                colour = indexed(codes.pop(0)) if kind == 5 else "#%02x%02x%02x" % tuple(codes[:3])
                if kind == 2:
                    del codes[:3]
                style["fg" if c == 38 else "bg"] = colour
            elif 30 <= c <= 37 or 90 <= c <= 97:
                style["fg"] = BASIC[c % 10]
            elif c in (39, 49):
                style["fg" if c == 39 else "bg"] = PLAIN if c == 39 else None


def main():
    command, seconds, columns, rows, out, *keys = sys.argv[1:]
    tmux = ["tmux", "-L", f"picture{os.getpid()}", "-f", "/dev/null"]
    env = dict(os.environ, LC_ALL="C.UTF-8", COLORTERM="truecolor")
    subprocess.run(tmux + ["new-session", "-d", "-s", "p", "-x", columns, "-y", rows, command], env=env, check=True)
    begun = time.monotonic()
    wait = lambda second: time.sleep(max(0.0, begun + float(second) - time.monotonic()))
    for key, second in (key.split("@") for key in keys):
        wait(second)
        subprocess.run(tmux + ["send-keys", "-t", "p", key], env=env, check=True)
    wait(seconds)
    pane = subprocess.run(tmux + ["capture-pane", "-p", "-e", "-N", "-t", "p"], env=env, check=True, capture_output=True, text=True).stdout
    subprocess.run(tmux + ["kill-server"], env=env)
    width, height = int(columns) * CELL_W + 16, int(rows) * CELL_H + 16
    body, style_now = [], dict(AT_REST)
    # What lies below the first cell lies below everything.
    first = next(runs(pane, dict(AT_REST)), ("", AT_REST))[1]
    ground = first["bg"] or GROUND
    for y, line in enumerate(pane.split("\n")[: int(rows)]):
        x = 0
        for text, style in runs(line, style_now):
            if style["bg"] == ground:
                style["bg"] = None
            if style["inverse"]:
                style["fg"], style["bg"] = style["bg"] or ground, style["fg"]
            left, top = 8 + x * CELL_W, 8 + y * CELL_H
            if style["bg"]:
                body.append(f'<rect x="{left:.1f}" y="{top}" width="{len(text) * CELL_W:.1f}" height="{CELL_H}" fill="{style["bg"]}"/>')
            for i, character in enumerate(text):
                boxes = []
                if character in QUARTERS:
                    boxes = [(q % 2 / 2, q // 2 / 2, 0.5, 0.5) for q, full in enumerate(QUARTERS[character]) if full == "1"]
                elif character in EIGHTHS:
                    tall = (EIGHTHS.index(character) + 1) / 8
                    boxes = [(0, 1 - tall, 1, tall)]
                elif is_braille(character):
                    dots = [dot for bit, dot in enumerate(DOTS) if ord(character) >> bit & 1]
                    boxes = [(0.1 + column / 2, 0.05 + row / 4, 0.3, 0.15) for column, row in dots]
                for a, b, w, h in boxes:
                    body.append(f'<rect x="{left + (i + a) * CELL_W:.2f}" y="{top + b * CELL_H:.2f}" width="{w * CELL_W + 0.1:.2f}" height="{h * CELL_H + 0.1:.2f}" fill="{style["fg"]}"/>')
            text = "".join(" " if c in QUARTERS or c in EIGHTHS or is_braille(c) else c for c in text)
            if text.strip():
                extra = (' font-weight="bold"' if style["bold"] else "") + (' opacity="0.6"' if style["dim"] else "")
                body.append(f'<text x="{left:.1f}" y="{top + 14}" fill="{style["fg"]}" textLength="{len(text) * CELL_W:.1f}"{extra} xml:space="preserve">{html.escape(text)}</text>')
            x += len(text)
    with open(out, "w", encoding="utf-8") as svg:
        svg.write(f'<svg xmlns="http://www.w3.org/2000/svg" shape-rendering="crispEdges" viewBox="0 0 {width:.0f} {height:.0f}" font-family="DejaVu Sans Mono, Menlo, Consolas, monospace" font-size="{SIZE}">\n<rect width="100%" height="100%" rx="6" fill="{ground}"/>\n')
        svg.write("\n".join(body) + "\n</svg>\n")


main()
