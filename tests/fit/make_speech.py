#!/usr/bin/env python3
"""Made-up speech in many languages, tone languages among them: numbers, read out by espeak-ng in many voices, speeds and pitches.

usage: make_speech.py OUT --seed N --n 300      writes OUT/ID.wav; the name tells language, variant, speed, pitch and sound

Numbers are words of each language without a text of ours. A third of the clips is clean, the others are recorded in a room, through a
telephone's band (300 to 3,400 Hz, ITU-T G.712) or with noise 15 to 35 dB beneath; the ranges are engineering judgement. Needs Debian
espeak-ng, PyPI numpy, scipy, soundfile."""
import argparse
import io
import os
import random
import subprocess

import numpy as np
import soundfile as sf
from scipy import signal

LANGUAGES = ("af ar bg bn ca cmn cs cy da de el en-gb en-gb-scotland en-us en-029 eo es es-419 et eu fa fi fr-fr fr-be ga gu hak he hi hr "
             "hu hy id is it ja ka kk ko ku la lt lv mk ml mr ms mt my nb ne nl pa pl pt pt-br ro ru shn si sk sl sq sr sv sw ta te th tn tr "
             "ur uz vi vi-vn-x-central vi-vn-x-south yue").split()
# Languages whose words have tones, which stand stiller than others: every fourth clip.
TONES = "cmn yue hak vi vi-vn-x-central vi-vn-x-south th my shn pa".split()
VARIANTS = ["", "+f1", "+f2", "+f3", "+f4", "+f5", "+m1", "+m2", "+m3", "+m4", "+m5", "+m6", "+m7"]
RATE = 22050


def say(rng, language, variant, speed, pitch):
    """Numbers until the clip is long enough."""
    parts, wanted = [], rng.uniform(6, 20) * RATE
    while sum(map(len, parts)) < wanted:
        text = ", ".join(str(rng.randrange(10 ** rng.randrange(1, 6))) for _ in range(rng.randrange(3, 9))) + "."
        run = subprocess.run(["espeak-ng", "-v", language + variant, "-s", str(speed), "-p", str(pitch), "--stdout", text], check=True, capture_output=True)
        sound, rate = sf.read(io.BytesIO(run.stdout))
        parts.append(sound if rate == RATE else signal.resample_poly(sound, RATE, rate))
        if not np.any(parts[-1]):
            return None
    return np.concatenate(parts)


def recorded(rng, noise, sound):
    """The sound as a room, a telephone or a noisy place gives it, and what that is called."""
    kind = rng.choice(["clean", "clean", "room", "phone", "noise", "noise"])
    if kind == "room":
        t = np.arange(int(0.5 * RATE)) / RATE
        tail = noise.normal(size=len(t)) * 10 ** (-3 * t / rng.uniform(0.2, 0.6)) * rng.uniform(0.02, 0.06)
        tail[0] = 1
        sound = signal.fftconvolve(sound, tail)
    if kind == "phone":
        sound = signal.sosfilt(signal.butter(4, [300, 3400], "bandpass", fs=RATE, output="sos"), sound)
    if kind != "clean":
        below = 10 ** (-rng.uniform(15, 35) / 20) * np.sqrt(np.mean(sound ** 2))
        sound = sound + below * noise.normal(size=len(sound))
    return 0.5 * sound / np.abs(sound).max(), kind


def main():
    args = argparse.ArgumentParser(usage=__doc__)
    args.add_argument("out")
    args.add_argument("--seed", type=int, required=True)
    args.add_argument("--n", type=int, default=300)
    args = args.parse_args()
    rng, noise = random.Random(args.seed), np.random.default_rng(args.seed)
    os.makedirs(args.out, exist_ok=True)
    k = 0
    while k < args.n:
        language = rng.choice(TONES if k % 4 == 0 else LANGUAGES)
        variant, speed, pitch = rng.choice(VARIANTS), rng.randrange(90, 210), rng.randrange(10, 95)
        sound = say(rng, language, variant, speed, pitch)
        if sound is None:
            continue
        sound, kind = recorded(rng, noise, sound)
        sf.write(f"{args.out}/{k:03}-{language}{variant}-{speed}-{pitch}-{kind}.wav", sound.astype(np.float32), RATE, subtype="PCM_16")
        k += 1


if __name__ == "__main__":
    main()
