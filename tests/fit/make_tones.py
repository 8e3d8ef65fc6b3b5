#!/usr/bin/env python3
"""Make clips of synthetic tones of many kinds with exact pitch truth, to fit the pitch model on sounds that no soundfont has.

  make_tones.py OUT [--seed 1] [--clips 120]

Writes OUT/manifest.json, OUT/wav/ID.wav (44.1 kHz, mono, 16 bit), OUT/ref/ID.f0.csv (time_s,f0_hz or 0, every 10 ms) and
OUT/ref/ID.notes.csv (start_s,end_s,midi): the format that pitch_model.rs reads. Every clip draws its timbre (number and fall of
partials, missing or odd partials, stiffness, bar-like partials, formants, breath noise), its envelope, tempo, register, ring-over,
vibrato, drift, echo, noise and band limits at random. Some clips hold no note at all. Needs PyPI numpy, scipy, soundfile.
"""
import argparse, json
from pathlib import Path
import numpy as np
import soundfile as sf
from scipy.signal import butter, fftconvolve, sosfilt

SR, HOP = 44100, 0.01


def timbre(g):
    """Ratios, amplitudes and decay rates of the partials of one instrument."""
    kind = g.choice(["string", "sustained", "odd", "bar", "pure", "formant"], p=[0.4, 0.2, 0.1, 0.12, 0.08, 0.1])
    n = np.arange(1, 31)
    b = g.choice([0, 0, 10 ** g.uniform(-5, -3.3)])
    ratios = n * np.sqrt((1 + b * n * n) / (1 + b))
    amps = n ** -g.uniform(0.3, 2.2) * np.exp(g.normal(0, 0.5, len(n)))
    if kind == "string":
        amps = amps * (np.abs(np.sin(np.pi * n * g.uniform(0.08, 0.45))) + 0.02)
    if kind == "odd":
        amps[1::2] *= g.uniform(0.01, 0.2)
    if kind == "bar":
        first = g.choice([6.27, 3.0, 4.0, 2.76, 5.4])
        ratios, amps = np.array([1, first, first * g.uniform(1.9, 2.9)]), np.array([1, g.uniform(0.05, 0.6), g.uniform(0, 0.3)])
    if kind == "pure":
        ratios, amps = n[:3], np.array([1, g.uniform(0, 0.1), g.uniform(0, 0.05)])
    if g.random() < 0.12 and len(amps) > 4:
        amps[0] *= g.uniform(0.01, 0.2)
    plucked = kind in ("string", "bar") or kind == "pure" and g.random() < 0.5
    decay = g.uniform(0.6, 5) * (1 + g.uniform(0, 0.6) * (ratios - 1)) if plucked else np.zeros(len(ratios))
    formants = [(g.uniform(300, 3500), g.uniform(80, 400)) for _ in range(3)] if kind == "formant" else None
    return {"kind": kind, "ratios": ratios, "amps": amps, "decay": decay, "plucked": plucked, "formants": formants,
            "attack": g.uniform(0.001, 0.006) if plucked else g.uniform(0.01, 0.08), "breath": g.choice([0, 0, g.uniform(0, 0.06)]),
            "knock": g.choice([0, g.uniform(0, 0.3)]) if plucked else 0}


def tone(g, t, midi, seconds, bend):
    """One note: samples, with `bend` cents at each sample."""
    n = int(seconds * SR)
    x = np.arange(n) / SR
    f = 440 * 2 ** ((midi - 69 + bend[:n] / 100) / 12)
    phase = 2 * np.pi * np.cumsum(f) / SR
    slow = (220 / f[0]) ** g.uniform(0, 0.5)
    y = np.zeros(n)
    for r, a, d in zip(t["ratios"], t["amps"], t["decay"]):
        if r * f.max() > 0.45 * SR:
            continue
        if t["formants"]:
            a = a * (0.03 + sum(np.exp(-(((r * f[0]) - c) / w) ** 2) for c, w in t["formants"]))
        y += a * np.sin(r * phase + g.uniform(0, 2 * np.pi)) * (np.exp(-x * d / slow) if d else 1)
    y *= np.clip(x / t["attack"], 0, 1)
    peak = np.abs(y).max() + 1e-9
    if t["breath"]:
        y += t["breath"] * peak * g.standard_normal(n) * np.clip(x / 0.03, 0, 1)
    if t["knock"]:
        k = min(n, int(0.015 * SR))
        y[:k] += t["knock"] * peak * g.standard_normal(k) * np.linspace(1, 0, k) ** 2
    fade = min(n, int(g.uniform(0.02, 0.12) * SR))
    y[-fade:] *= np.linspace(1, 0, fade)
    return y / peak


def line(g, seconds):
    """A walk over a random scale: [(start, length, midi)]."""
    degrees = np.array([0] + sorted(g.choice(np.arange(1, 12), g.integers(4, 8), replace=False)))
    low = int(g.integers(30, 88))
    pool = [low + 12 * o + d for o in range(2) for d in degrees if low + 12 * o + d <= 100]
    unit = 10 ** g.uniform(-0.95, -0.1)
    out, t, i = [], g.uniform(0.1, 0.6), int(g.integers(len(pool)))
    while t < seconds - 0.3:
        length = unit * g.choice([0.5, 1, 1, 2]) * g.uniform(0.9, 1.1)
        length = max(length, 0.09)
        out.append((t, length, pool[i]))
        t += length + (g.uniform(0.1, 0.6) if g.random() < 0.08 else 0)
        i = int(np.clip(i + g.choice([-3, -2, -1, -1, 0, 1, 1, 2, 3, 5, -5]), 0, len(pool) - 1))
    return out


def expression(g, n, style):
    x = np.arange(n) / SR
    if style == "vibrato":
        return g.uniform(10, 60) * np.sin(2 * np.pi * g.uniform(4.5, 7) * x) * np.clip((x - 0.08) / 0.2, 0, 1)
    if style == "bend" and g.random() < 0.5:
        return g.choice([-200, -100, 100, 200]) * (1 - np.clip(x / g.uniform(0.05, 0.2), 0, 1))
    return np.zeros(n)


def degrade(g, y):
    level = np.sqrt(np.mean(y ** 2)) + 1e-9
    if g.random() < 0.2:
        n = int(SR * g.uniform(0.2, 1.0))
        ir = g.standard_normal(n) * np.exp(-np.arange(n) / n * 6.9)
        ir *= g.uniform(0.1, 0.7) / np.sqrt((ir ** 2).sum())
        ir[0] = 1
        y = fftconvolve(y, ir)[:len(y)]
    if g.random() < 0.45:
        noise = g.standard_normal(len(y))
        if g.random() < 0.6:
            spectrum = np.fft.rfft(noise)
            spectrum /= np.maximum(np.arange(len(spectrum)), 30) ** g.uniform(0.3, 1.0)
            noise = np.fft.irfft(spectrum, len(y))
        y = y + noise / noise.std() * level * 10 ** (-g.uniform(5, 40) / 20)
    if g.random() < 0.15:
        y = sosfilt(butter(2, [g.uniform(100, 350), g.uniform(2500, 5000)], "band", fs=SR, output="sos"), y)
    if g.random() < 0.15:
        hum = sum(g.uniform(0, 1) * np.sin(2 * np.pi * g.choice([50, 60]) * k * np.arange(len(y)) / SR) for k in range(1, 5))
        y = y + hum * level * 10 ** (-g.uniform(15, 40) / 20)
    if g.random() < 0.1:
        for t in np.arange(0, len(y) - 2000, int(g.uniform(0.3, 0.7) * SR)):
            k = np.arange(900)
            y[t:t + 900] += 4 * level * g.uniform(0.2, 1) * np.sin(2 * np.pi * 1800 * k / SR) * np.exp(-k / 180)
    return y


def clip(g, seconds):
    n = int(seconds * SR)
    y, frames = np.zeros(n), int(seconds / HOP)
    f0, notes = np.zeros(frames), []
    t, style = timbre(g), g.choice(["plain", "plain", "plain", "vibrato", "bend"])
    ring = g.choice([0.02, 0.2, 0.6, 2.0]) if t["plucked"] else g.choice([0.02, 0.05, 0.12])
    tuning = g.uniform(-50, 50)
    events = line(g, seconds)
    for k, (start, length, midi) in enumerate(events):
        bend = expression(g, int((length + ring + 0.2) * SR), style if length > 0.2 else "plain") + tuning
        x = tone(g, t, midi, min(length + ring, seconds - start), bend) * g.uniform(0.35, 1)
        a = int(start * SR)
        y[a:a + len(x)] += x[:n - a]
        until = min(events[k + 1][0] if k + 1 < len(events) else seconds, start + length + ring)
        env = np.sqrt(np.convolve(x ** 2, np.ones(882) / 882, "same"))
        alive = np.nonzero(env > max(env.max() * 10 ** (-35 / 20), 0.004))[0]
        end = min(until, start + (alive[-1] if len(alive) else 0) / SR)
        i = np.arange(int(np.ceil(start / HOP)), min(frames, int(end / HOP) + 1))
        at = np.clip(((i * HOP - start) * SR).astype(int), 0, len(bend) - 1)
        f0[i] = 440 * 2 ** ((midi - 69 + bend[at] / 100) / 12)
        notes.append((start, end, midi + tuning / 100))
    y = y / (np.abs(y).max() + 1e-9) + 1e-4 * g.standard_normal(n)
    return degrade(g, y), f0, notes


def nothing(g, seconds):
    """Noise, clicks or near silence: no note."""
    n = int(seconds * SR)
    y = g.standard_normal(n) * 10 ** g.uniform(-4, -0.5)
    if g.random() < 0.5:
        spectrum = np.fft.rfft(y)
        y = np.fft.irfft(spectrum / np.maximum(np.arange(len(spectrum)), 30) ** g.uniform(0.3, 1.2), n)
    if g.random() < 0.5:
        y *= 0.02 / (y.std() + 1e-9)
        for t in np.arange(1000, n - 3000, int(g.uniform(0.2, 0.8) * SR)):
            k = np.arange(1500)
            y[t:t + 1500] += np.sin(2 * np.pi * g.uniform(900, 3000) * k / SR) * np.exp(-k / g.uniform(60, 250))
    return y / (np.abs(y).max() + 1e-9) * 10 ** g.uniform(-1.5, 0), np.zeros(int(seconds / HOP)), []


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("out", type=Path)
    ap.add_argument("--seed", type=int, default=1)
    ap.add_argument("--clips", type=int, default=120)
    a = ap.parse_args()
    for d in ("wav", "ref"):
        (a.out / d).mkdir(parents=True, exist_ok=True)
    manifest = []
    for k in range(a.clips):
        g = np.random.default_rng([a.seed, k])
        seconds = float(g.uniform(5, 8))
        y, f0, notes = nothing(g, seconds) if k % 12 == 11 else clip(g, seconds)
        sf.write(a.out / "wav" / f"tone{k}.wav", 0.7 * y / max(0.7, np.abs(y).max()), SR, subtype="PCM_16")
        np.savetxt(a.out / "ref" / f"tone{k}.f0.csv", np.c_[np.arange(len(f0)) * HOP, f0], fmt="%.3f,%.4f")
        (a.out / "ref" / f"tone{k}.notes.csv").write_text("".join("%.4f,%.4f,%.4f\n" % n for n in notes))
        manifest.append({"id": f"tone{k}", "dur": seconds, "src": "tone", "inst": "tone", "tempo": "med", "expr": "none", "cond": "clean", "ring": "no"})
    (a.out / "manifest.json").write_text(json.dumps(manifest))


if __name__ == "__main__":
    main()
