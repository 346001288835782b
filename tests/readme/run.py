#!/usr/bin/env python3
"""Runs every command of the README for real, so that none can rot.

    tests/readme/run.py PROGRAM [--readme FILE] [--only TEXT] [--list]

Each line of each ```sh block runs by bash in a fresh folder, which is also its home, with the files
it names prepared and without a sound card. What opens a screen gets a terminal of 100 by 30 and 'q'
after two seconds. A command must end with 0 and must not complain. Lines that set the machine up
are checked against the scripts that do the same, not run. Prints a line for each command; the first
output of those that failed comes at the end. A command for which nothing is known to prepare is a
failure. Python's standard library only.
"""

import argparse
import concurrent.futures
import fcntl
import glob
import os
import pathlib
import pty
import re
import select
import shlex
import shutil
import signal
import struct
import subprocess
import sys
import tempfile
import termios
import threading
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
COLUMNS, ROWS = 100, 30
SCREEN_FOR_S = 2.0
LONGEST_S = 300.0
OPENS_SCREEN = b"\x1b[?1049h"
# What a file that is written is given by; everything else that looks like a file is read.
WRITTEN = {"--write", "-o", "--output", "--record", "--session", ">", ">>"}
SOUND = {".wav", ".flac", ".mp3", ".ogg"}
SCORE = {".musicxml", ".mxl", ".mid", ".xml"}
ENDINGS = SOUND | SCORE | {".session", ".ron"}
# Commands that show a screen and listen, unless one of these says otherwise.
LISTENING = {"rehearse", "practise"}
DEAF = {"--from", "--list", "--write", "--help", "--version"}
# What was taken over is told first, in the line that says there is no microphone afterwards.
TOLD_FIRST = {"--plan", "--agreed"}
# The doctor of a machine without a microphone says that no rehearsal is possible.
MAY_FAIL = {"doctor": "no rehearsal is possible yet"}
# Commands that another test runs, as they take long: the script, and what stands in it.
ELSEWHERE = {
    "concento demo twenty-minutes --record evening.session": (
        "tests/evening/check.sh",
        'demo twenty-minutes --record "$folder/evening.session"',
    ),
}
# Programs that may stand in a line beside this one.
COMPANIONS = {"mkdir", "man", "export", "eval", "source", "cat", "cd", "less"}


class Failure(Exception):
    """A command that did not do what the README says."""


def commands_of(text):
    """Every command of every ```sh block, comments left out, continued lines joined."""
    for block in re.findall(r"^```sh\n(.*?)^```", text, re.M | re.S):
        for line in block.replace("\\\n", " ").splitlines():
            # A '#' within a word, as in F#4, or within quotes begins no comment.
            parts = re.findall(r"""(?:[^\s'"]|'[^']*'|"[^"]*")+|\s+""", line)
            kept = []
            for part in parts:
                if part.startswith("#"):
                    break
                kept.append(part)
            line = "".join(kept).strip()
            if line:
                yield line


def check_setup(line):
    """The part of a line that is left to be run, once what sets the machine up has been checked."""
    everything = (ROOT / "tests/all.sh").read_text()
    if line == "tests/all.sh":
        if not os.access(ROOT / line, os.X_OK):
            raise Failure("tests/all.sh cannot be run")
        if "\ntests/all.sh\n" not in (ROOT / ".ci/run").read_text():
            raise Failure(".ci/run does not run tests/all.sh")
        return None
    if line == "cargo install --path .":
        manifest = (ROOT / "Cargo.toml").read_text()
        if not re.search(r'^\[\[bin\]\]\nname = "concento"$', manifest, re.M):
            raise Failure("Cargo.toml builds no 'concento'")
        return None
    left = []
    for step in line.split(" && "):
        step = step.strip()
        # An assignment of how to become root may stand before it.
        step = re.sub(r"^S=\$\(command -v sudo\);\s*", "", step)
        step = re.sub(r"^(\$S|sudo)\s+", "", step)
        words = shlex.split(step)
        if words[:2] == ["apt-get", "update"]:
            continue
        if words[:2] == ["apt-get", "install"]:
            packages = [word for word in words[2:] if not word.startswith("-")]
            known = set(re.search(r"packages=\((.*?)\)", everything, re.S)[1].split())
            if missing := [package for package in packages if package not in known]:
                raise Failure(f"tests/all.sh does not install {', '.join(missing)}")
            continue
        if words[:2] == ["cargo", "run"]:
            if "--" not in words or "--release" not in words[: words.index("--")]:
                raise Failure("expected 'cargo run --release -- ...'")
            step = shlex.join(["concento", *words[words.index("--") + 1 :]])
        left.append(step)
    return " && ".join(left)


def words_of(line):
    lexer = shlex.shlex(line, posix=True, punctuation_chars="<>|&;()")
    lexer.whitespace_split = True
    lexer.commenters = ""
    return list(lexer)


class Larder:
    """What commands read, made once by the program itself and copied to where it is wanted."""

    def __init__(self, program, folder):
        self.program, self.folder = program, folder
        self.made = {}

    def make(self, name, *arguments):
        path = self.folder / name
        words = [str(path) if word == "HERE" else word for word in arguments]
        done = subprocess.run(
            [self.program, *words],
            capture_output=True,
            text=True,
            timeout=LONGEST_S,
            cwd=self.folder,
            env=environment(self.folder),
        )
        if done.returncode != 0 or not path.exists():
            raise SystemExit(f"readme: cannot prepare {name}: {done.stderr}")
        return path

    def stock(self):
        shutil.copy(ROOT / "tests/data/scores/sonata.musicxml", self.folder)
        self.made["ensemble"] = self.make("ensemble.ron", "new", "HERE")
        self.made["wav"] = self.make(
            "take.wav", "demo", "strings-find-a-chord", "--write", "HERE", "--seconds", "8"
        )
        self.made["session"] = self.make(
            "evening.session", "demo", "strings-find-a-chord", "--record", "HERE"
        )
        self.made["plan"] = self.make("plan.ron", "plan", "sonata.musicxml", "--write", "HERE")

    def source(self, path, role):
        """What a file called `path`, given to `role`, is a copy of."""
        ending = path.suffix
        if ending == ".session":
            return self.made["session"]
        if ending == ".wav":
            return self.made["wav"]
        if ending in SOUND:
            return ROOT / f"tests/fixtures/tone{ending}"
        if ending in SCORE:
            ending = ".musicxml" if ending == ".xml" else ending
            return ROOT / f"tests/data/scores/sonata{ending}"
        if ending == ".ron":
            roles = {
                "--plan": self.made["plan"],
                "--exercises": ROOT / "assets/exercises.ron",
                "--file": ROOT / "assets/temperaments.ron",
                "--ensemble": self.made["ensemble"],
                "rehearse": self.made["ensemble"],
            }
            return roles.get(role)
        return None

    def prepare(self, line, folder):
        """Puts what `line` reads into `folder`; fails where nothing is known of it."""
        words = words_of(line)
        command = None
        for place, word in enumerate(words):
            before = words[place - 1] if place else ""
            if before == "concento":
                command = word
            path = pathlib.Path(os.path.expanduser(word) if word.startswith("~") else word)
            if before in WRITTEN or (command == "new" and before == "new"):
                where = str(word).replace("~", str(folder))
                (folder / where).parent.mkdir(parents=True, exist_ok=True)
                # A session that is gone on with may be there or not; the README's are new.
                continue
            if path.suffix not in ENDINGS:
                continue
            if path.is_absolute() or ".." in path.parts:
                raise Failure(f"'{word}' lies outside the folder")
            role = before if before.startswith("-") else command
            source = self.source(path, role)
            if source is None:
                raise Failure(f"nothing is known to prepare for '{word}' ({role})")
            names = [path]
            if glob.has_magic(word):
                names = [pathlib.Path(word.replace("*", name)) for name in ("first", "second")]
            for name in names:
                (folder / name).parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(source, folder / name)
                if source in (self.made["session"], self.made["plan"]):
                    agree(folder / name, re.findall(r"agreed:([A-G][#b]*)", line))
            if source == self.made["plan"]:
                # A plan leads to its scores.
                shutil.copy(self.folder / "sonata.musicxml", folder)


def agree(path, notes):
    """Notes are agreed on in a session or a plan, as if somebody had done so."""
    text = path.read_text(encoding="utf-8")
    for note in notes:
        if path.suffix == ".session":
            text += f'Decided(at:30.0,note:"{note}",what:FollowPartial,remark:"")\n'
        else:
            agreed = f'(note: "{note}", key: "D", what: FollowPartial, why: "as an example"),'
            text = text.replace("agreed: [", f"agreed: [{agreed}")
    path.write_text(text, encoding="utf-8")


def environment(home):
    kept = {name: os.environ[name] for name in ("PATH", "TMPDIR") if name in os.environ}
    # Neither sound cards nor servers: a test neither listens to a room nor plays into it.
    nothing = home / ".no-sound"
    nothing.touch()
    runtime = home / ".run"
    runtime.mkdir(mode=0o700, exist_ok=True)
    return kept | {
        "HOME": str(home),
        "XDG_CONFIG_HOME": str(home / ".config"),
        "XDG_DATA_HOME": str(home / ".local/share"),
        "XDG_STATE_HOME": str(home / ".local/state"),
        "XDG_CACHE_HOME": str(home / ".cache"),
        "XDG_RUNTIME_DIR": str(runtime),
        "ALSA_CONFIG_PATH": str(nothing),
        "PULSE_SERVER": f"unix:{runtime}/nobody",
        "PIPEWIRE_REMOTE": "nobody",
        "TERM": "xterm-256color",
        "LC_ALL": "C.UTF-8",
    }


def perform(line, folder, shelf, screen_for=SCREEN_FOR_S):
    """Runs `line` in a terminal; returns its code, its output, its complaints, and whether it has
    shown a screen."""
    variables = environment(folder)
    variables["PATH"] = f"{shelf}:{variables['PATH']}"
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))

    def take_terminal():
        os.setsid()
        fcntl.ioctl(theirs, termios.TIOCSCTTY, 0)

    complaints = folder / ".complaints"
    with complaints.open("wb") as errors:
        child = subprocess.Popen(
            ["bash", "-c", line],
            cwd=folder,
            env=variables,
            stdin=theirs,
            stdout=theirs,
            stderr=errors,
            preexec_fn=take_terminal,
        )
    os.close(theirs)
    output, screen_since, asked = bytearray(), None, False
    until = time.monotonic() + LONGEST_S
    try:
        while True:
            ready, _, _ = select.select([ours], [], [], 0.1)
            if ready:
                try:
                    got = os.read(ours, 65536)
                except OSError:
                    got = b""
                if not got:
                    break
                output += got
            now = time.monotonic()
            if screen_since is None and OPENS_SCREEN in output:
                screen_since = now
            if screen_since is not None and not asked and now >= screen_since + screen_for:
                os.write(ours, b"q")
                asked, until = True, now + 20.0
            if now >= until:
                reason = "'q' did not end it" if asked else f"still running after {LONGEST_S:.0f} s"
                raise Failure(f"{reason}\n{readable(output)}")
        child.wait(timeout=20)
    except subprocess.TimeoutExpired:
        raise Failure(f"closed its terminal and goes on\n{readable(output)}") from None
    finally:
        if child.poll() is None:
            os.killpg(child.pid, signal.SIGKILL)
            child.wait()
        os.close(ours)
    said = complaints.read_text(errors="replace")
    return child.returncode, bytes(output), said, screen_since is not None


def rehearsal_beside(words, folder, shelf):
    """For a command that watches a rehearsal one that runs meanwhile, kept where it looks."""
    if words[:2] != ["concento", "stand"]:
        return None
    sessions = [word for word in words if word.endswith(".session")]
    line = shlex.join(["concento", "demo", *[w for s in sessions for w in ("--session", s)]])
    for session in sessions:
        (folder / session).unlink()
    beside = threading.Thread(target=perform, args=(line, folder, shelf, 3 * SCREEN_FOR_S))
    beside.start()
    sockets = folder / ".run/concento"
    until = time.monotonic() + 20.0
    while not list(sockets.glob("*.stand")):
        if time.monotonic() > until:
            raise Failure(f"'{line}' does not let itself be watched")
        time.sleep(0.05)
    return beside


def readable(output):
    """What was on the terminal, without what steers it."""
    text = output.decode(errors="replace")
    text = re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]|\x1b[()=>][0-9A-Z]?", " ", text)
    return re.sub(r"[ \r]{2,}", "  ", text)[-3000:]


def run(line, larder, shelf):
    """Runs one command of the README; returns what is told of it."""
    if line in ELSEWHERE:
        script, expected = ELSEWHERE[line]
        if expected not in (ROOT / script).read_text():
            raise Failure(f"{script} does not run it any more")
        return f"run by {script}"
    left = check_setup(line)
    if left is None:
        return "set-up, as .ci/run has it"
    words = words_of(left)
    firsts = [words[0]] + [words[i + 1] for i, w in enumerate(words[:-1]) if w in {"&&", "|", ";"}]
    for first in firsts:
        if first != "concento" and first not in COMPANIONS:
            raise Failure(f"nothing is known of '{first}'")
    if "concento" not in words and "concento" not in left:
        raise Failure("nothing of this program is in it")
    with tempfile.TemporaryDirectory(prefix="concento-readme-", dir=larder.folder) as name:
        folder = pathlib.Path(name)
        larder.prepare(left, folder)
        watched = rehearsal_beside(words, folder, shelf)
        begun = time.monotonic()
        code, output, said, had_screen = perform(left, folder, shelf)
        took = time.monotonic() - begun
        if watched is not None:
            watched.join()
    command = words[words.index("concento") + 1] if words[-1] != "concento" else ""
    complained = [text for text in said.splitlines() if text.startswith("concento:")]
    details = f"exit code {code}\n{said}\n{readable(output)}"
    excuse = MAY_FAIL.get(command)
    if excuse and code == 1 and all(excuse in text for text in complained):
        return f"says what is missing here ({took:.1f} s)"
    if code != 0 or complained:
        raise Failure(details)
    if had_screen:
        if len(output) < 500:
            raise Failure(f"the screen stayed empty\n{details}")
        listens = command in LISTENING or "--hear" in words
        listens = listens and not (DEAF | TOLD_FIRST).intersection(words)
        if listens and b"microphone" not in output:
            raise Failure(f"there is no microphone, and it does not say so\n{details}")
        return "a screen, ended by q"
    if command in LISTENING and not DEAF.intersection(words):
        raise Failure(f"no screen was shown\n{details}")
    return f"done ({took:.1f} s)"


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("program", type=pathlib.Path)
    parser.add_argument("--readme", type=pathlib.Path, default=ROOT / "README.md")
    parser.add_argument("--only", default="", help="only commands with this in them")
    parser.add_argument("--list", action="store_true", help="only list the commands")
    arguments = parser.parse_args()
    lines = list(commands_of(arguments.readme.read_text(encoding="utf-8")))
    if not any("concento" in line for line in lines):
        sys.exit("readme: no commands were found: has the README another form?")
    lines = [line for line in lines if arguments.only in line]
    if arguments.list:
        print("\n".join(lines))
        return
    begun, failed = time.monotonic(), []
    with tempfile.TemporaryDirectory(prefix="concento-readme-") as name:
        folder = pathlib.Path(name)
        shelf = folder / "bin"
        shelf.mkdir()
        (shelf / "concento").symlink_to(arguments.program.resolve())
        larder = Larder(arguments.program.resolve(), folder)
        larder.stock()
        with concurrent.futures.ThreadPoolExecutor(max_workers=6) as pool:
            # The long ones first: those hear or render whole rehearsals.
            order = sorted(lines, key=lambda line: not re.search("--record|--seconds", line))
            tasks = {line: pool.submit(run, line, larder, shelf) for line in order}
            for line in lines:
                try:
                    print(f"readme: {line}: {tasks[line].result()}", flush=True)
                except Failure as failure:
                    print(f"readme: FAILED: {line}", flush=True)
                    failed.append((line, str(failure)))
    for line, reason in failed:
        print(f"\nreadme: FAILED: {line}\n{reason}", file=sys.stderr)
    took = time.monotonic() - begun
    print(f"readme: {len(lines)} commands in {took:.0f} s, {len(failed)} failed")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
