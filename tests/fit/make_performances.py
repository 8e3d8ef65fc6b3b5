#!/usr/bin/env python3
"""Made-up performances that move like people: glides, scoops, vibrato that grows in, drift, consonants, breath, ornaments.

usage: make_performances.py OUT --seed N --n 100      writes OUT/wav/ID.wav, OUT/ref/ID.notes.csv (start_s,end_s,midi), OUT/manifest.jsonl

Each line is a walk over a scale of five to seven degrees, sung on syllables, hummed, or played with slides. A sung note begins where its
vowel begins and ends where it ends; a note reached by a glide begins in the middle of the glide. `set`, `centre` hold the truth about
the scale, `glide_ms`, `spread` (semitones), `drift` (semitones over the whole), `touched` (classes that occur only in ornaments) how it
was performed. The voice is harmonics under a falling source spectrum with three formants (Fant, Acoustic Theory of Speech Production,
1960; vowel formants after Peterson and Barney, "Control methods used in a study of the vowels", 1952, rounded, from memory); all ranges
are engineering judgement. Needs numpy, soundfile."""
import argparse, json, os
import numpy as np
import soundfile as sf

RATE = 22050
STEP = 0.001          # seconds between control points
VOWELS = {"o": (450, 800, 2700), "e": (530, 1850, 2500), "i": (290, 2250, 3000), "a": (720, 1150, 2500), "u": (320, 800, 2300)}
SYLLABLES = [("d", "o"), ("r", "e"), ("m", "i"), ("f", "a"), ("s", "o"), ("l", "a"), ("t", "i"), ("n", "a"), ("", "u")]
SCALES = ["2212221", "2122212", "1222122", "2221221", "2212212", "2122122", "21423", "14232", "22323", "32232", "21414", "2122131", "1312122"]
# Closure in seconds, level there in decibels, noise against the voice, dip of the pitch in semitones.
CONSONANTS = {"d": ((.03, .08), -22, .15, .5), "t": ((.05, .11), -50, .3, .4), "r": ((.03, .07), -9, 0, .5), "m": ((.05, .12), -9, 0, .25),
              "n": ((.05, .11), -9, 0, .25), "f": ((.06, .14), -45, .12, .3), "s": ((.08, .16), -50, .35, .3), "l": ((.04, .09), -6, 0, .3), "": ((.0, .03), -12, 0, .2)}


def line(rng, scale, centre, n):
    """Scale degrees of a walk that ends on the centre, as semitones above it."""
    steps = [int(c) for c in scale]; ladder = np.concatenate([[0], np.cumsum(steps)])[:-1]
    ladder = np.concatenate([ladder - 12, ladder, ladder + 12]); at = len(steps); low, high = at - 3, at + len(steps) + 2
    out = []
    for _ in range(n - 1):
        out.append(at)
        at += rng.choice([-2, -1, 1, 2, 0, 3, -3], p=[.12, .32, .3, .1, .1, .03, .03])
        at = int(np.clip(at, low, high))
    missing = [k for k in range(len(steps)) if not any(o % len(steps) == k for o in out)]
    out = missing + out if rng.random() < .5 else out + missing
    return [int(ladder[o if o >= len(steps) - 3 else o + len(steps)]) for o in out] + [0]


def perform(rng, kind):
    scale = SCALES[rng.integers(len(SCALES))]; centre = int(rng.integers(43, 68))
    degrees = line(rng, scale, centre, int(rng.integers(18, 36)))
    beat = rng.uniform(.25, .6); spread = rng.choice([.03, .1, .2, .3]) if kind != "slide" else .03
    drift = rng.normal(0, .3) if kind != "slide" and rng.random() < .5 else 0.
    glide = rng.uniform(.02, .2) if kind != "sung" else rng.uniform(.02, .1)
    legato = {"sung": .25, "hummed": .8, "slide": 1.0}[kind]
    vibrato = (rng.uniform(4.5, 6.5), rng.choice([0, 0, .2, .4, .7]))
    notes, events, t = [], [], .3
    total = sum(1 for _ in degrees) * beat
    for d in degrees:
        length = beat * rng.choice([1, 1, 1, 2, .5], p=[.5, .15, .1, .15, .1]); length = max(length, glide + .16)
        pitch = centre + d + rng.normal(0, spread) + drift * (t / total)
        joined = rng.random() < legato and bool(notes) and notes[-1][2] != centre + d
        breath = 0 if joined else (rng.uniform(.2, .5) if rng.random() < .08 else 0)
        consonant, vowel = SYLLABLES[rng.integers(len(SYLLABLES))]
        closure = 0 if joined or kind == "slide" else rng.uniform(*CONSONANTS[consonant][0])
        if kind == "slide" and not joined: closure = .02
        start = t + breath + closure; end = t + breath + length
        if end - start < .12: end = start + .12
        ornament = rng.choice(["", "grace", "mordent", "turn"], p=[.9, .05, .03, .02]) if end - start > .35 else ""
        scoop = rng.uniform(.6, 2.5) if not joined and kind != "slide" and rng.random() < .25 else 0
        fall = rng.uniform(.5, 2) if rng.random() < .06 and kind != "slide" else 0
        notes.append((start, end, centre + d)); t = end
        events.append(dict(start=start, end=end, pitch=pitch, joined=joined, consonant=consonant if closure else "", closure=closure, vowel=vowel, ornament=str(ornament), scoop=scoop, fall=fall, breath=breath))
    return dict(scale=scale, centre=centre, notes=notes, events=events, glide=glide, vibrato=vibrato, spread=float(spread), drift=float(drift), length=t + .4, kind=kind)


def ease(shape, x):
    return {"cosine": .5 - .5 * np.cos(np.pi * x), "line": x, "early": 1 - (1 - x) ** 3, "late": x ** 3}[shape]


def controls(rng, p):
    n = int(p["length"] / STEP); time = np.arange(n) * STEP
    midi, level = np.full(n, np.nan), np.full(n, -90.0); noise = np.zeros(n); formants = np.tile(np.array(VOWELS["a"], float), (n, 1)); murmur = np.zeros(n)
    shape = rng.choice(["cosine", "line", "early", "late"]); rate, extent = p["vibrato"]
    loud = 0.
    for k, e in enumerate(p["events"]):
        i, j = int(e["start"] / STEP), min(n, int(e["end"] / STEP)); x = time[i:j] - e["start"]; length = e["end"] - e["start"]
        f = np.full(j - i, e["pitch"])
        if extent: f += extent * np.clip((x - .15) / .3, 0, 1) * np.sin(2 * np.pi * rate * x + rng.uniform(0, 6))
        if e["scoop"]: f -= e["scoop"] * np.exp(-x / rng.uniform(.03, .06))
        if e["fall"]: f -= e["fall"] * np.clip((x - length + .12) / .12, 0, 1) ** 2
        if e["ornament"] == "grace": f[x < .08] += rng.choice([-2, -1, 1, 2])
        if e["ornament"] == "mordent": f[(x > .07) & (x < .14)] += rng.choice([-1, 1, 2])
        if e["ornament"] == "turn": f[x < .07] += 2; f[(x >= .14) & (x < .21)] -= 1
        midi[i:j] = f; loud = np.clip(loud + rng.normal(0, 1.5), -6, 3)
        level[i:j] = loud - 3 * x / max(length, .1)
        if not e["joined"]: level[i:j] += 12 * np.log10(np.clip(x / .03, 1e-2, 1))
        level[max(i, j - 40):j] += 0 if k + 1 < len(p["events"]) and p["events"][k + 1]["joined"] else np.linspace(0, -12, j - max(i, j - 40))
        formants[i:j] = VOWELS[e["vowel"]]
        if e["consonant"]:
            c = CONSONANTS[e["consonant"]]; a = int((e["start"] - e["closure"]) / STEP)
            before = midi[a - 1] if a > 0 and not np.isnan(midi[a - 1]) else e["pitch"]
            midi[a:i] = np.linspace(before, e["pitch"], i - a) - c[3] * np.sin(np.linspace(0, np.pi, i - a)); level[a:i] = loud + c[1]
            noise[a:i] = c[2]; murmur[a:i] = 1 if e["consonant"] in "mndl" else 0; formants[a:i] = VOWELS[e["vowel"]]
    # Glides between joined notes, their middle where the later one begins.
    for before, e in zip(p["events"], p["events"][1:]):
        if e["joined"]:
            g = min(p["glide"] * rng.uniform(.7, 1.3), .8 * (before["end"] - before["start"]), .8 * (e["end"] - e["start"]))
            a, b = int((e["start"] - g / 2) / STEP), int((e["start"] + g / 2) / STEP)
            if b - a > 2: x = np.linspace(0, 1, b - a); midi[a:b] = midi[a] + (midi[min(b, n - 1)] - midi[a]) * ease(shape, x)
    smooth = np.hanning(15); smooth /= smooth.sum()
    for c in range(3): formants[:, c] = np.convolve(np.pad(formants[:, c], 30, mode="edge"), np.hanning(41) / np.hanning(41).sum(), "same")[30:-30]
    gain = np.convolve(10 ** (level / 20), smooth, "same")
    jitter = np.convolve(rng.normal(0, 1, n), np.hanning(60) / np.hanning(60).sum(), "same") * rng.uniform(.2, .6)
    filled = np.where(np.isnan(midi), 60, midi) + jitter * .5
    return time, filled, gain * ~np.isnan(midi), noise * gain.max(), formants, murmur


def sound(rng, p):
    time, midi, gain, noise, formants, murmur = controls(rng, p)
    n = int(p["length"] * RATE); t = np.arange(n) / RATE; at = lambda x: np.interp(t, time, x)
    hz = 440 * 2 ** ((at(midi) - 69) / 12); phase = 2 * np.pi * np.cumsum(hz) / RATE
    tilt = rng.uniform(1.0, 1.8); voice = p["kind"] != "slide"; y = np.zeros(n); f = [at(formants[:, c]) for c in range(3)]; hum = at(murmur)
    closed = p["kind"] == "hummed"
    for h in range(1, 41):
        fh = h * hz
        if fh.min() > 5000: break
        a = h ** -tilt * (fh < 5000)
        if voice and not closed: a = a * (.08 + sum(w / (1 + ((fh - fc) / (.5 * bw)) ** 2) for fc, bw, w in zip(f, (110, 160, 220), (1, .7, .4))))
        if closed: a = a / (1 + (fh / 500) ** 2)
        a = a * np.where(hum > .5, 1 / (1 + (fh / 400) ** 3), 1)
        y += a * np.sin(h * phase + rng.uniform(0, 6.28))
    y /= np.sqrt((y ** 2).mean()) + 1e-9
    hiss = np.diff(rng.normal(0, 1, n + 1)); breath = rng.uniform(.003, .03) if voice else .001
    y = y * at(gain) + hiss * (at(noise) * .5 + breath * at(gain))
    if rng.random() < .5:   # a small room
        ir = rng.normal(0, 1, int(.25 * RATE)) * np.exp(-np.arange(int(.25 * RATE)) / (rng.uniform(.03, .08) * RATE)) * rng.uniform(.02, .08); ir[0] = 1
        y = np.convolve(y, ir)[:n]
    y += rng.normal(0, 1, n) * 10 ** (rng.uniform(-60, -32) / 20)
    return .5 * y / np.abs(y).max()


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("out"); ap.add_argument("--seed", type=int, default=1); ap.add_argument("--n", type=int, default=100)
    a = ap.parse_args()
    os.makedirs(f"{a.out}/wav", exist_ok=True); os.makedirs(f"{a.out}/ref", exist_ok=True)
    with open(f"{a.out}/manifest.jsonl", "w") as out:
        for k in range(a.n):
            rng = np.random.default_rng([a.seed, k]); kind = ["sung", "sung", "hummed", "slide"][k % 4]
            p = perform(rng, kind); name = f"{kind}-{k:03d}"
            sf.write(f"{a.out}/wav/{name}.wav", sound(rng, p).astype(np.float32), RATE, subtype="PCM_16")
            np.savetxt(f"{a.out}/ref/{name}.notes.csv", np.array(p["notes"]), delimiter=",", fmt="%.4f")
            own = sorted({m % 12 for *_, m in p["notes"]})
            out.write(json.dumps(dict(id=name, file=f"wav/{name}.wav", group=kind, core_set=own, full_set=own, centre=p["centre"] % 12, glide_ms=round(1000 * p["glide"]), spread=p["spread"], drift=p["drift"])) + "\n")


if __name__ == "__main__":
    main()
