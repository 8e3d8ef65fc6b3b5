"""Makes fixtures/phrases: short played lines whose set, centre and notes are known because they were written here.

    python phrases.py SAMPLES OUT        # SAMPLES: the node_modules folder with the packages of single notes

Needs numpy, scipy, mido, ffmpeg, and for koto and shamisen fluidsynth with FluidR3_GM (Debian fluid-soundfont-gm).
The lines are our own. A line is written in degrees (0 the centre, 5 or 7 its octave, -1 the degree below, r a rest)
with lengths in beats. Every random choice (timing, loudness, noise) comes from the phrase's own seed, so a run makes
the same sound again; only encoders of another version may make other bytes.

A recorded note is trimmed to its attack, moved to the exact pitch (the recordings are up to some 20 cents off), cut to
length with a short fade. Expected times are those of the written line; codecs that put silence in front are late by it.
"""

import json
import subprocess
import sys
import tempfile
from pathlib import Path

import mido
import numpy as np
from scipy.signal import resample

RATE = 44100
SOUNDFONT = "/usr/share/sounds/sf2/FluidR3_GM.sf2"
PROGRAMS = {"koto": 107, "shamisen": 106}
LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
# Seconds that a note sounds on, damped, after its written end.
FADE_S = {"violin": 0.05, "flute": 0.05, "harp": 0.08}
CODECS = {
    ".flac": ["-c:a", "flac", "-sample_fmt", "s16"],
    ".ogg": ["-c:a", "libvorbis", "-b:a", "80k"],
    ".opus": ["-c:a", "libopus", "-b:a", "64k"],
    ".mp3": ["-c:a", "libmp3lame", "-b:a", "80k"],
    ".m4a": ["-c:a", "aac", "-b:a", "80k"],
}

# Lines for five degrees: each opens on the centre, rests on it and comes back to it.
FIVE_A = "0:3 1 2:2 1 0:3 r -1 0:2 2 3 4:2 3 2 1:2 0:3 r 3 4 5:3 4 3:2 2 1 -1 0:4"
FIVE_B = "0:2 2 0:2 3 2 1 0:3 4 5:3 4 3 2 3:2 1 0:3 r -1 0 1:2 4 3:2 2 1 0:4"
FIVE_C = "0:4 -1 0:2 1 2 3:2 2 1 0:3 r 5:3 4 3 4:2 3 2 1:2 0:2 1 2 0:4"
FIVE_D = "0:2 1 0:2 2 1 0:3 3:2 2 4:2 3 2 0:3 r 4 5:2 4 3 2 1:2 -1 0:4"
FIVE_OPEN = "0:3 1 0:2 2 1 0:3 r -1 0:3 2 4:2 2 1 0:4 3 2 1:2 0:3 r 1 2 4:3 2 3:4"
# And for seven.
SEVEN_A = "0:3 1 2 1 0:2 -1 0:3 r 2 3 4:2 3 2 1:2 0:3 4 5 6 7:3 6 5 4:2 3 2 1 0:4"
SEVEN_B = "0:3 2 1 0:2 4:2 3 2 1 0:3 r 7:2 6 5 4:2 5 6 7:3 4 3 2 1:2 -1 0:4"
SEVEN_C = "0:4 1 0:2 2 3 4:2 3 1 0:3 r 5:2 4 3 2 1 0:2 -1 -2 -1 0:3 4:2 2 1 0:4"

# file, instrument, root, steps, line, beat in seconds, then what is special.
PHRASES = [
    ("kumoi-dorian.flac", "koto", "D4", "2 1 4 2 3", FIVE_A, 0.29, {"rate": 22050}),
    ("kumoi-phrygian.ogg", "shamisen", "E4", "1 4 2 3 2", FIVE_B, 0.29, {}),
    ("kumoi-lydian.opus", "flute", "F4", "4 2 3 2 1", FIVE_C, 0.29, {"rate": 48000}),
    ("kumoi-aeolian.mp3", "guitar-nylon", "A3", "2 3 2 1 4", FIVE_D, 0.33, {}),
    ("kumoi-locrian.m4a", "harp", "B3", "3 2 1 4 2", FIVE_B, 0.29, {}),
    ("hirajoshi-phrygian.flac", "guitar-nylon", "E3", "1 4 2 1 4", FIVE_B, 0.29, {"rate": 22050}),
    ("hirajoshi-aeolian.ogg", "koto", "G4", "2 1 4 1 4", FIVE_C, 0.29, {}),
    ("hirajoshi-lydian.ogg", "flute", "C5", "4 2 1 4 1", FIVE_D, 0.33, {}),
    ("hirajoshi-locrian.opus", "violin", "F#4", "1 4 1 4 2", FIVE_A, 0.28, {"rate": 48000}),
    ("hirajoshi-ionian.mp3", "guitar-acoustic", "Bb2", "4 1 4 2 1", FIVE_C, 0.29, {}),
    ("dorian.ogg", "violin", "D4", "2 1 2 2 2 1 2", SEVEN_A, 0.26, {}),
    ("mixolydian.opus", "flute", "G4", "2 2 1 2 2 1 2", SEVEN_B, 0.28, {"rate": 48000}),
    ("phrygian.flac", "guitar-nylon", "E3", "1 2 2 2 1 2 2", SEVEN_C, 0.27, {"rate": 22050}),
    ("minor-pentatonic.mp3", "guitar-acoustic", "A2", "3 2 2 3 2", FIVE_D, 0.33, {}),
    ("lydian-dominant.ogg", "violin", "Bb3", "2 2 2 1 2 1 2", SEVEN_A, 0.26, {}),
    ("detuned.flac", "guitar-nylon", "G3", "2 1 4 2 3", FIVE_C, 0.29, {"rate": 22050, "detune_cents": -33}),
    ("noisy.ogg", "harp", "C4", "2 1 4 2 3", FIVE_A, 0.29, {"noise_db": 10}),
    ("ends-on-fifth.ogg", "guitar-nylon", "D3", "2 1 4 2 3", FIVE_OPEN, 0.27, {}),
    ("slips.mp3", "guitar-acoustic", "E3", "1 4 2 3 2", FIVE_A, 0.29, {"slips": {8: 1, 19: -1}}),
    ("drone.ogg", "harp", "D4", "2 1 4 2 3", FIVE_B, 0.29, {"drone": 38}),
    ("cut.ogg", "koto", "A4", "2 1 4 2 3", FIVE_A, 0.31, {"cut": 0.75}),
]
# The slip lasts this long and is taken from the note that it leads into.
SLIP_S = 0.1


def midi_number(name):
    return 12 * (int(name[-1]) + 1) + LETTERS[name[0]] + {"#": 1, "s": 1, "b": -1}.get(name[1], 0)


def written(root, steps, line, beat_s, rng, slips):
    """The notes [start_s, end_s, midi, loudness_db] of a line, and those of them that are slips."""
    scale = [0, *np.cumsum(steps)[:-1].tolist()]
    notes, slipped, at, counts = [], [], 0.3, [0] * len(steps)
    for place, token in enumerate(line.split()):
        degree, _, beats = token.partition(":")
        length = beat_s * int(beats or 1)
        if degree != "r":
            octave, k = divmod(int(degree), len(steps))
            midi = root + 12 * octave + scale[k]
            counts[k] += 1
            start = at + rng.uniform(-0.012, 0.012)
            if place in slips:
                slipped.append([start, start + SLIP_S, midi + slips[place], -2.0])
                notes.append(slipped[-1])
                start += SLIP_S
            notes.append([start, at + length, midi, rng.uniform(-3, 0) + (1 if k == 0 else 0)])
        at += length
    for before, after in zip(notes, notes[1:]):
        before[1] = min(before[1], after[0])
    assert min(counts) >= 2, f"a degree is played once only: {counts}"
    return notes, slipped


def decoded(path):
    raw = subprocess.run(["ffmpeg", "-v", "error", "-i", path, "-ac", "1", "-ar", str(RATE), "-f", "f32le", "-"],
                         check=True, capture_output=True).stdout
    return np.frombuffer(raw, np.float32).astype(float)


def cents_off(x, midi):
    """How far a recorded note is from its name: the best fit of six harmonics within 60 cents."""
    steady = x[int(0.1 * RATE):int(0.8 * RATE)]
    size = 1 << 19
    spectrum = np.abs(np.fft.rfft(steady * np.hanning(len(steady)), size))
    cents = np.arange(-60, 61)
    hz = 440 * 2 ** ((midi - 69 + cents / 100) / 12)
    bins = np.round(np.outer(np.arange(1, 7), hz) * size / RATE).astype(int)
    return cents[np.argmax(spectrum[bins].sum(axis=0))]


class Samples:
    """Single notes of one instrument, trimmed to the attack."""

    def __init__(self, folder, instrument):
        files = (folder / f"tonejs-instrument-{instrument}-mp3").glob("*.mp3")
        self.files = {midi_number(f.stem): f for f in files}
        self.ready = {}

    def near(self, midi):
        name = min(self.files, key=lambda m: (abs(m - midi), m))
        if name not in self.ready:
            x = decoded(self.files[name])
            x /= np.abs(x).max()
            first = int(np.argmax(np.abs(x) > 0.1))
            x = x[max(0, first - RATE // 500):]
            self.ready[name] = (x, name + cents_off(x, name) / 100)
        return self.ready[name]

    def note(self, midi, length_s, fade_s):
        x, pitch = self.near(midi)
        x = resample(x, int(len(x) * 2 ** ((pitch - midi) / 12)))
        keep, fade = int(length_s * RATE), int(fade_s * RATE)
        x = np.pad(x[:keep + fade], (0, max(0, keep + fade - len(x))))
        x[keep:] *= np.linspace(1, 0, fade) ** 2
        return x


def assembled(notes, samples, instrument, detune_cents):
    fade_s = FADE_S.get(instrument, 0.04)
    out = np.zeros(int((notes[-1][1] + 0.6) * RATE))
    for start, end, midi, loudness_db in notes:
        x = samples.note(midi + detune_cents / 100, end - start, fade_s) * 10 ** (loudness_db / 20)
        at = int(start * RATE)
        out[at:at + len(x)] += x[:len(out) - at]
    return out


def rendered(notes, program):
    """The line through the soundfont, dry."""
    events = []
    for start, end, midi, loudness_db in notes:
        events.append((start, 1, mido.Message("note_on", note=midi, velocity=round(100 + 6 * loudness_db))))
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
        subprocess.run(["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.8", "-r", str(RATE), "-F", sound,
                        SOUNDFONT, song], check=True, capture_output=True)
        return decoded(sound)[:int((notes[-1][1] + 0.6) * RATE)]


def drone(midi, count):
    """A steady tone of eight harmonics that fall as 1/h, beating a little."""
    t = np.arange(count) / RATE
    hz = 440 * 2 ** ((midi - 69) / 12)
    tone = sum(np.sin(2 * np.pi * h * hz * t + h) / h for h in range(1, 9))
    return tone * (1 + 0.1 * np.sin(2 * np.pi * 0.7 * t)) * np.minimum(1, np.minimum(t, t[::-1]) / 0.3)


def claps(rng, count):
    """Bursts of band-limited noise, 4 ms to 25 ms, at uneven times."""
    out = np.zeros(count)
    at = 0.3
    while at < count / RATE - 0.5:
        size = int(0.1 * RATE)
        burst = rng.normal(size=size) * np.exp(-np.arange(size) / RATE / rng.uniform(0.004, 0.025))
        smooth = int(rng.integers(2, 8))
        burst = np.convolve(burst, np.ones(smooth) / smooth, "same")
        out[int(at * RATE):int(at * RATE) + size] += burst * rng.uniform(0.5, 1)
        at += rng.choice([0.2, 0.3, 0.4, 0.6])
    return out


def encode(x, path, rate=RATE, peak=0.5):
    x = x / max(np.abs(x).max(), 1e-9) * peak
    command = ["ffmpeg", "-v", "error", "-y", "-f", "f32le", "-ar", str(RATE), "-ac", "1", "-i", "-", "-ar", str(rate),
               *CODECS[path.suffix], "-map_metadata", "-1", "-fflags", "+bitexact", "-flags:a", "+bitexact", path]
    subprocess.run(command, input=x.astype(np.float32).tobytes(), check=True)


def cut_short(path, part):
    """Keeps the first part of a file's bytes and gives how many seconds can still be decoded."""
    data = path.read_bytes()
    path.write_bytes(data[:int(len(data) * part)])
    return len(decoded(path)) / RATE


def allowed_verdicts(steps, special):
    """A listener too may doubt a centre without a fifth above it, a line that ends elsewhere, or a poor recording; and to
    ears used to European tunes a centre with a semitone above it is the fifth of a minor key."""
    has_fifth = 7 in np.cumsum(steps)
    plain = has_fifth and 1 not in np.cumsum(steps) and not {"noise_db", "cut", "drone", "slips"} & set(special)
    return ["clear"] if plain else ["clear", "ambiguous"]


def make(entry, seed, folder, out):
    name, instrument, root, steps, line, beat_s, special = entry
    rng = np.random.default_rng(seed)
    steps_list, root_midi = [int(s) for s in steps.split()], midi_number(root)
    notes, slips = written(root_midi, steps_list, line, beat_s, rng, special.get("slips", {}))
    if instrument in PROGRAMS:
        x = rendered(notes, PROGRAMS[instrument])
    else:
        x = assembled(notes, Samples(folder, instrument), instrument, special.get("detune_cents", 0))
    rms = np.sqrt(np.mean(x ** 2))
    if "drone" in special:
        low = drone(special["drone"], len(x))
        x = x + low * rms * 10 ** (-12 / 20) / np.sqrt(np.mean(low ** 2))
    if "noise_db" in special:
        x = x + rng.normal(size=len(x)) * rms * 10 ** (-special["noise_db"] / 20)
    encode(x, out / name, special.get("rate", RATE))
    length_s = len(x) / RATE
    if "cut" in special:
        length_s = cut_short(out / name, special["cut"])
        notes = [[s, min(e, length_s), *rest] for s, e, *rest in notes if s < length_s - 0.1]
    verdicts = ["clear", "ambiguous"] if line == FIVE_OPEN else allowed_verdicts(steps_list, special)
    return {
        "file": name, "instrument": instrument, "version": f"{root[:-1]}: {steps}", "centre": root_midi % 12,
        "pitch_classes": sorted((root_midi + int(s)) % 12 for s in np.cumsum(steps_list)), "verdicts": verdicts,
        "detune_cents": special.get("detune_cents", 0), "noise_db": special.get("noise_db"),
        "drone": special.get("drone"), "cut": "cut" in special, "duration_s": round(length_s, 3),
        "slips": rounded(slips), "notes": rounded(notes),
    }


def rounded(notes):
    return [[round(start, 3), round(end, 3), midi] for start, end, midi, _ in notes]


def unpitched(name, x, out):
    encode(x, out / name, 22050 if name.endswith("flac") else RATE)
    return {
        "file": name, "instrument": None, "version": None, "centre": None, "pitch_classes": [],
        "verdicts": ["too_little"], "detune_cents": 0, "noise_db": None, "drone": None, "cut": False,
        "duration_s": round(len(x) / RATE, 3), "slips": [], "notes": [],
    }


def main():
    folder, out = Path(sys.argv[1]), Path(sys.argv[2])
    out.mkdir(parents=True, exist_ok=True)
    expected = [make(entry, seed, folder, out) for seed, entry in enumerate(PHRASES, 1)]
    rng = np.random.default_rng(100)
    expected.append(unpitched("silence.flac", np.zeros(8 * RATE), out))
    expected.append(unpitched("noise.ogg", rng.normal(size=8 * RATE), out))
    expected.append(unpitched("claps.flac", claps(rng, 8 * RATE), out))
    (out / "expected.jsonl").write_text("".join(json.dumps(line) + "\n" for line in expected))


main()
