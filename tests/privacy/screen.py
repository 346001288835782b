#!/usr/bin/env python3
"""What full screens leave on the disk and whom they speak to.

    tests/privacy/screen.py PROGRAM

Rehearses, practises and shows the demo in a terminal under a umask that takes nothing away, and
watches every call that has to do with sockets. Everything made is the user's alone, nothing is
sound, no socket is of another family than the file system's; and what somebody else could have put
into the program's own folders is refused or left alone. Needs strace. Prints a line for each check;
ends at the first that fails.
"""

import os
import pathlib
import re
import shutil
import stat
import sys
import tempfile
import threading
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "readme"))
from run import perform  # noqa: E402

SOUND = (b"RIFF", b"RF64", b"fLaC", b"OggS", b"ID3", b"FORM", b"caff", b".snd")
# What goes round in a second would be 96,000 bytes at 48 kHz; the screens are up for five.
LARGEST_BYTES = 100_000
SCREEN_FOR_S = 5.0


def fail(what):
    sys.exit(f"privacy: FAILED: {what}")


def mode(path):
    return stat.S_IMODE(path.lstat().st_mode)


def show(home, command, watched=False):
    """Runs a screen for a while; its exit code, and what it printed and complained of."""
    traced = "strace -f -qq -e trace=network -o $HOME/.calls.$$ " if watched else ""
    code, output, said, _ = perform(f"umask 000; {traced}{command}", home, home / "bin", SCREEN_FOR_S)
    # What steers the terminal may stand for blanks.
    words = re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]|\x1b[()=>][0-9A-Z]?", " ", output.decode(errors="replace"))
    return code, re.sub(r"\s+", " ", words + said)


def check_sockets(home, command):
    """While the screen is up: its socket, and the folder that is in."""
    beside = threading.Thread(target=show, args=(home, command))
    beside.start()
    until = time.monotonic() + 20.0
    folder = home / ".run/concento"
    while not (sockets := list(folder.glob("*.stand"))):
        if time.monotonic() > until:
            fail("there is no socket")
        time.sleep(0.05)
    modes = [mode(folder), mode(sockets[0])]
    beside.join()
    if modes != [0o700, 0o600] or list(folder.iterdir()):
        fail(f"the socket: {modes}, left: {list(folder.iterdir())}")
    print("privacy: its socket is the user's alone and goes away")


def check_files(home, expected):
    """Everything that was made below these folders."""
    made = [p for name in (".local", ".run/concento", "kept") for p in (home / name).rglob("*")]
    for path in made:
        # The folders the system's own are in are not looked at again: they were there before.
        wanted = 0o700 if path.is_dir() else 0o600
        if path.is_symlink() or mode(path) != wanted:
            fail(f"{path.relative_to(home)} has mode {mode(path):o}")
    files = [path for path in made if path.is_file()]
    names = sorted(re.sub(r"\d[\d-]+", "DATE", str(path.relative_to(home))) for path in files)
    if names != expected:
        fail(f"made were {names}, not {expected}")
    for path in files:
        text = path.read_bytes()
        if text.startswith(SOUND) or len(text) > LARGEST_BYTES:
            fail(f"{path.relative_to(home)} could be sound: {len(text)} bytes")
    print(f"privacy: {len(files)} files, each the user's alone and none of them sound")


def check_calls(home):
    """No socket but in the file system."""
    calls = [line for path in home.glob(".calls.*") for line in path.read_text().splitlines()]
    sockets = [line for line in calls if re.search(r"\bsocket(pair)?\(", line)]
    other = [line for line in sockets if not re.search(r"\bsocket(pair)?\(AF_UNIX,", line)]
    led = [line for line in calls if "sa_family=" in line and "sa_family=AF_UNIX" not in line]
    if not sockets:
        fail("no socket was seen, though screens can be watched")
    if other or led:
        fail(f"something leaves the machine: {(other + led)[:3]}")
    print(f"privacy: {len(sockets)} sockets, all in the file system")


def check_refused(home):
    """Folders of the program's own that others may write to."""
    state, data = home / ".local/state/concento", home / ".local/share/concento/sessions"
    for folder, command in [(state, "concento demo"), (data, "concento rehearse --from take.wav")]:
        folder.chmod(0o777)
        before = sorted(folder.rglob("*"))
        code, said = show(home, command)
        told = f"others may write to the folder '{folder}': type 'chmod go-w' and this name"
        if code != 1 or told not in said:
            fail(f"'{command}' in an open folder: exit code {code}: {said[-500:]}")
        if sorted(folder.rglob("*")) != before:
            fail(f"something was put into the open '{folder.name}'")
        folder.chmod(0o700)
        kept = folder.rename(folder.with_name("elsewhere"))
        folder.symlink_to(kept)
        code, said = show(home, command)
        if code != 1 or f"'{folder}' is no folder but a file or a link" not in said:
            fail(f"'{command}' with a link for a folder: exit code {code}: {said[-500:]}")
        folder.unlink()
        kept.rename(folder)
    print("privacy: state and sessions are refused where others may write, and where a link leads")

    runtime = home / ".run/concento"
    runtime.chmod(0o770)
    code, said = show(home, "concento demo")
    if code != 0 or list(runtime.iterdir()) or "no second screen can watch" not in said:
        fail(f"an open folder for sockets: exit code {code}: {said[-500:]}")
    runtime.chmod(0o700)
    print("privacy: the folder for sockets is refused where others may write, and the screen goes on")


def check_planted(home):
    """Links where the program writes."""
    diary = home / "diary"
    diary.write_text("mine")
    for name in ("concento.log", "cautioned"):
        path = home / ".local/state/concento" / name
        path.unlink()
        path.symlink_to(diary)
    code, said = show(home, "concento practise --from take.wav")
    if code != 0 or diary.read_text() != "mine":
        fail(f"planted links: exit code {code}, the file now holds {diary.read_text()!r}: {said}")
    print("privacy: a planted link is not written through")


def main():
    program = pathlib.Path(sys.argv[1]).resolve()
    if not shutil.which("strace"):
        fail("strace is missing: install it")
    with tempfile.TemporaryDirectory(prefix="concento-privacy-") as name:
        home = pathlib.Path(name)
        for folder in ("bin", "kept", ".run"):
            (home / folder).mkdir(mode=0o700)
        (home / "bin/concento").symlink_to(program)
        for command in (
            "concento demo alone --write take.wav --seconds 8",
            "concento demo --session kept/demo.session",
            "concento rehearse --from take.wav",
            "concento practise --from take.wav",
        ):
            code, said = show(home, command, watched=True)
            if code != 0:
                fail(f"'{command}' ends with {code}: {said}")
        check_files(home, [
            ".local/share/concento/sessions/DATE.session",
            ".local/share/concento/sessions/DATE.session",
            ".local/state/concento/cautioned",
            ".local/state/concento/concento.log",
            "kept/demo.session",
        ])
        check_calls(home)
        check_sockets(home, "concento demo")
        check_refused(home)
        check_planted(home)


if __name__ == "__main__":
    main()
