#!/usr/bin/env python3
"""Makes recordings of lessons whose talk, passages and changes are known: somebody speaks, plays a version, speaks, plays another one.

usage: make_lessons.py OUT --seed N --n 100       writes OUT/audio/*.flac and OUT/manifest.jsonl

Of 100 lessons 30 hold one version, the others two to five passages; beside them come half as many recordings of talk alone. Half of the
changes differ by the centre alone or by one note, the others are another rotation from the same root, a transposition or another family;
a change comes after talk, after a pause or in the middle of the line. Runs of semitones, borrowed notes, three notes of another scale, and
talk or pauses within one version are no change. Talk is spoken by espeak-ng in several voices, speeds and pitches, before, between, after
and slightly over the playing. Laughter, chairs, taps and the room are synthesised here.

A line of the manifest: `id`, `file`, `talk` [[start_s, end_s], ...], `passages` [{`start_s`, `end_s`, `set`, `centre`, `ends_on_centre`,
`stretches` [[start_s, end_s], ...]}], `changes` [{`from_s`, `to_s`, `kind`, `through`}] (the last note before and the first one after),
`notes` [[start_s, end_s, midi], ...]. All ranges are engineering judgement; the texts are our own.

Needs Debian espeak-ng, PyPI numpy, scipy, soundfile; with fluidsynth and FluidR3_GM (and PyPI mido) more instruments, which lines of the
manifest name: without them a seed gives other sounds."""
import argparse
import io
import json
import random
import subprocess
import tempfile
from pathlib import Path

import numpy as np
import soundfile as sf
from scipy import signal

RATE = 22050
FONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
FAMILIES = ["14214", "14232", "22323", "2212221", "2122221", "2122131", "321132", "1312131"]
NAMES = ["C", "D flat", "D", "E flat", "E", "F", "F sharp", "G", "A flat", "A", "B flat", "B"]
VOICES = ["en", "en-us", "en-gb-scotland", "de", "fr", "nl", "es", "it", "sv", "pl"]
VARIANTS = ["", "+m1", "+m3", "+m5", "+f2", "+f3", "+f4", "+croak"]
# General MIDI program, lowest and highest note.
PROGRAMS = {"nylon guitar": (24, 45, 76), "steel guitar": (25, 45, 76), "harp": (46, 48, 81), "koto": (107, 50, 79), "shamisen": (106, 50, 76),
            "violin": (40, 57, 86), "flute": (73, 62, 88), "clarinet": (71, 53, 80), "recorder": (74, 65, 88), "marimba": (12, 50, 84),
            "piano": (0, 45, 84)}
OWN = {"plucked": (43, 79), "blown": (55, 86), "bowed": (50, 81)}
BEFORE = ["Good morning. This is my homework for this week.", "Today I would like to look at {a} with you.", "Listen first, then play it after me.",
          "My name is Robin and I play {a}.", "So, here we go. The first one begins on {a}.", "Is it recording? Yes. Right, from {a}, slowly."]
BETWEEN = ["And now the same notes, but from {a}.", "Good. Once more, and mind the third note.", "Now we change one single note. Listen.",
           "That was the first one. The next one has another colour.", "Very nice. Can you hear where it wants to go home?",
           "Wait, wait. Let me try that again from {a}.", "Okay. And back to the one we had before.", "Now lower the second note and play on."]
AFTER = ["That was it. Thank you, see you next week.", "Right, practise this until Thursday, please.", "I hope this was all right.",
         "Well done. For next time, sing it before you play it."]
ALONE = ["Before we start, tell me what you did at home this week, and what was difficult about it.",
         "I could not practise much, because we had visitors, and then my string broke on Sunday.",
         "The scale has five notes. Every one of them can be the home note, and each time it sounds different.",
         "You should always tune first. Take your time, there is no hurry, nobody is listening.",
         "The next lesson is on Tuesday at four. Bring your notebook and a pencil, please."]


def degrees(steps):
    return np.cumsum([0] + [int(c) for c in steps])[:-1].tolist()


def rotated(steps, k):
    return steps[k:] + steps[:k]


class Version:
    """A scale with its centre."""

    def __init__(self, centre, offsets):
        self.centre, self.offsets = centre % 12, sorted(offsets)

    @property
    def set(self):
        return sorted((self.centre + o) % 12 for o in self.offsets)

    def same(self, other):
        return self.centre == other.centre and self.offsets == other.offsets


def first_version(rng):
    family = rng.choice(FAMILIES)
    steps = rotated(family, rng.randrange(len(family)))
    v = Version(rng.randrange(12), degrees(steps))
    v.family = family
    return v


def from_centre(v, centre):
    w = Version(centre, [(c - centre) % 12 for c in v.set])
    w.family = v.family
    return w


def one_note(v, rng):
    """One degree moved by a semitone, or in one of five cases added or left out."""
    while True:
        offsets = list(v.offsets)
        if rng.random() < 0.8:
            k = rng.randrange(1, len(offsets))
            offsets[k] += rng.choice([-1, 1])
        elif len(offsets) > 5 and rng.random() < 0.5:
            offsets.pop(rng.randrange(1, len(offsets)))
        else:
            offsets.append(rng.choice([o for o in range(1, 12) if o not in offsets]))
        clean = sorted(set(offsets))
        crowded = any(a in clean and (a + 1) in clean and (a + 2) in clean for a in range(10))
        if len(clean) == len(offsets) and 0 < clean[1] and clean[-1] < 12 and not crowded and len(clean) <= 7:
            w = Version(v.centre, clean)
            w.family = v.family
            return w


def next_version(v, rng):
    """Another version and how it differs."""
    while True:
        kind = rng.choices(["centre", "one note", "rotation", "transposed", "family"], [25, 25, 20, 15, 15])[0]
        if kind == "centre":
            w = from_centre(v, rng.choice([c for c in v.set if c != v.centre]))
        elif kind == "one note":
            w = one_note(v, rng)
        elif kind == "rotation":
            w = from_centre(v, rng.choice([c for c in v.set if c != v.centre]))
            w.centre = v.centre
        elif kind == "transposed":
            w = Version(v.centre + rng.choice([2, 3, 4, 5, 7, 8, 9, 10]), v.offsets)
            w.family = v.family
        else:
            w = first_version(rng)
            w.centre = v.centre
        if not w.same(v) and (kind in ("centre",) or w.set != v.set):
            return w, kind


def line(v, rng, low, high, beat):
    """Phrases of a line as (midi or None for a rest, beats, is_own): rests on the centre, comes home at the end of most."""
    home = min((m for m in range(low, high) if m % 12 == v.centre and m + 12 <= high), key=lambda m: abs(m - (low + high) / 2 + 6))
    bottom, top = max(low, home - rng.choice([0, 3, 5])), min(high, home + rng.choice([12, 14, 17]))
    pool = [m for m in range(bottom, top + 1) if (m - v.centre) % 12 in v.offsets]
    fifth = 7 if 7 in v.offsets else 5 if 5 in v.offsets else v.offsets[len(v.offsets) // 2]
    out, seen = [], {o: 0 for o in v.offsets}
    phrases = rng.choice([2, 3, 3, 4])
    ends_home = rng.random() < 0.8

    def add(i, beats):
        i = min(max(i, 0), len(pool) - 1)
        out.append((pool[i], beats, True))
        seen[(pool[i] - v.centre) % 12] += 1
        return i

    for p in range(phrases):
        i = pool.index(home) if p == 0 or rng.random() < 0.5 else rng.randrange(len(pool))
        i = add(i, rng.choice([1, 2]))
        for _ in range(rng.randrange(5, 10)):
            i = add(i + rng.choices([-3, -2, -1, 1, 2, 3], [5, 15, 32, 32, 12, 4])[0], rng.choices([1, 2, 0.5], [70, 15, 15])[0])
        last = p == phrases - 1
        if last:
            for o, n in seen.items():
                for _ in range(max(0, 2 - n)):
                    near = min((k for k, m in enumerate(pool) if (m - v.centre) % 12 == o), key=lambda k: abs(k - i))
                    i = add(near, 1)
        goal = home if last and ends_home or not last and rng.random() < 0.6 else None
        if goal is None:
            wanted = [k for k, m in enumerate(pool) if (m - v.centre) % 12 == fifth] if rng.random() < 0.6 else [k for k, m in enumerate(pool) if m % 12 != v.centre]
            goal = pool[rng.choice(wanted)]
        step = 1 if pool.index(goal) > i else -1
        while abs(pool.index(goal) - i) > 1:
            i = add(i + step, 1)
        add(pool.index(goal), rng.choice([2, 3, 4]))
        if not last:
            out.append((None, rng.choice([0, 0.5, 1, 2]), True))
    return colours(out, v, rng, pool), ends_home


def colours(notes, v, rng, pool):
    """Adds what is no change to a third of the lines: a run of semitones, a borrowed note, three notes of another scale."""
    kind = rng.choices(["", "run", "borrowed", "three"], [60, 15, 15, 10])[0]
    at = rng.randrange(4, len(notes) - 3)
    if kind == "run":
        start = rng.choice(pool)
        step = rng.choice([-1, 1])
        extra = [(start + step * k, 0.4, False) for k in range(rng.randrange(5, 10))]
        return notes[:at] + extra + notes[at:]
    strange = [m for m in range(pool[0], pool[-1]) if (m - v.centre) % 12 not in v.offsets]
    if kind == "borrowed" and strange:
        return notes[:at] + [(rng.choice(strange), 1, False)] + notes[at:]
    if kind == "three" and strange:
        m = rng.choice(strange)
        return notes[:at] + [(m, 1, False), (m + 2, 1, False), (m, 1, False)] + notes[at:]
    return notes


def harmonics(midi, seconds, noise, kind, rng):
    """One note by itself: plucked strings decay the faster the higher the partial, blown and bowed ones swell."""
    hz = 440 * 2 ** ((midi - 69) / 12)
    count = min(14, int(0.45 * RATE / hz))
    t = np.arange(int((seconds + 0.25) * RATE)) / RATE
    bend = 1 + 0.004 * np.sin(2 * np.pi * rng.uniform(4.8, 6) * t) * np.clip(t - 0.3, 0, 1) if kind == "bowed" else np.ones_like(t)
    phase = 2 * np.pi * np.cumsum(hz * bend) / RATE
    out = np.zeros_like(t)
    for h in range(1, count + 1):
        if kind == "plucked":
            level = np.sin(np.pi * h * 0.23) / h * np.exp(-t * (1.2 + 0.5 * h))
        elif kind == "blown":
            level = (0.9 if h % 2 else 0.25) / h ** 1.6
        else:
            level = 1 / h ** 1.1
        out += level * np.sin(h * phase + h)
    if kind == "plucked":
        envelope = np.minimum(1, t / 0.004)
    else:
        envelope = np.minimum(1, t / 0.04)
        out += 0.02 * noise.normal(size=len(t))
    release = np.clip((seconds + 0.06 - t) / 0.06, 0, 1) ** 1.5
    return out * envelope * release / max(1e-9, np.abs(out).max())


def own_sound(notes, total, kind, rng, noise):
    out = np.zeros(int(total * RATE))
    for start, end, midi, loud in notes:
        x = harmonics(midi, end - start, noise, kind, rng) * loud
        a = int(start * RATE)
        out[a:a + len(x)] += x[:max(0, len(out) - a)]
    return out


def font_sound(notes, total, program):
    import mido
    events = []
    for start, end, midi, loud in notes:
        events.append((start, 1, mido.Message("note_on", note=midi, velocity=int(60 + 50 * loud))))
        events.append((end, 0, mido.Message("note_off", note=midi)))
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=500000), mido.Message("program_change", program=program)])
    now = 0
    for when, _, message in sorted(events, key=lambda e: e[:2]):
        tick = round(when * 2000)
        track.append(message.copy(time=tick - now))
        now = tick
    with tempfile.TemporaryDirectory() as folder:
        song, sound = Path(folder) / "song.mid", Path(folder) / "song.wav"
        mido.MidiFile(ticks_per_beat=1000, tracks=[track]).save(song)
        subprocess.run(["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.8", "-r", str(RATE), "-F", sound, FONT, song],
                       check=True, capture_output=True)
        x, _ = sf.read(sound, always_2d=True)
    x = x.mean(axis=1)
    return np.pad(x, (0, max(0, int(total * RATE) - len(x))))[:int(total * RATE)]


def spoken(text, speaker):
    """The sound of a text without the silence about it."""
    voice, speed, pitch = speaker
    raw = subprocess.run(["espeak-ng", "-v", voice, "-s", str(speed), "-p", str(pitch), "--stdout", text], check=True, capture_output=True).stdout
    x, rate = sf.read(io.BytesIO(raw))
    x = signal.resample_poly(x, RATE, rate) if rate != RATE else x
    loud = np.nonzero(np.abs(x) > 0.02)[0]
    x = x[loud[0]:loud[-1]]
    return x / (np.sqrt(np.mean(x ** 2)) + 1e-9) * 0.12


def speaker(rng):
    return rng.choice(VOICES) + rng.choice(VARIANTS), rng.randrange(120, 200), rng.randrange(20, 80)


def laughter(rng, noise):
    """Bursts of breath and voice, four to six a second, whose pitch falls."""
    out = []
    hz = rng.uniform(150, 320)
    for k in range(rng.randrange(3, 8)):
        t = np.arange(int(rng.uniform(0.09, 0.14) * RATE)) / RATE
        f = hz * 0.96 ** k * (1.1 - 0.8 * t)
        voice = sum(np.sin(h * 2 * np.pi * np.cumsum(f) / RATE) / h for h in range(1, 8))
        burst = (0.5 * voice + noise.normal(size=len(t))) * np.abs(np.sin(np.pi * t / t[-1])) ** 0.7
        out += [burst, np.zeros(int(rng.uniform(0.05, 0.1) * RATE))]
    x = np.concatenate(out)
    return 0.1 * x / np.sqrt(np.mean(x ** 2))


def knock(rng, noise):
    """A chair, a tap or a thing put down: a short noise with a low body."""
    t = np.arange(int(rng.uniform(0.05, 0.25) * RATE)) / RATE
    b, a = signal.butter(2, rng.choice([300, 900, 3000]) / (RATE / 2))
    x = signal.lfilter(b, a, noise.normal(size=len(t))) * np.exp(-t * rng.uniform(20, 60))
    return rng.uniform(0.05, 0.3) * x / np.abs(x).max()


class Lesson:
    """A recording as it grows: sounds with their places, and what is true of it."""

    def __init__(self, rng, noise):
        self.rng, self.noise, self.at = rng, noise, rng.uniform(0.2, 0.8)
        self.sounds, self.talk, self.notes, self.passages, self.changes = [], [], [], [], []
        self.speakers = [speaker(rng) for _ in range(rng.choice([1, 2]))]
        program = FONT.is_file() and rng.random() < 0.7
        self.instrument = rng.choice(list(PROGRAMS) if program else list(OWN))

    def put(self, x, start_s):
        self.sounds.append((start_s, x))

    def say(self, texts, over=False):
        """Talk; `over` lets it reach into the note that still sounds."""
        rng = self.rng
        x = spoken(rng.choice(texts).format(a=rng.choice(NAMES)), rng.choice(self.speakers)) * rng.uniform(0.5, 1.3)
        if over and self.notes:
            self.at -= rng.uniform(0.2, 0.8)
        start = self.at
        self.put(x, start)
        self.at += len(x) / RATE
        if rng.random() < 0.12:
            self.at += rng.uniform(0, 0.3)
            laugh = laughter(rng, self.noise)
            self.put(laugh, self.at)
            self.at += len(laugh) / RATE
        self.talk.append([start, self.at])

    def pause(self, low, high):
        self.at += self.rng.uniform(low, high)
        if high > 0.5 and self.rng.random() < 0.3:
            self.put(knock(self.rng, self.noise), self.at - self.rng.uniform(0, 0.3))

    def play(self, v, split):
        """One passage; `split` puts talk into its middle."""
        rng = self.rng
        low, high = PROGRAMS[self.instrument][1:] if self.instrument in PROGRAMS else OWN[self.instrument]
        beat = rng.uniform(0.22, 0.45)
        notes, ends_home = line(v, rng, low, high, beat)
        passage = {"set": v.set, "centre": v.centre, "ends_on_centre": ends_home, "stretches": []}
        begin, middle = self.at, len(notes) // 2
        for k, (midi, beats, _) in enumerate(notes):
            if split and k == middle:
                passage["stretches"].append([begin, self.notes[-1][1]])
                self.pause(0.2, 1.0)
                self.say(BETWEEN)
                self.pause(0.15, 0.8)
                begin = self.at
            length = beat * beats
            if midi is not None:
                start = self.at + rng.uniform(-0.01, 0.01)
                self.notes.append([start, self.at + length * rng.choice([0.97, 0.9]), midi, rng.uniform(0.55, 0.9)])
            self.at += length
        self.at = self.notes[-1][1]
        passage["stretches"].append([begin, self.at])
        passage["start_s"], passage["end_s"] = passage["stretches"][0][0], self.at
        self.passages.append(passage)

    def finished(self):
        rng = self.rng
        total = max([self.at] + [s + len(x) / RATE for s, x in self.sounds]) + rng.uniform(0.4, 1.2)
        dry = np.zeros(int(total * RATE))
        if self.notes:
            if self.instrument in PROGRAMS:
                played = font_sound(self.notes, total, PROGRAMS[self.instrument][0])
            else:
                played = own_sound(self.notes, total, self.instrument, rng, self.noise)
            sounding = played[np.abs(played) > 1e-4]
            dry += played / np.sqrt(np.mean(sounding ** 2)) * rng.uniform(0.08, 0.16)
        for start, x in self.sounds:
            a = max(0, int(start * RATE))
            dry[a:a + len(x)] += x[:len(dry) - a]
        tail = np.exp(-np.arange(int(rng.uniform(0.1, 0.4) * RATE)) / RATE / rng.uniform(0.03, 0.12))
        room = self.noise.normal(size=len(tail)) * tail
        wet = signal.fftconvolve(dry, room / np.sqrt(np.sum(room ** 2)))[:len(dry)]
        out = dry + rng.uniform(0.05, 0.4) * wet
        b, a = signal.butter(1, 1500 / (RATE / 2))
        hiss = signal.lfilter(b, a, self.noise.normal(size=len(out)))
        out += 10 ** (rng.uniform(-62, -42) / 20) * hiss / np.sqrt(np.mean(hiss ** 2))
        return 0.8 * out / np.abs(out).max()


def lesson(rng, noise):
    it = Lesson(rng, noise)
    count = rng.choices([1, 2, 3, 4, 5], [30, 25, 20, 15, 10])[0]
    if rng.random() < 0.6:
        it.say(BEFORE)
        it.pause(0.15, 1.5)
        if rng.random() < 0.2:
            it.at -= rng.uniform(0.3, 0.9) + 0.15
            it.at = max(it.at, it.talk[-1][0] + 0.5)
    v, told = first_version(rng), []
    for k in range(count):
        kind = through = None
        if k:
            before = it.notes[-1]
            back = [w for w in told[:-1] if not w.same(v)]
            if back and rng.random() < 0.4:
                v, kind = rng.choice(back), "back"
            else:
                v, kind = next_version(v, rng)
            through = rng.choices(["talk", "pause", "line"], [50, 25, 25])[0]
            if through == "talk":
                it.pause(0.15, 1.2)
                it.say(BETWEEN, over=rng.random() < 0.2)
                it.pause(0.15, 1.2)
            elif through == "pause":
                it.pause(0.5, 2.5)
        told.append(v)
        first = len(it.notes)
        it.play(v, split=rng.random() < 0.15)
        if k:
            it.changes.append({"from_s": before[1], "to_s": it.notes[first][0], "kind": kind, "through": through})
    if rng.random() < 0.45:
        it.pause(0.2, 1.0)
        it.say(AFTER, over=rng.random() < 0.2)
    return it


def talk_alone(rng, noise):
    it = Lesson(rng, noise)
    it.instrument = None
    for _ in range(rng.randrange(1, 4)):
        it.say(ALONE + BETWEEN)
        it.pause(0.2, 1.5)
    return it


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--seed", type=int, required=True)
    parser.add_argument("--n", type=int, default=100)
    args = parser.parse_args()
    (args.out / "audio").mkdir(parents=True, exist_ok=True)
    with open(args.out / "manifest.jsonl", "w") as manifest:
        for kind, count in [("lesson", args.n), ("talk", args.n // 2)]:
            for k in range(count):
                rng = random.Random(f"{args.seed} {kind} {k}")
                noise = np.random.default_rng([args.seed, k, len(kind)])
                it = (lesson if kind == "lesson" else talk_alone)(rng, noise)
                x = it.finished()
                name = f"{kind}-{k:03d}"
                sf.write(args.out / "audio" / f"{name}.flac", x, RATE)
                truth = {"id": name, "file": f"audio/{name}.flac", "instrument": it.instrument, "talk": it.talk, "passages": it.passages,
                         "changes": it.changes, "notes": [n[:3] for n in it.notes]}
                rounded = json.loads(json.dumps(truth), parse_float=lambda s: round(float(s), 3))
                manifest.write(json.dumps(rounded) + "\n")


if __name__ == "__main__":
    main()
