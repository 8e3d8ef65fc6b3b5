#!/usr/bin/env python3
"""Scores `tuning --json` on a list that make_tones.py made, kind by kind.

  score.py LIST 'whichmode tuning --json' [--wrong]

Columns: strings that sounded; missing; invented (heard though left out); cents: median, 99 %, worst of the error; over 3: errors over
three cents or missing, those said to be uncertain left out; unsure: strings without advice to turn or leave; worst advice: the
greatest wrong distance that any advice to turn would have moved a string by, in cents, counted from the true deviation.
"""
import argparse
import json
import re
import shlex
import subprocess
from collections import defaultdict
from pathlib import Path

LETTERS = "C C# D D# E F F# G G# A A# B".split()
TURN = re.compile(r"(raise|lower) by ([0-9.]+) cent")


def answer(command, root, row):
    names = " ".join(f"{LETTERS[m % 12]}{m // 12 - 1}" for m in row["strings_midi"])
    call = shlex.split(command) + ["--strings", names, "--a4", str(row["a4_hz"]), str(root / row["file"])]
    done = subprocess.run(call, capture_output=True, text=True)
    return json.loads(done.stdout)["strings"]


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("list", type=Path)
    ap.add_argument("command")
    ap.add_argument("--wrong", action="store_true")
    a = ap.parse_args()
    kinds = defaultdict(lambda: {"n": 0, "missing": 0, "invented": 0, "errors": [], "over": 0, "unsure": 0, "worst": 0.0})
    for line in open(a.list / "manifest.jsonl"):
        row = json.loads(line)
        kind = kinds[row["kind"]]
        for truth, got in zip(row["deviation_cents"], answer(a.command, a.list, row)):
            heard, advice = got["deviation_cents"], got["advice"] or ""
            turn = TURN.match(advice)
            sure = bool(turn) or advice.startswith("leave")
            error = None if truth is None or heard is None else abs(heard - truth)
            bad = None
            if truth is None:
                kind["invented"] += heard is not None
                bad = "invented" if heard is not None else None
            else:
                kind["n"] += 1
                if heard is None:
                    kind["missing"] += 1
                    kind["over"] += 1
                    bad = "missing"
                else:
                    kind["errors"].append(error)
                    kind["unsure"] += not sure
                    kind["over"] += sure and error > 3
                    bad = f"off by {error:.1f}" if error > 3 else None
            if turn:
                moved = float(turn[2]) * (1 if turn[1] == "raise" else -1)
                wrong = abs(moved + (truth if truth is not None else 0))
                kind["worst"] = max(kind["worst"], wrong)
            if a.wrong and bad:
                print(f"{row['file']} string {got['string']} {got['target']} {got['target_hz']:.1f}: {bad}; truth {truth}, heard {got['measured_hz']}, second {got['second_opinion_hz']}, start {got['start_s']}; {advice}; {row['ring_s']} {[p[:2] for p in row['plucks']][:9]}")
    print(f"{'kind':10s} {'strings':>7s} {'missing':>7s} {'invented':>8s} {'median':>7s} {'99 %':>7s} {'worst':>8s} {'over 3':>6s} {'unsure':>6s} {'worst advice':>12s}")
    for name, k in kinds.items():
        e = sorted(k["errors"]) or [float("nan")]
        at = lambda q: e[min(len(e) - 1, int(q * len(e)))]
        print(f"{name:10s} {k['n']:7d} {k['missing']:7d} {k['invented']:8d} {at(.5):7.2f} {at(.99):7.2f} {e[-1]:8.2f} {k['over']:6d} {k['unsure']:6d} {k['worst']:12.1f}")


main()
