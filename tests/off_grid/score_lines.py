#!/usr/bin/env python3
"""Scores answers on the lines of make_lines.py.

usage: score_lines.py DIR "COMMAND" [--only GROUP] [--rows FILE]      COMMAND such as "whichmode identify --json"; a file's name is added

For each name and timbre: `off grid` the share with that verdict, `centre` within 50 cents, octaves aside, `named` the share whose first
label has the name, in any tradition and spelling, `in five` one of the first five labels, `rms` cents between each degree and the told
one nearest to it (of those within 60 cents, where the centre is right), `F` of the degrees within 50 cents. For the controls the share called off
the grid, with its 95 % interval (Wilson). `--rows` writes what was told of each file, a JSON object a line."""
import argparse
import json
import shlex
import subprocess
import unicodedata
from collections import defaultdict
from pathlib import Path

import numpy as np

NEAR_CENTS = 50
MATCH_CENTS = 60


def key(name):
    plain = unicodedata.normalize("NFKD", name.lower().replace("ı", "i"))
    return "".join(c for c in plain if not unicodedata.combining(c) and c not in " -'’.")


def around(cents):
    """Into -600 to 600."""
    return (np.asarray(cents) + 600) % 1200 - 600


def told_centre(answer):
    """The centre's pitch as a MIDI number, octaves aside."""
    centre = answer.get("centre")
    if not centre:
        return None
    means = {d["name"]: d.get("mean_cents") for d in answer.get("degrees", [])}
    reference = answer.get("reference_hz") or 440.
    return 12 * np.log2(reference / 440) + centre["pitch_class"] + (means.get(centre["name"]) or 0) / 100


def judge(row, answer):
    """What is right in one answer."""
    out = dict(file=row["file"], group=row["group"], name=row["name"], timbre=row["timbre"], verdict=answer.get("verdict"),
               off_grid=answer.get("verdict") == "off_grid", centre=False, named=False, five=False, first=None, offs=[], f=None)
    centre = told_centre(answer)
    out["centre"] = centre is not None and abs(around(100 * (centre - row["centre"]))) < NEAR_CENTS
    labels = [label["name"] for label in answer.get("labels", [])]
    out["first"] = labels[0] if labels else None
    hits = [key(name) == key(row["name"]) for name in labels]
    out["named"], out["five"] = bool(hits and hits[0]), any(hits[:5])
    told = np.array([d["cents_from_centre"] for d in answer.get("degrees", [])], float)
    if out["centre"] and len(told):
        gaps = np.abs(around(told[None, :] - np.array(row["cents"], float)[:, None]))
        out["offs"] = [float(g) for g in gaps.min(1) if g < MATCH_CENTS]
        recall, precision = np.mean(gaps.min(1) < NEAR_CENTS), np.mean(gaps.min(0) < NEAR_CENTS)
        out["f"] = 2 * recall * precision / (recall + precision) if recall + precision else 0.
    return out


def answer_to(command, path):
    done = subprocess.run(shlex.split(command) + [str(path)], capture_output=True, text=True)
    try:
        return json.loads(done.stdout.splitlines()[0])
    except (IndexError, ValueError):
        return {"verdict": "no answer"}


def line(title, rows):
    share = lambda field: np.mean([r[field] for r in rows])
    offs = [x for r in rows for x in r["offs"]]
    fs = [r["f"] for r in rows if r["f"] is not None]
    rms = np.sqrt(np.mean(np.square(offs))) if offs else float("nan")
    print(f"{title:32s} {len(rows):4d}  {share('off_grid'):8.3f} {share('centre'):7.3f} {share('named'):6.3f} {share('five'):8.3f} "
          f"{rms:5.1f} {np.mean(fs) if fs else float('nan'):6.3f}")


def wilson(k, n, z=1.96):
    """95 % interval of a share (Wilson 1927)."""
    mid, half = k / n + z * z / (2 * n), z * np.sqrt(k / n * (1 - k / n) / n + z * z / (4 * n * n))
    return (mid - half) / (1 + z * z / n), (mid + half) / (1 + z * z / n)


def groups(rows, *fields):
    out = defaultdict(list)
    for r in rows:
        out[tuple(r[f] for f in fields)].append(r)
    return out


def show(rows):
    named = [r for r in rows if r["group"] != "control"]
    if named:
        print(f"{'':32s}    n  off grid  centre  named  in five   rms      F")
        for fields in (("group", "name", "timbre"), ("group", "name"), ("group", "timbre"), ("group",)):
            for what, some in groups(named, *fields).items():
                line(" ".join(what[1:] if "name" in fields else ("all of", *what)), some)
            print()
    controls = [r for r in rows if r["group"] == "control"]
    for what, some in [*groups(controls, "timbre").items(), (("all controls",), controls)]:
        if some:
            k, n = sum(r["off_grid"] for r in some), len(some)
            low, high = wilson(k, n)
            print(f"{what[0]:14s} called off the grid: {k} of {n} ({k / n:.3f}, {low:.3f} to {high:.3f})  centre {np.mean([r['centre'] for r in some]):.3f}")


def main():
    args = argparse.ArgumentParser()
    args.add_argument("folder", type=Path)
    args.add_argument("command")
    args.add_argument("--only", choices=["maqam", "other", "control"])
    args.add_argument("--rows", type=Path)
    args = args.parse_args()
    truth = [json.loads(text) for text in open(args.folder / "truth.jsonl")]
    rows = [judge(row, answer_to(args.command, args.folder / row["file"])) for row in truth if args.only in (None, row["group"])]
    if args.rows:
        with open(args.rows, "w") as out:
            out.writelines(json.dumps(r, ensure_ascii=False, default=bool) + "\n" for r in rows)
    show(rows)


if __name__ == "__main__":
    main()
