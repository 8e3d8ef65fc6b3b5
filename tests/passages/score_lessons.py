#!/usr/bin/env python3
"""Scores a program on lessons made by make_lessons.py.

usage: score_lessons.py LESSONS [--identify 'whichmode identify'] [--most N] [--wrong]

The command is run as `CMD --segments --json FILE ...`. What is counted:

border    talk and playing that follow each other: found if a stretch of playing begins (after talk) or ends (before talk) within 0.3 s of
          the end of the one or the beginning of the other, or in the pause between the two
change    a new version: found if two passages meet within 1.5 s or two notes of the first note of the new version
false     of recordings with one version, those told to hold more than one passage
set       a passage is found if one that is told covers more than half of the two together, and right if its notes are
centre    likewise with the centre, of passages that end on theirs
talk      recordings of talk alone that get no scale
Needs Python only; `--wrong` names what is wrong."""
import argparse
import json
import shlex
import subprocess
from pathlib import Path

BORDER_S, CHANGE_S = 0.3, 1.5


def asked(command, root, rows):
    lines = []
    for k in range(0, len(rows), 25):
        files = [str(root / r["file"]) for r in rows[k:k + 25]]
        run = subprocess.run(shlex.split(command) + ["--segments", "--json"] + files, capture_output=True, text=True)
        lines += [json.loads(line) for line in run.stdout.splitlines()]
    return lines


def borders(truth):
    """Where talk and playing follow each other: (earliest, latest, whether talk follows)."""
    parts = [(a, b, "talk") for a, b in truth["talk"]] + [(a, b, "play") for p in truth["passages"] for a, b in p["stretches"]]
    joined = []
    for a, b, kind in sorted(parts):
        if joined and joined[-1][2] == kind:
            joined[-1][1] = max(joined[-1][1], b)
        else:
            joined.append([a, b, kind])
    return [(min(x[1], y[0]), max(x[1], y[0]), y[2] == "talk") for x, y in zip(joined, joined[1:])]


def covered(a, b):
    """The part of the two stretches together that both cover."""
    common = min(a["end_s"], b["end_s"]) - max(a["start_s"], b["start_s"])
    return common / (max(a["end_s"], b["end_s"]) - min(a["start_s"], b["start_s"]))


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("lessons", type=Path)
    parser.add_argument("--identify", default="whichmode identify")
    parser.add_argument("--most", type=int)
    parser.add_argument("--wrong", action="store_true")
    args = parser.parse_args()
    rows = [json.loads(line) for line in open(args.lessons / "manifest.jsonl")]
    if args.most:
        rows = [r for r in rows if int(r["id"].split("-")[1]) < args.most]
    right = {k: [] for k in ["border", "change", "change by centre", "change by one note", "change in the line", "one passage", "set", "centre", "talk"]}
    extra_borders = extra_changes = 0
    sure = []
    for truth, told in zip(rows, asked(args.identify, args.lessons, rows)):
        passages, wrong = told.get("passages") or [], []

        def note(kind, ok, what):
            right[kind].append(bool(ok))
            if not ok:
                wrong.append(f"{kind} {what}")

        if not truth["passages"]:
            note("talk", told["verdict"] == "too_little" and all(p["verdict"] == "too_little" for p in passages), told["version"])
            print(truth["id"], wrong) if args.wrong and wrong else None
            continue
        playing = [s for s in told["segments"] if s["kind"] == "playing"]
        used = set()
        for first, last, talk_follows in borders(truth):
            times = [s["end_s" if talk_follows else "start_s"] for s in playing]
            hits = [t for t in times if first - BORDER_S <= t <= last + BORDER_S]
            note("border", hits, (first, last))
            used.update(hits)
        extra_borders += sum(1 for s in told["segments"] if s["kind"] == "speech" and s["start_s"] > 0 and
                             not any(min(s["end_s"], b) > max(s["start_s"], a) for a, b in truth["talk"]))
        starts = [(p["start_s"], p.get("change_confidence")) for p in passages[1:]]
        onsets = [n[0] for n in truth["notes"]]
        matched = set()
        for change in truth["changes"]:
            low, high = min(change["from_s"], change["to_s"]), change["to_s"]
            at = min(range(len(onsets)), key=lambda k: abs(onsets[k] - high))
            low = min(low - CHANGE_S, onsets[max(0, at - 2)])
            high = max(high + CHANGE_S, onsets[min(len(onsets) - 1, at + 2)])
            hits = [s for s in starts if low - 0.05 <= s[0] <= high + 0.05]
            matched.update(h[0] for h in hits)
            note("change", hits, (change["kind"], change["through"], change["to_s"]))
            for kind, holds in [("centre", change["kind"] == "centre"), ("one note", change["kind"] == "one note")]:
                if holds:
                    right[f"change by {kind}"].append(bool(hits))
            if change["through"] == "line":
                right["change in the line"].append(bool(hits))
        sure += [(p, t in matched) for t, p in starts if p is not None]
        extra_changes += sum(t not in matched for t, _ in starts)
        if len(truth["passages"]) == 1:
            note("one passage", len(passages) == 1, [p["version"] for p in passages])
        for p in truth["passages"]:
            best = max(passages, key=lambda q: covered(p, q), default=None)
            found = best is not None and covered(p, best) > 0.5
            note("set", found and best["pitch_classes"] == p["set"], (p["start_s"], p["set"], found and best["pitch_classes"]))
            if p["ends_on_centre"]:
                home = found and best["pitch_classes"] == p["set"] and best["centre"] and best["centre"]["pitch_class"] == p["centre"]
                note("centre", home, (p["start_s"], p["centre"], found and best["centre"] and best["centre"]["pitch_class"]))
        if args.wrong and wrong:
            print(truth["id"], truth["instrument"], *wrong, sep="\n    ")
    for kind, oks in right.items():
        if oks:
            print(f"{kind:20} {sum(oks):4} of {len(oks):4}  {100 * sum(oks) / len(oks):5.1f} %")
    print(f"talk told where nobody talks: {extra_borders}; changes told where none is: {extra_changes}")
    for low, high in [(0, 0.6), (0.6, 0.8), (0.8, 0.95), (0.95, 1.01)]:
        group = [ok for p, ok in sure if low <= p < high]
        if group:
            print(f"changes told with {low} to {min(high, 1)}: {sum(group)} of {len(group)} right")


if __name__ == "__main__":
    main()
