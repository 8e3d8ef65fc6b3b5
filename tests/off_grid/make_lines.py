#!/usr/bin/env python3
"""Made-up lines of scales that lie off the twelve-note grid, and equal-tempered ones that only sound uneven.

usage: make_lines.py OUT --seed N [--roots 12] [--others 4] [--controls 150] [--only NAME]      writes OUT/*.wav and OUT/truth.jsonl

Each named scale is played from each root, plucked, bowed and sung: the first five from all roots, the others from --others of them.
A line moves as melodies of its maqam are described: mostly by step, from the tonic or the note that the lower part ends on (`rest`),
resting on that note and on the tonic, home at the end on a held tonic. The controls are random five- to seven-note scales of the
twelve-note grid, sung, bowed or plucked, each note up to some 35 cents (one standard deviation) beside the grid or each string a few
cents out. `--only rast-00-bowed` makes that recording alone, the same as among all (00 is the root C). A line of the truth: file, group, name, tradition, centre (MIDI number, of the middle of the drift), cents, timbre, spread
(cents, one standard deviation of a note), drift (cents over the whole), notes [[start_s, end_s, midi], ...] as sounded. A
run that was cut short goes on where it was.

Sources of the cents are beside them. The voice is harmonics under a falling source spectrum with four formants (Fant, Acoustic Theory of
Speech Production, 1960; vowels after Peterson and Barney, 1952, rounded, from memory). All ranges and the ways that lines move are
engineering judgement, from memory. Needs numpy."""
import argparse
import json
import unicodedata
import wave
import zlib
from pathlib import Path

import numpy as np

RATE = 22050
CONTROL = 200  # control points a second
TIMBRES = ["plucked", "bowed", "sung"]
VOWELS = [(720, 1150, 2500, 3400), (530, 1850, 2500, 3500), (450, 800, 2700, 3400), (290, 2250, 3000, 3600), (320, 800, 2300, 3300)]
# Lowest and highest tonic as MIDI numbers.
TONICS = {"plucked": (50, 61), "bowed": (55, 66), "sung": (48, 59)}


def commas(text):
    """Steps of Holdrian commas, 53 to the octave."""
    return [1200 * c / 53 for c in np.cumsum([0] + [int(x) for x in text.split()])[:-1]]


# name, tradition, cents, index of the note that phrases rest on, lowest and highest index of the line.
CAIRO = "Arab maqam"  # the 24-tone scale of the Recueil des travaux du Congres de musique arabe, Cairo 1934; from memory
NAMED = [
    ("rast", CAIRO, [0, 200, 350, 500, 700, 900, 1050], 4, -3, 8),
    ("bayati", CAIRO, [0, 150, 300, 500, 700, 800, 1000], 3, -2, 7),
    ("saba", CAIRO, [0, 150, 300, 400, 700, 800, 1000], 2, -1, 6),
    ("sikah", CAIRO, [0, 150, 350, 550, 700, 850, 1050], 2, -2, 7),
    ("hijaz", CAIRO, [0, 100, 400, 500, 700, 850, 1000], 3, -2, 7),
]
OTHERS = [
    ("Uşşak", "Turkish makam", commas("8 5 9 9 4 9 9"), 3, -2, 7),   # Arel's theory, from memory
    ("Segâh", "Turkish makam", commas("5 9 8 9 5 9 8"), 2, -2, 7),   # Arel's theory, from memory
    ("Shur", "Persian dastgah", [0, 135, 295, 499, 703, 793, 997], 3, -2, 7),  # sums of Farhat's intervals (1990), from memory
    ("slendro", "Indonesia", [0, 228, 484, 728, 960], 3, -2, 7),     # Ellis 1885, one gamelan; from memory
    ("pelog", "Indonesia", [0, 120, 270, 540, 670, 785, 950], 4, -2, 7),  # often quoted typical tuning; from memory
    ("harmonics 8 to 16", "acoustics", [1200 * np.log2(k / 8) for k in range(8, 16)], 4, -2, 9),  # arithmetic
]


def walk(rng, size, rest, low, high, seconds):
    """Phrases of (index, beats): steps that keep their direction for a while, with rests at the phrase ends."""
    beat = rng.uniform(.28, .55)
    beats, total, phrases = seconds / beat, 0., []
    at = 0 if rng.random() < .6 else rest
    while total < beats - 8:
        phrase, way = [(at, rng.choice([1., 2.]))], 1 if at < (low + high) / 2 else -1
        for _ in range(rng.integers(5, 10)):
            if rng.random() < .25 or not low <= at + way <= high:
                way = -way
            at = int(np.clip(at + way * rng.choice([0, 1, 2], p=[.08, .8, .12]), low, high))
            phrase.append((at, rng.choice([.5, 1., 1., 1., 1.5, 2.])))
        goal = rng.choice([0, rest, rest, size if size <= high else 0])
        phrase += towards(at, goal, 1.) + [(int(goal), rng.choice([2., 3.]))]
        at = int(goal)
        phrases.append(phrase)
        total += sum(b for _, b in phrase) + 1
    last = towards(at, int(rng.choice([2, rest])), 1.) or [(at, 1.)]
    last += towards(last[-1][0], 0, 1.) + [(0, rng.uniform(4, 6))]
    return beat, phrases + [last]


def towards(start, goal, beats):
    """The notes by step from a note to another one, both left out."""
    way = int(np.sign(goal - start))
    return [(k, beats) for k in range(start + way, int(goal), way)] if way else []


def melody(rng, cents, rest, low, high):
    """A walk that uses every degree at least twice, or the last of many tries."""
    size = len(cents)
    for _ in range(80):
        beat, phrases = walk(rng, size, rest, low, high, rng.uniform(10, 24))
        used = np.bincount([i % size for phrase in phrases for i, _ in phrase], minlength=size)
        if used.min() >= 2:
            break
    notes, t = [], .3
    for phrase in phrases:
        for i, b in phrase:
            length = beat * b * rng.uniform(.94, 1.06)
            notes.append([t, t + length, (cents[i % size] + 1200 * (i // size)) / 100])
            t += length
        t += beat * rng.uniform(.4, 1.1)
    return notes, t + .4


def intoned(rng, notes, length, centre, spread, drift, strings):
    """The notes as sounded: a drift, a chance error of each note (half as large on held ones), and one of each string that stays."""
    out = []
    for start, end, above in notes:
        string = strings.setdefault(above, rng.normal(0, strings["sd"]))
        chance = np.clip(rng.normal(0, 1), -2, 2) * spread * (.5 if end - start > 1 else 1)
        out.append([start, end, centre + above + (string + chance + drift * ((start + end) / 2 / length - .5)) / 100])
    return out


def hz(midi):
    return 440 * 2 ** ((np.asarray(midi) - 69) / 12)


def plucked(rng, notes, length):
    """Strings that ring on for a moment under the next note."""
    y = np.zeros(int(length * RATE))
    stiff, bright, ring = rng.uniform(0, 8e-5), rng.uniform(.5, .85), rng.uniform(.05, .6)
    for start, end, midi in notes:
        n = min(int((end - start + ring) * RATE), len(y) - int(start * RATE))
        t, f = np.arange(n) / RATE, hz(midi)
        note, where = np.zeros(n), rng.uniform(.12, .35)
        for k in range(1, min(25, int(RATE * .45 / f)) + 1):
            part = k * f * np.sqrt((1 + stiff * k * k) / (1 + stiff))
            decay = np.exp(-t * (1.2 + .5 * k ** 1.2 * f / 220))
            note += np.sin(np.pi * k * where) * bright ** k / k ** .3 * decay * np.sin(2 * np.pi * part * t + rng.uniform(0, 6))
        note *= np.clip(t / .003, 0, 1) * np.clip((end - start + ring - t) / max(ring, .03), 0, 1)
        y[int(start * RATE):int(start * RATE) + n] += note * rng.uniform(.7, 1)
    return y


def trace(rng, notes, length, kind):
    """Pitch (MIDI) and loudness at the control points: glides, scoops, vibrato that grows in, slow unsteadiness."""
    n = int(length * CONTROL)
    time, midi, loud = np.arange(n) / CONTROL, np.full(n, notes[0][2]), np.zeros(n)
    sung = kind == "sung"
    rate, extent = rng.uniform(4.6, 6.4), rng.choice([0, .15, .35, .6]) if sung else rng.choice([0, .08, .2])
    before = None
    for start, end, pitch in notes:
        x = time - start
        here = (x >= 0) & (time < end)
        joined = before is not None and start - before[1] < .02 and rng.random() < (.55 if sung else .6)
        f = np.full(n, float(pitch))
        if joined:
            glide = rng.uniform(.15, .25) if rng.random() < .12 else rng.uniform(.05, .14) if sung else rng.uniform(.02, .06)
            f += (before[2] - pitch) * (.5 + .5 * np.cos(np.pi * np.clip(x / min(glide, (end - start) / 2), 0, 1)))
        elif sung and rng.random() < .3:
            f -= rng.uniform(.4, 1.8) * np.exp(-np.clip(x, 0, None) / rng.uniform(.03, .06))
        f += extent * np.clip((x - .15) / .3, 0, 1) * np.sin(2 * np.pi * rate * x + rng.uniform(0, 6))
        closure = 0 if joined else rng.uniform(.03, .08) if sung else .02
        rise = np.clip((x - closure) / (.03 if sung else .05), 0, 1) if not joined else np.ones(n)
        midi[here] = f[here]
        loud[here] = (rise * (1 if joined else .9) * (.8 + .2 * np.sin(np.pi * np.clip(x / (end - start), 0, 1))))[here]
        before = (start, end, pitch)
    loud = np.convolve(loud, np.hanning(7) / np.hanning(7).sum(), "same")
    slow = np.convolve(rng.normal(0, 1, n + 80), np.hanning(81), "valid")
    return midi + slow / slow.std() * (.04 if sung else .015), loud


def spectrum(rng, kind, count, f):
    """Amplitude of each harmonic at each control point."""
    k = np.arange(1, count + 1)[:, None]
    at = k * f[None, :]
    if kind == "sung":
        vowel, amp = VOWELS[rng.integers(len(VOWELS))], k ** -1.2
        size = rng.uniform(.95, 1.2)
        for peak, width in zip(vowel, (80, 100, 140, 180)):
            peak *= size
            amp = amp * peak ** 2 / np.sqrt((peak ** 2 - at ** 2) ** 2 + (at * width) ** 2)
    else:
        amp = 1 / k * np.ones_like(at)
        for _ in range(6):
            peak, width = rng.uniform(250, 3500), rng.uniform(60, 250)
            amp = amp * (1 + rng.uniform(.3, 1.5) / (1 + ((at - peak) / width) ** 2))
    return amp * (at < RATE * .45)


def sustained(rng, notes, length, kind):
    """A voice or a bowed string by additive synthesis, with breath or bow noise."""
    midi, loud = trace(rng, notes, length, kind)
    f = hz(midi)
    n = int(length * RATE)
    where, control = np.arange(n) / RATE, np.arange(len(f)) / CONTROL
    phase = 2 * np.pi * np.cumsum(np.interp(where, control, f)) / RATE
    amps = spectrum(rng, kind, min(32, int(RATE * .45 / f.min())), f) * loud
    turn = np.exp(1j * phase).astype(np.complex64)
    wave_k, y = np.ones_like(turn), np.zeros(n)
    for a in amps:
        wave_k *= turn
        y += np.interp(where, control, a) * wave_k.imag
    hiss = np.convolve(rng.normal(0, 1, n), [.25, .5, .25], "same") * np.interp(where, control, loud)
    return y / y.std() + hiss / hiss.std() * rng.uniform(.005, .04)


def in_room(rng, y):
    """A little of a room's echo and noise."""
    n = int(RATE * rng.uniform(.15, .5))
    echo = rng.normal(0, 1, n) * np.exp(-np.arange(n) / n * 6.9)
    echo *= rng.uniform(.05, .25) / np.sqrt((echo ** 2).sum())
    echo[0] = 1
    size = 1 << int(np.ceil(np.log2(len(y) + n)))
    y = np.fft.irfft(np.fft.rfft(y, size) * np.fft.rfft(echo, size), size)[:len(y)]
    noise = np.fft.rfft(rng.normal(0, 1, len(y)))
    noise[1:] /= np.sqrt(np.arange(1, len(noise)))
    noise = np.fft.irfft(noise, len(y))
    y = y / y.std() + noise / noise.std() * 10 ** (-rng.uniform(28, 48) / 20)
    return y / np.abs(y).max() * rng.uniform(.3, .8)


def control_scale(rng):
    """Five to seven notes of the grid without three semitones in a row."""
    while True:
        c = [0] + sorted(rng.choice(np.arange(1, 12), rng.integers(4, 7), replace=False).tolist())
        ring = set(c)
        if not any({k % 12, (k + 1) % 12, (k + 2) % 12} <= ring for k in range(12)):
            return [100 * x for x in c]


def performed(rng, row, timbre, root, control):
    """One recording's samples, and what its truth says of it."""
    _, _, cents, rest, low, high = row
    lowest = TONICS[timbre][0]
    centre = lowest + (root - lowest) % 12 + rng.uniform(-.45, .45)
    notes, length = melody(rng, cents, rest, low, high)
    if control:
        spread = 2.5 if timbre == "plucked" else rng.uniform(10, 35)
        strings = {"sd": rng.uniform(2, 8)}
    else:
        often = rng.random() < .8
        spread = {"plucked": 2, "bowed": rng.uniform(5, 12), "sung": rng.uniform(6, 20) if often else rng.uniform(20, 35)}[timbre]
        strings = {"sd": {"plucked": 3, "bowed": 2, "sung": 4}[timbre]}
    drift = 0. if timbre == "plucked" else rng.normal(0, 12 if timbre == "sung" else 4)
    sounded = intoned(rng, notes, length, centre, spread, drift, strings)
    y = plucked(rng, sounded, length) if timbre == "plucked" else sustained(rng, sounded, length, timbre)
    told = dict(centre=round(centre, 4), cents=[round(c, 1) for c in cents], timbre=timbre, spread=round(spread, 1), drift=round(drift, 1),
                notes=[[round(v, 3) for v in note] for note in sounded])
    return in_room(rng, y), told


def save(path, y):
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        out.writeframes((y * 32767).astype("<i2").tobytes())


def plain(name):
    """A name for a file."""
    letters = unicodedata.normalize("NFKD", name.lower().replace("ı", "i")).encode("ascii", "ignore").decode()
    return letters.replace(" ", "-")


def own(seed, name):
    """A recording's own chance, whichever others are made."""
    return np.random.default_rng([seed, zlib.crc32(name.encode())])


def lines(args):
    """Every recording to make: name, group, scale, timbre, root."""
    for group, rows, count in (("maqam", NAMED, args.roots), ("other", OTHERS, args.others)):
        for row in rows:
            for root in sorted(own(args.seed, row[0]).permutation(12)[:count].tolist()):
                for timbre in TIMBRES:
                    yield f"{plain(row[0])}-{root:02d}-{timbre}", group, row, timbre, root
    for k in range(args.controls):
        rng = own(args.seed, f"control-{k}")
        cents = control_scale(rng)
        row = ("equal-tempered", "", cents, int(rng.integers(2, len(cents))), -2, len(cents) + 1)
        timbre = str(rng.choice(TIMBRES, p=[.2, .25, .55]))
        yield f"control-{k:03d}-{timbre}", "control", row, timbre, int(rng.integers(12))


def main():
    args = argparse.ArgumentParser()
    args.add_argument("out", type=Path)
    args.add_argument("--seed", type=int, required=True)
    args.add_argument("--roots", type=int, default=12)
    args.add_argument("--others", type=int, default=4)
    args.add_argument("--controls", type=int, default=150)
    args.add_argument("--only")
    args = args.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    path = args.out / "truth.jsonl"
    done = {json.loads(text)["file"] for text in open(path)} if path.exists() else set()
    with open(path, "a") as truth:
        for name, group, row, timbre, root in lines(args):
            if f"{name}.wav" in done or args.only not in (None, name):
                continue
            y, told = performed(own(args.seed, name), row, timbre, root, group == "control")
            save(args.out / f"{name}.wav", y)
            head = dict(file=f"{name}.wav", group=group, name=row[0], tradition=row[1])
            truth.write(json.dumps(head | told, ensure_ascii=False) + "\n")
            truth.flush()


if __name__ == "__main__":
    main()
