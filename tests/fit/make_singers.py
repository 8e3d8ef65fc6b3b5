#!/usr/bin/env python3
"""Makes note lists as a listener hears people who sing loosely, with the set and the centre that were meant.

usage: make_singers.py MELODIES.jsonl OUT.jsonl [--n 400] [--seed 1]

Melodies are taken as they are, carried onto five degrees, or onto other known scales degree by degree. A singer scatters
about each degree (10 to 60 cents, now and then twice or three times as far), has habits (a degree that always lies low),
sinks or rises, wanders, begins phrases anew, sings a wrong note; a listener misses notes, hears slips, is unsure."""
import argparse, json
import numpy as np

FIVE = [[0, 2, 4, 7, 9], [0, 2, 5, 7, 9], [0, 2, 5, 7, 10], [0, 3, 5, 7, 10], [0, 3, 5, 8, 10]]
SEVEN = [[0, 2, 4, 5, 7, 9, 11], [0, 2, 3, 5, 7, 9, 10], [0, 2, 4, 5, 7, 9, 10], [0, 2, 3, 5, 7, 8, 10], [0, 1, 3, 5, 7, 8, 10],
         [0, 2, 4, 6, 7, 9, 11], [0, 2, 3, 5, 7, 8, 11], [0, 2, 3, 5, 7, 9, 11], [0, 1, 4, 5, 7, 8, 10]]
OF_MODE = {"maj": SEVEN[0], "min": SEVEN[3], "dor": SEVEN[1], "mix": SEVEN[2]}

def carried(notes, tonic, source, target):
    out = []
    for a, b, k in notes:
        up = int(k) - tonic; octave, r = divmod(up, 12)
        d = int(np.argmin([min(abs(s - r), 12 - abs(s - r)) for s in source]))
        if len(target) == len(source): t = target[d]
        else: # onto fewer: by the place in the octave
            t = target[int(np.argmin([min(abs(s - r), 12 - abs(s - r)) for s in target]))]
            if min(abs(t - r), 12 - abs(t - r)) == 12 - abs(t - r) and abs(t - r) > 6: octave += 1 if r > t else -1
        out.append((a, b, tonic + 12 * octave + t))
    return out

def sung(notes, rng):
    spread = float(np.clip(20 * np.exp(.6 * rng.standard_normal()), 8, 70))
    habits = .8 * spread * rng.standard_normal(12)
    n = len(notes)
    walk = rng.choice([0, 2, 5, 9]) * rng.standard_normal(n)
    slope = rng.choice([0, 1], p=[.4, .6]) * 50 * rng.standard_t(3) / n
    lengths = np.array([b - a for a, b, _ in notes]); median = np.median(lengths)
    drift = 0.; out = []
    wrong = .0006 * max(spread - 15, 0); slips, missing, octave = rng.choice([0, .02, .05]) , rng.choice([0, .02, .06]), rng.choice([0, .01])
    before_end = True
    for i, (a, b, k) in enumerate(notes):
        if before_end and i and rng.random() < .15: drift += 1.2 * spread * rng.standard_normal()
        drift += walk[i] + slope
        rest = notes[i + 1][0] - b if i + 1 < n else 0
        before_end = rest > .2 * median or lengths[i] > 1.9 * median
        if rng.random() < missing: continue
        far = rng.choice([1., 2.5], p=[.92, .08])
        hasty = 8 / max(b - a, .1) * .3
        midi = k + (drift + habits[int(k) % 12] + np.hypot(spread, hasty) * far * rng.standard_normal()) / 100
        if rng.random() < wrong: midi += rng.choice([-2, -1, 1, 2])
        if rng.random() < octave: midi += rng.choice([-12, 12])
        start = a + .015 * rng.standard_normal(); end = b - (b - a) * .4 * rng.random() ** 2
        if end - start < .05: continue
        sure = 1 - .3 * rng.random() ** 2
        if rng.random() < slips:
            cut = end - (end - start) * (.15 + .3 * rng.random())
            out.append([start, cut, midi, sure]); out.append([cut, end, midi + rng.choice([-1, 1]) * (.6 + .8 * rng.random()), 1 - .7 * rng.random()])
        else: out.append([start, end, midi, sure])
    tuning = rng.random() - .5
    ends = [o[1] for o in out[1:]]
    return [[round(max(s, 0), 3), round(min(e, out[i + 1][0] if i + 1 < len(out) else e), 3), round(m + tuning, 3), round(c, 2)]
            for i, (s, e, m, c) in enumerate(out) if (out[i + 1][0] if i + 1 < len(out) else e) - s > .03], spread, tuning

def main():
    p = argparse.ArgumentParser(); p.add_argument("melodies"); p.add_argument("out"); p.add_argument("--n", type=int, default=400); p.add_argument("--seed", type=int, default=1)
    o = p.parse_args(); rng = np.random.default_rng(o.seed)
    all_ = [m for m in map(json.loads, open(o.melodies)) if m["kind"] == "real" and m["variant"] in ("whole", "ex8") and 24 <= len(m["notes"]) <= 90]
    tunes = {}
    for m in all_: tunes.setdefault(m["id"].split("-")[1], []).append(m)
    keys = sorted(tunes); rng.shuffle(keys)
    with open(o.out, "w") as f:
        made = 0
        for key in keys:
            if made == o.n: break
            m = tunes[key][rng.integers(len(tunes[key]))]
            notes = [(a, b, int(k)) for a, b, k in (x[:3] for x in m["notes"])]
            source = OF_MODE.get(m["mode"])
            how = rng.choice(["own", "five", "seven"], p=[.4, .35, .25])
            if source is None and how != "own": continue
            if how == "five": notes = carried(notes, m["tonic"], source, FIVE[rng.choice(5, p=[.6, .1, .1, .15, .05])])
            if how == "seven": notes = carried(notes, m["tonic"], source, SEVEN[rng.integers(len(SEVEN))])
            counts = np.bincount([k % 12 for _, _, k in notes], minlength=12)
            heard, spread, tuning = sung(notes, rng)
            if len(heard) < 15: continue
            # Where it was sung: the truth moves with the tuning of the whole, as the score of a recording would.
            pairs = [(h[2] - k) for h in heard for a, b, k in notes if abs(h[0] - a) < .06]
            moved = np.median(pairs); at = int(np.round(moved)); rest = moved - at
            also = [int(np.sign(rest))] if abs(rest) > .3 else []
            off = float(np.mean(np.abs(np.array(pairs) - moved) > .5))
            f.write(json.dumps({"id": f"{made}", "tune": int(key), "notes": heard, "set": sorted({(k + at) % 12 for _, _, k in notes}), "once": [int((k + at) % 12) for k in range(12) if counts[k] == 1],
                                "also": also, "centre": int((m["tonic"] + at) % 12), "off_by_half": round(off, 3), "spread": round(spread, 1), "kind": str(how), "collection": m["collection"]}) + "\n"); made += 1

main()
