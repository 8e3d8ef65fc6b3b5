#!/usr/bin/env python3
"""Makes fixtures/lesson: a lesson of three passages with talk before, between and after.

usage: lesson.py OUT.ogg       also writes OUT.json: where each passage lies, its set and its centre

Lines and sounds come from tests/passages/make_lessons.py, here without runs and borrowed notes and ending on their centre; the words are our own, spoken by Debian's espeak-ng. Needs what that needs,
and ffmpeg."""
import json
import random
import subprocess
import sys
from pathlib import Path

import numpy as np
import soundfile as sf

sys.path.insert(0, str(Path(__file__).parents[1] / "passages"))
import make_lessons  # noqa: E402
from make_lessons import RATE, Lesson, Version  # noqa: E402

DORIAN_KUMOI, PHRYGIAN_KUMOI = [0, 2, 3, 7, 9], [0, 1, 5, 7, 10]
PASSAGES = [
    ("Good morning. First the version from D, as last week.", Version(2, DORIAN_KUMOI)),
    ("And now the same notes, but from E. Hear where it comes to rest.", Version(4, PHRYGIAN_KUMOI)),
    ("Back to D, but with other notes.", Version(2, PHRYGIAN_KUMOI)),
]


# Degrees above the centre from 0, with their beats; None is a rest. Up, down, and home.
LINE = [(0, 2), (1, 1), (2, 1), (3, 1), (4, 1), (5, 2), (4, 1), (3, 1), (2, 1), (1, 1), (0, 3), (None, 1), (2, 1), (3, 1), (4, 2), (3, 1),
        (4, 1), (5, 1), (6, 1), (5, 3), (None, 1), (7, 1), (6, 1), (5, 2), (4, 1), (3, 1), (4, 1), (2, 1), (1, 1), (0, 4)]


def line(v, rng, low, high, beat):
    """The line in a version, and that it comes home."""
    pitch = lambda k: 48 + v.centre + v.offsets[k % len(v.offsets)] + 12 * (k // len(v.offsets))
    return [(None if k is None else pitch(k), beats, True) for k, beats in LINE], True


make_lessons.line = line


def main():
    out = Path(sys.argv[1])
    rng, noise = random.Random("a lesson"), np.random.default_rng(7)
    it = Lesson(rng, noise)
    it.speakers, it.instrument = [("en-gb-scotland", 150, 45)], "plucked"
    for words, version in PASSAGES:
        it.say([words])
        it.pause(0.5, 0.9)
        it.play(version, split=False)
        it.pause(0.6, 1.2)
    it.say(["That was all three. Thank you."])
    wave = out.with_suffix(".wav")
    sf.write(wave, it.finished(), RATE)
    subprocess.run(["ffmpeg", "-v", "error", "-y", "-i", wave, "-map_metadata", "-1", "-fflags", "+bitexact", "-flags:a", "+bitexact",
                    "-c:a", "libvorbis", "-q:a", "2", out], check=True)
    wave.unlink()
    passages = [{k: p[k] for k in ("start_s", "end_s", "set", "centre")} for p in it.passages]
    rounded = json.loads(json.dumps(passages), parse_float=lambda s: round(float(s), 2))
    out.with_suffix(".json").write_text(json.dumps(rounded, indent=1) + "\n")


if __name__ == "__main__":
    main()
