"""Reads staves by other programs and says whether they hold the same notes.

  read_back.py FOLDER

FOLDER holds NAME.musicxml, NAME.abc and NAME.mid of the same lines, as `whichmode render … --as FORMAT --out FOLDER` and
`whichmode identify … --as FORMAT --out FOLDER` write them. music21 reads all three, abcjs (run by node, found by NODE_PATH)
the ABC file, verovio engraves the MusicXML file. The expected notes are those of the MusicXML text itself, taken from
<step>, <alter> and <octave>. Quarter tones exist in MusicXML and MIDI only; in ABC the written semitone is compared.
"""

import json
import pathlib
import subprocess
import sys
import xml.etree.ElementTree as ElementTree

import mido
import music21
import verovio

NATURAL = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
ABC_READER = pathlib.Path(__file__).with_name("abc_notes.js")


def written(path):
    """The notes of the file as MIDI numbers, by the text alone."""
    notes = []
    for pitch in ElementTree.parse(path).iter("pitch"):
        step, octave = pitch.findtext("step"), int(pitch.findtext("octave"))
        notes.append(12 * (octave + 1) + NATURAL[step] + float(pitch.findtext("alter") or 0))
    return notes


def by_music21(path):
    return [n.pitch.ps for n in music21.converter.parse(path).flatten().notes if n.isNote]


def by_abcjs(path):
    run = subprocess.run(["node", ABC_READER, path], capture_output=True, text=True, check=True)
    return json.loads(run.stdout)


def by_mido(path):
    """The line's channel, with its bends of two semitones at the most."""
    notes, bend = [], 0.0
    for message in mido.MidiFile(path):
        if getattr(message, "channel", None) != 0:
            continue
        if message.type == "pitchwheel":
            bend = message.pitch / 8192 * 2
        elif message.type == "note_on" and message.velocity > 0:
            notes.append(message.note + bend)
    return notes


def keys_by_music21(path):
    """The keys of a MIDI file's line: music21 leaves bends out and parts long notes by ties, which are joined again."""
    score = music21.converter.parse(path)
    line = score.parts[0].stripTies().flatten().notes
    return [p.ps for n in line for p in n.pitches]


def near(a, b, within):
    return len(a) == len(b) and all(abs(x - y) <= within for x, y in zip(a, b))


def main():
    verovio.enableLog(verovio.LOG_OFF)
    counts = {}
    for xml in sorted(pathlib.Path(sys.argv[1]).glob("*.musicxml")):
        notes = written(xml)
        abc, midi = xml.with_suffix(".abc"), xml.with_suffix(".mid")
        toolkit = verovio.toolkit()
        engraved = toolkit.loadFile(str(xml)) and "class=\"note" in toolkit.renderToSVG(1)
        results = {
            "music21 MusicXML": near(by_music21(xml), notes, 0),
            "verovio MusicXML": bool(engraved),
            "music21 ABC": near(by_music21(abc), notes, 0.5),
            "abcjs ABC": near(by_abcjs(abc), notes, 0.5),
            "mido MIDI, bends too": near(by_mido(midi), notes, 0.26),
            "music21 MIDI, keys": near(keys_by_music21(midi), notes, 0.5),
        }
        for name, held in results.items():
            right, all_files = counts.get(name, (0, 0))
            counts[name] = (right + held, all_files + 1)
            if not held:
                print(f"{xml.name}: {name} reads other notes")
    for name, (right, all_files) in counts.items():
        print(f"{name}: {right} of {all_files}")


main()
