"""Writes the invented score that the tests read: tests/data/scores/sonata.{musicxml,mxl,mid}.

A movement for three trumpets in D, timpani, strings and organ, composed by rule here for what it
holds and not for its beauty: an upbeat, transposing parts with and without staff steps, an octave
transposition that begins in the middle, divisions that differ and change, triplets, ties of notes
and within chords, voices by backup and forward, grace and cue notes, a repeat with two endings, a
rest of several bars, changes of key and time, a double sharp. The MIDI file is music21's (10.5.1)
own of it. Run by hand: invent.py FOLDER
"""

import sys
import zipfile
from pathlib import Path

# The harmony of each bar: three bars of three beats a line, then of four.
CHORDS = """D A D | G D A | D A D | Bm E A
G D G | C G D | Em Am D | G G D
D A D | Bm F#m G | A D A | D A D""".replace("|", " ").split()[:24]
# What each is made of, from its root.
NOTES = {
    "D": ["D", "F#", "A"], "A": ["A", "C#", "E"], "G": ["G", "B", "D"], "Bm": ["B", "D", "F#"],
    "E": ["E", "G#", "B"], "C": ["C", "E", "G"], "Em": ["E", "G", "B"], "Am": ["A", "C", "E"],
    "F#m": ["F#", "A", "C#"],
}
# What trumpets in D can play of them, as they write it.
TRUMPETS = {
    "D": ["G5", "E5", "C5"], "A": ["F5", "D5", "G4"], "G": ["F5", "C5", "C5"], "Bm": ["E5", "C5", "G4"],
}
LAST = len(CHORDS)


def beats_in(bar):
    return 1 if bar == 0 else 3 if bar <= 16 else 4


def pitch(name, octave=None):
    if octave is None:
        name, octave = name[:-1], name[-1]
    alter = name.count("#") - name[1:].count("b")
    sharps = f"<alter>{alter}</alter>" if alter else ""
    return f"<pitch><step>{name[0]}</step>{sharps}<octave>{octave}</octave></pitch>"


def note(what, duration, tie=(), chord=False, voice=1, staff=None, extra="", lead=""):
    ties = "".join(f'<tie type="{kind}"/>' for kind in tie)
    tied = "".join(f'<tied type="{kind}"/>' for kind in tie)
    return (
        f"<note>{lead}{'<chord/>' if chord else ''}{what}<duration>{duration}</duration>{ties}"
        f"<voice>{voice}</voice>{extra}{f'<staff>{staff}</staff>' if staff else ''}"
        f"{f'<notations>{tied}</notations>' if tied else ''}</note>\n"
    )


def rest(duration, whole=False, **more):
    return note('<rest measure="yes"/>' if whole else "<rest/>", duration, **more)


def attributes(inside):
    return f"<attributes>{inside}</attributes>\n"


def key(fifths):
    return f"<key><fifths>{fifths}</fifths></key>"


def time(beats):
    return f"<time><beats>{beats}</beats><beat-type>4</beat-type></time>"


def beginning(bar, divisions, fifths, more=""):
    """What stands at the head of bars 0, 12 (another key), 17 (another time) and 18 (the key)."""
    if bar == 0:
        written = key(fifths) if fifths is not None else ""
        return attributes(f"<divisions>{divisions}</divisions>{written}{time(3)}{more}")
    if bar == 12 and fifths:
        return attributes(key(1))
    if bar == 17:
        return attributes((key(2) if fifths else "") + time(4))
    return ""


def trumpet(number):
    steps = "" if number == 3 else "<diatonic>1</diatonic>"
    transpose = f"<transpose>{steps}<chromatic>2</chromatic></transpose>"

    def bar_of(bar):
        beats, head = beats_in(bar), beginning(bar, 4, 0 if number < 3 else None, transpose)
        if bar == 0:
            return head + (note(pitch("G4"), 4) if number < 3 else rest(4, whole=True))
        chord = TRUMPETS.get(CHORDS[bar - 1])
        if chord is None or (number == 3 and 5 <= bar <= 8):
            many = "<measure-style><multiple-rest>4</multiple-rest></measure-style>"
            return head + (attributes(many) if bar == 5 and number == 3 else "") + rest(4 * beats, whole=True)
        top = chord[number - 1]
        grace = f"<note><grace/>{pitch('A5')}<voice>1</voice></note>\n" if number == 1 and bar % 4 == 1 else ""
        if number == 3:
            return head + note(pitch(top), 4 * beats)
        quick = "".join(note(pitch(one), 2) for one in (chord[number - 1], chord[min(number, 2)]))
        tied = bar % 8 == 7 and number == 1
        return head + grace + quick + note(pitch(top), 4 * (beats - 1) - 4 * tied) + (
            note(pitch("C5"), 4, ["start"]) if tied else ""
        )

    return bar_of


def timpani(bar):
    beats, head = beats_in(bar), beginning(bar, 2, None)
    if bar == 0:
        return head + rest(6, whole=True)  # Longer than the upbeat, as some programs write it.
    low = {"D": "D3", "A": "A2"}.get(CHORDS[bar - 1])
    if low is None:
        return head + rest(2 * beats, whole=True)
    return head + note(pitch(low), 1) * 2 + note(pitch(low), 2) + rest(2 * (beats - 2))


def violin(number):
    def bar_of(bar):
        beats, head = beats_in(bar), beginning(bar, 12, 2)
        if bar == 0:
            return head + note(pitch("A4"), 6) + note(pitch("B4"), 6)
        root, third, fifth = NOTES[CHORDS[bar - 1]]
        three = "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"
        triplet = "".join(note(pitch(one, 5), 4, extra=three) for one in (root, third, fifth))
        if number == 2:
            if bar == 10:
                # A cue of the first violin, and then its own.
                return head + note(pitch("B5"), 12, lead="<cue/>", extra='<type size="cue">quarter</type>') + note(pitch(third, 4), 12 * (beats - 1))
            return head + note(pitch(third, 4), 18) + note(pitch(fifth, 4), 12 * beats - 18)
        return head + triplet * (beats - 1) + note(pitch(root, 5), 9) + note(pitch(third, 5), 3)

    return bar_of


def viola(bar):
    beats, head = beats_in(bar), beginning(bar, 4, 2)
    if bar == 0:
        return head + rest(4)
    root, third, fifth = NOTES[CHORDS[bar - 1]]
    if bar == 10:
        return head + note(pitch("G#4"), 4) + note(pitch("F##4"), 4) + note(pitch("G#4"), 4)
    held = CHORDS[bar - 1 : bar + 1] == ["G", "G"]
    one = note(pitch(root, 4), 4, ["start"] if held else ())
    if bar > 1 and CHORDS[bar - 2 : bar] == ["G", "G"]:
        return head + note(pitch(root, 4), 4, ["stop"]) + note(pitch(fifth, 4), 4 * beats - 4)
    return head + note(pitch(fifth, 4), 4 * beats - 4) + one


def violone(bar):
    beats = beats_in(bar)
    octave = "<transpose><diatonic>0</diatonic><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>"
    head = beginning(bar, 1, 2, octave)
    if bar == 0:
        return head + rest(1)
    root = NOTES[CHORDS[bar - 1]][0]
    before, after = bar > 1 and CHORDS[bar - 2] == CHORDS[bar - 1], bar < LAST and CHORDS[bar] == CHORDS[bar - 1]
    ties = ["stop"] * before + ["start"] * after
    if bar == 17:
        head += attributes("<transpose><chromatic>0</chromatic></transpose>")
    return head + note(pitch(root, 3), beats, ties)


def organ(bar):
    beats, divisions = beats_in(bar), 8 if bar < 14 else 6
    head = beginning(bar, 8, 2, "<staves>2</staves>")
    if bar == 0:
        return head + note(pitch("F#4"), 8, staff=1) + "<backup><duration>8</duration></backup>\n" + note(
            pitch("D3"), 8, voice=5, staff=2
        )
    if bar == 14:
        head += attributes("<divisions>6</divisions>")
    root, third, fifth = NOTES[CHORDS[bar - 1]]
    length = divisions * beats
    # A chord of which only the root is tied over to the next bar, where it is the same.
    before, after = bar > 1 and CHORDS[bar - 2] == CHORDS[bar - 1], bar < LAST and CHORDS[bar] == CHORDS[bar - 1]
    ties = ["stop"] * before + ["start"] * after
    upper = note(pitch(root, 4), length, ties, staff=1) + note(pitch(third, 5), length, chord=True, staff=1)
    back = f"<backup><duration>{length}</duration></backup>\n"
    inner = f"<forward><duration>{divisions}</duration><voice>2</voice></forward>\n" + note(
        pitch(fifth, 4), length - divisions, voice=2, staff=1
    )
    lower = note(pitch(root, 3), divisions // 2 * 3, voice=5, staff=2) + note(
        pitch(fifth, 3), length - divisions // 2 * 3, voice=5, staff=2
    )
    return head + upper + back + inner + back + lower


PARTS = [
    ("Tromba I", trumpet(1)), ("Tromba II", trumpet(2)), ("Tromba\nIII", trumpet(3)), ("Timpani", timpani),
    ("Violino", violin(1)), ("Violino", violin(2)), ("", viola), ("Violone", violone), ("Organo", organ),
]


def barlines(bar):
    left = {1: '<barline location="left"><repeat direction="forward"/></barline>\n'}
    ending = '<barline location="{}"><ending number="{}" type="{}"/>{}</barline>\n'
    back = '<repeat direction="backward"/>'
    left[8] = ending.format("left", 1, "start", "")
    left[9] = ending.format("left", 2, "start", "")
    right = {8: ending.format("right", 1, "stop", back), 9: ending.format("right", 2, "discontinue", "")}
    return left.get(bar, ""), right.get(bar, "")


def score():
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE score-partwise PUBLIC '
        '"-//Recordare//DTD MusicXML 3.1 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">\n'
        '<score-partwise version="3.1">\n<work><work-title>Sonata for the rehearsal</work-title></work>\n<part-list>\n'
    ]
    for index, (name, _) in enumerate(PARTS, start=1):
        lines.append(f'<score-part id="P{index}"><part-name>{name}</part-name></score-part>\n')
    lines.append("</part-list>\n")
    for index, (_, bar_of) in enumerate(PARTS, start=1):
        lines.append(f'<part id="P{index}">\n')
        for bar in range(LAST + 1):
            implicit = ' implicit="yes"' if bar == 0 else ""
            left, right = barlines(bar)
            lines.append(f'<measure number="{bar}"{implicit}>\n{left}{bar_of(bar)}{right}</measure>\n')
        lines.append("</part>\n")
    return "".join(lines) + "</score-partwise>\n"


def main(folder):
    text = score()
    (folder / "sonata.musicxml").write_text(text, encoding="utf-8")
    with zipfile.ZipFile(folder / "sonata.mxl", "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("mimetype", "application/vnd.recordare.musicxml", zipfile.ZIP_STORED)
        packed.writestr(
            "META-INF/container.xml",
            '<?xml version="1.0"?>\n<container><rootfiles><rootfile full-path="sonata.xml" '
            'media-type="application/vnd.recordare.musicxml+xml"/></rootfiles></container>\n',
        )
        packed.writestr("sonata.xml", text)
    from music21 import converter

    played = converter.parse(folder / "sonata.musicxml")
    # It would give grace notes no length, which it does not read again itself.
    for element in list(played.recurse().notes):
        if element.duration.isGrace:
            element.activeSite.remove(element)
    played.write("midi", folder / "sonata.mid")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
