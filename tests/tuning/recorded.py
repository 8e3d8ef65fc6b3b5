#!/usr/bin/env python3
"""Tries `tuning` on recorded single notes: each is asked for by its name, and once as if it should be a semitone higher.

  recorded.py NODE_MODULES 'whichmode tuning --json' INSTRUMENT...

NODE_MODULES holds the npm packages tonejs-instrument-INSTRUMENT-mp3 (1.1.2), one file a note, the name in the file's name. A reading
is right within 50 cents of the name: how the instruments were tuned is not known. Worst advice: the farthest that advice to turn would
have brought a note from the pitch asked for, in cents, by the name.

Five files sound another note than they are named: so says pYIN (Mauch and Dixon, 2014) as librosa 0.11 has it, 100 or 1,200 cents off to a
cent, and the strongest line of a spectrum of one second: they are asked for by what they sound.
"""
import json
import re
import shlex
import subprocess
import sys
from pathlib import Path

SOUNDS = {"guitar-nylon/D5": "D#5", "cello/As4": "B4", "clarinet/Fs6": "F6", "trumpet/As3": "A#4", "trumpet/C3": "C4"}
LETTERS = "C C# D D# E F F# G G# A A# B".split()
TURN = re.compile(r"(raise|lower) by ([0-9.]+) cent")


def strings(command, note, path):
    done = subprocess.run(shlex.split(command) + ["--strings", note, str(path)], capture_output=True, text=True)
    return json.loads(done.stdout)["strings"][0]


def main():
    modules, command, instruments = Path(sys.argv[1]), sys.argv[2], sys.argv[3:]
    print(f"{'instrument':16s} {'notes':>5s} {'right':>5s} {'unsure':>6s} {'wrong':>5s} {'missing':>7s} {'worst advice':>12s}")
    for name in instruments:
        count = dict(notes=0, right=0, unsure=0, wrong=0, missing=0)
        worst, told = 0.0, []
        for path in sorted((modules / f"tonejs-instrument-{name}-mp3").glob("*.mp3")):
            note = path.stem.replace("s", "#")
            if not re.fullmatch("[A-G]#?[0-9]", note):
                continue
            note = SOUNDS.get(f"{name}/{path.stem}", note)
            midi = 12 * (int(note[-1]) + 1) + LETTERS.index(note[:-1])
            count["notes"] += 1
            for up in (0, 1):
                got = strings(command, f"{LETTERS[(midi + up) % 12]}{(midi + up) // 12 - 1}", path)
                advice = got["advice"] or ""
                turn = TURN.match(advice)
                if turn:
                    moved = float(turn[2]) * (1 if turn[1] == "raise" else -1)
                    worst = max(worst, abs(moved - 100 * up))
                if up:
                    continue
                sure = bool(turn) or advice.startswith("leave")
                off = got["deviation_cents"]
                kind = "missing" if off is None else "right" if abs(off) < 50 and sure else "unsure" if not sure else "wrong"
                count[kind] += 1
                if kind != "right":
                    told.append(f"  {path.name}: {kind}, {off} cents, second {got['second_opinion_hz']} Hz; {advice}")
        print(f"{name:16s} {count['notes']:5d} {count['right']:5d} {count['unsure']:6d} {count['wrong']:5d} {count['missing']:7d} {worst:12.1f}")
        print("\n".join(told)) if told else None


main()
