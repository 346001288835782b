"""Gives a terminal many sizes, as fast as a program can hear of them.

    sizes.py TERMINAL TIMES SEED
"""
import fcntl
import random
import struct
import sys
import termios
import time

random.seed(int(sys.argv[3]))
with open(sys.argv[1], "rb", buffering=0) as terminal:
    for _ in range(int(sys.argv[2])):
        columns, rows = random.choice([
            (random.randint(1, 300), random.randint(1, 100)),
            (random.randint(1, 90), random.randint(1, 30)),
            (random.randint(0, 3), random.randint(0, 3)),
        ])
        fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        time.sleep(random.uniform(0.0, 0.006))
