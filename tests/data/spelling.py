"""Writes spelling.csv: the 35 modes of the five parent collections, spelled by music21 (10.5) from 17 roots.

Each parent is spelled once from C by its intervals; each mode is reached by music21's own interval arithmetic: the
interval from the mode's first note to each of its notes is measured there and laid on the root.
Run: python tests/data/spelling.py > tests/data/spelling.csv
"""
from music21 import interval, pitch

PARENTS = {
    "diatonic": "C4 D4 E4 F4 G4 A4 B4",
    "melodic minor": "C4 D4 E-4 F4 G4 A4 B4",
    "harmonic minor": "C4 D4 E-4 F4 G4 A-4 B4",
    "harmonic major": "C4 D4 E4 F4 G4 A-4 B4",
    "double harmonic": "C4 D-4 E4 F4 G4 A-4 B4",
}
ROOTS = "C C# D- D D# E- E F F# G- G G# A- A A# B- B".split()

print("parent,mode,root,notes")
for parent, notes in PARENTS.items():
    low = [pitch.Pitch(name) for name in notes.split()]
    high = [note.transpose("P8") for note in low]
    for k in range(7):
        mode = (low + high)[k:k + 7]
        for root in ROOTS:
            start = pitch.Pitch(root + "4")
            spelled = [interval.Interval(mode[0], note).transposePitch(start, maxAccidental=None) for note in mode]
            names = " ".join(note.name.replace("-", "b") for note in spelled)
            print(f"{parent},{k + 1},{root.replace('-', 'b')},{names}")
