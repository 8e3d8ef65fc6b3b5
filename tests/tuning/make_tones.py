#!/usr/bin/env python3
"""Makes recordings of tuned instruments of which every pitch is known exactly: a list to score `tuning` by.

  make_tones.py OUT --seed 1 [--each 12] [--kinds pure kalimba ...]

Writes OUT/audio/*.flac and OUT/manifest.jsonl, a JSON object a recording: file, group "strings", kind, a4_hz, strings_midi,
deviation_cents (null for a string left out), plucks (start in seconds, MIDI, cents). Needs numpy and soundfile.

Where the sounds come from: a uniform free bar has partials at 1 : 2.756 : 5.404 : 8.933, a clamped one at 1 : 6.267 : 17.55
(N. H. Fletcher and T. D. Rossing, The Physics of Musical Instruments, 1998, chapter 2); bars of xylophones are undercut to 1 : 3
and of marimbas to 1 : 4 (ibid., chapter 19); a bowl's modes go about as (m(m² − 1)) / sqrt(m² + 1), m = 2, 3 … (a ring's, Rayleigh,
The Theory of Sound, 1894), its upper ones in pairs that beat; a handpan's note has its octave and twelfth (T. D. Rossing, U. Hansen,
D. Anderson, "Vibrational mode shapes in Caribbean steelpans", 2000, for the like of it); a tuned bell has hum, prime, tierce, quint,
nominal, superquint and octave nominal at 0.5, 1, 1.2, 1.5, 2, 3 and 4 times its strike note, which is an octave below the nominal wherever
the others lie (Fletcher and Rossing, chapter 21). Levels, decays and noise are our choice.
"""
import argparse
import json
import math
import random
from pathlib import Path

import numpy as np
import soundfile

SR = 44_100
SETS = {
    "pure": ["C4 E4 G4 C5", "A3 D4 E4 A4 C5", "G4 C4 E4 A4", "A4", "D3 A3 C4 D4 E4 F4 G4 A4"],
    "kalimba": ["C4 D4 E4 F4 G4 A4 B4 C5", "C4 D4 E4 F4 G4 A4 B4 C5 D5 E5 F5 G5 A5 B5 C6 D6 E6"],
    "bar": ["C5 D5 E5 F5 G5 A5 B5 C6", "F4 G4 A4 C5 D5 F5"],
    "xylophone": ["C5 D5 E5 G5 A5 C6", "F4 G4 A4 Bb4 C5"],
    "bowl": ["F3 A3 C4", "C4 D4 G4", "D3 E3 A3 B3"],
    "handpan": ["D3 A3 Bb3 C4 D4 E4 F4 G4 A4", "C3 G3 Bb3 C4 D4 Eb4 F4 G4"],
    "bell": ["C4 D4 E4 F4 G4 A4", "G4 A4 B4 C5 D5 E5 F#5 G5", "A3 C#4 E4 A4"],
    "bowed": ["G3 D4 A4 E5", "C3 G3 D4 A4", "C2 G2 D3 A3", "E1 A1 D2 G2"],
    "blown": ["D4 E4 G4 A4 B4 D5", "G4 A4 C5 D5 E5"],
    "damped": ["E2 A2 D3 G3 B3 E4", "G4 C4 E4 A4", "D4 G3 A3 Bb3 D4 Eb4 G4 A4 Bb4"],
}
LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def midi(name):
    return 12 * (int(name[-1]) + 1) + LETTERS[name[0]] + name.count("#") - name[1:].count("b")


def ring_mode(m):
    """A ring's mode over its second."""
    mode = lambda k: k * (k * k - 1) / math.sqrt(k * k + 1)
    return mode(m) / mode(2)


def struck(g, f0, seconds, partials, attack_s, knock):
    """Partials (ratio, amplitude, decay time constant in seconds), after a short attack and a knock."""
    t = np.arange(int(seconds * SR)) / SR
    y = np.zeros_like(t)
    for ratio, amplitude, tau in partials:
        if ratio * f0 < SR / 2.3:
            y += amplitude * np.exp(-t / tau) * np.sin(2 * np.pi * ratio * f0 * t + g.uniform(0, 2 * np.pi))
    rise = max(int(attack_s * SR), 8)
    y[:rise] *= 0.5 - 0.5 * np.cos(np.pi * np.arange(rise) / rise)
    n = int(0.01 * SR)
    y[:n] += knock * g.standard_normal(n) * np.linspace(1, 0, n)
    return y


def string_partials(g, stiffness, tau):
    place = g.uniform(0.1, 0.3)
    ratio = lambda n: n * math.sqrt((1 + stiffness * n * n) / (1 + stiffness))
    return [(ratio(n), abs(math.sin(math.pi * n * place)) / n ** 1.1, tau / (1 + 0.3 * n)) for n in range(1, 30)]


def sustained(g, f0, seconds, harmonics, attack_s, release_s, breath):
    """Harmonics of steady level whose pitch sways by a cent or less about f0, with filtered noise of the bow or breath."""
    t = np.arange(int(seconds * SR)) / SR
    sway = g.uniform(0, 1.0) * np.sin(2 * np.pi * g.uniform(3, 6) * t)
    phase = 2 * np.pi * np.cumsum(f0 * 2 ** (sway / 1200)) / SR
    y = np.zeros_like(t)
    for n, amplitude in harmonics:
        if n * f0 < SR / 2.3:
            y += amplitude * np.sin(n * phase + g.uniform(0, 2 * np.pi))
    y += breath * np.convolve(g.standard_normal(len(t)), np.ones(6) / 6, "same")
    gate = np.minimum(1, t / attack_s) * np.minimum(1, (seconds - t) / release_s)
    return y * np.sin(np.pi / 2 * np.clip(gate, 0, 1)) ** 2


def tone(rng, g, kind, f0, gap, ring):
    if kind == "pure":
        return struck(g, f0, gap + ring, [(1, 1, rng.choice([0.3, 0.8, 1.5, 3, 6]))], rng.choice([0.002, 0.01, 0.03]), 0)
    if kind == "kalimba":
        return struck(g, f0, gap + ring, [(1, 1, rng.uniform(0.3, 1.5)), (6.267, rng.uniform(0.02, 0.3), 0.1), (17.55, 0.05, 0.04)], 0.002, 0.05)
    if kind == "bar":
        return struck(g, f0, gap + ring, [(1, 1, rng.uniform(0.6, 4)), (2.756, rng.uniform(0.1, 0.8), rng.uniform(0.2, 1.5)), (5.404, 0.2, 0.3), (8.933, 0.1, 0.1)], 0.002, 0.05)
    if kind == "xylophone":
        second = rng.choice([3, 4])
        return struck(g, f0, gap + ring, [(1, 1, rng.uniform(0.15, 0.6)), (second, rng.uniform(0.1, 0.6), 0.1), (rng.uniform(6, 10), 0.1, 0.05)], 0.002, 0.1)
    if kind == "bowl":
        modes = [(1, 1, rng.uniform(2, 6))]
        for m, level in ((3, rng.uniform(0.2, 0.9)), (4, 0.25), (5, 0.1)):
            ratio, split, tau = ring_mode(m) * rng.uniform(0.97, 1.03), rng.uniform(0.2, 1.5) / f0, rng.uniform(0.5, 3)
            modes += [(ratio, level, tau), (ratio + split, level * rng.uniform(0.2, 0.8), tau)]
        return struck(g, f0, gap + ring, modes, 0.005, 0.02)
    if kind == "handpan":
        off = lambda: 2 ** (rng.gauss(0, 2) / 1200)
        return struck(g, f0, gap + ring, [(1, 1, rng.uniform(0.5, 1.5)), (2 * off(), rng.uniform(0.2, 0.9), 0.6), (3 * off(), rng.uniform(0.1, 0.5), 0.5), (rng.uniform(4.2, 5.8), 0.05, 0.2)], 0.004, 0.05)
    if kind == "bell":
        off = lambda cents: 2 ** (rng.gauss(0, cents) / 1200)
        modes = []
        for ratio, level, tau, cents in ((0.5, 0.5, 6, 20), (1, 0.6, 3, 12), (1.2, 0.8, 2.5, 8), (1.5, 0.15, 1.5, 15), (2, 1, 1.5, 0), (3, 0.6, 0.8, 8), (4, 0.3, 0.5, 15)):
            place, level, split = ratio * off(cents), level * rng.uniform(0.5, 1.2), rng.uniform(0.1, 0.6) / f0
            modes.append((place, level, tau))
            if cents:  # the pair beats; the nominal is left alone, so that the pitch is exactly known
                modes.append((place + split, level * rng.uniform(0, 0.4), tau))
        return struck(g, f0, gap + ring, modes, 0.002, 0.05)
    if kind == "bowed":
        harmonics = [(n, 1 / n * rng.uniform(0.3, 1.5)) for n in range(1, 25)]
        return sustained(g, f0, gap - rng.uniform(0.02, 0.3), harmonics, rng.uniform(0.05, 0.2), 0.1, 0.02)
    if kind == "blown":
        harmonics = [(n, rng.uniform(0.5, 1) * 0.35 ** (n - 1)) for n in range(1, 7)]
        return sustained(g, f0, gap - rng.uniform(0.02, 0.3), harmonics, rng.uniform(0.03, 0.12), 0.08, rng.uniform(0.005, 0.05))
    y = struck(g, f0, gap, string_partials(g, rng.choice([0, 5e-5, 2e-4]), 1.0), 0.003, 0.1)
    stop = int(rng.uniform(0.3, 0.5) * SR)
    fade = int(0.05 * SR)
    y[stop:stop + fade] *= np.linspace(1, 0, fade)
    y[stop + fade:] = 0
    return y


def recording(seed, kind, index, out):
    rng = random.Random(f"{seed}/{kind}/{index}")
    g = np.random.default_rng(rng.randrange(1 << 30))
    strings = [midi(n) for n in rng.choice(SETS[kind]).split()]
    a4 = rng.choice([440.0, 440.0, 442.0, 432.0])
    off = [round(rng.gauss(0, 12) if rng.random() < 0.85 else rng.choice([-1, 1]) * rng.uniform(30, 80), 2) for _ in strings]
    omitted = rng.randrange(len(strings)) if len(strings) > 2 and rng.random() < 0.15 else None
    slow = kind in ("bowed", "blown", "bowl", "bell")
    ring = 0.0 if kind in ("bowed", "blown", "damped") else rng.choice([0.0, 0.5, 2.0])
    y, plucks, t = np.zeros(int((2.5 * 2 * len(strings) + 6) * SR)), [], 0.4
    for k, (m, cents) in enumerate(zip(strings, off)):
        if k == omitted:
            continue
        for _ in range(2 if rng.random() < 0.1 else 1):
            gap = rng.choice([1.2, 1.6, 2.2]) if slow else rng.choice([0.8, 1.2, 1.6])
            x = tone(rng, g, kind, a4 * 2 ** ((m - 69 + cents / 100) / 12), gap, ring)
            x = x / np.max(np.abs(x)) * rng.uniform(0.4, 1)
            x[-800:] *= np.linspace(1, 0, 800)
            s = int(t * SR)
            y[s:s + len(x)] += x
            plucks.append([round(t, 4), m, cents])
            t += gap
    y = y[: int((t + ring + 0.5) * SR)]
    y = 0.5 * y / np.max(np.abs(y)) + rng.choice([0, 1e-4, 1e-3]) * g.standard_normal(len(y))
    name = f"{kind}-{index:03d}.flac"
    soundfile.write(out / "audio" / name, y, SR)
    return {"file": f"audio/{name}", "group": "strings", "kind": kind, "instrument": kind, "a4_hz": a4, "strings_midi": strings,
            "deviation_cents": [None if k == omitted else d for k, d in enumerate(off)], "plucks": plucks,
            "seconds": len(y) / SR, "inharmonicity": None, "ring_s": ring}


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("out", type=Path)
    ap.add_argument("--seed", type=int, default=1)
    ap.add_argument("--each", type=int, default=12, help="recordings of each kind")
    ap.add_argument("--kinds", nargs="*", default=list(SETS))
    a = ap.parse_args()
    (a.out / "audio").mkdir(parents=True, exist_ok=True)
    with open(a.out / "manifest.jsonl", "w") as f:
        for kind in a.kinds:
            for i in range(a.each):
                f.write(json.dumps(recording(a.seed, kind, i, a.out)) + "\n")


main()
