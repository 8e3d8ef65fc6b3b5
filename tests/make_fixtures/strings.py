"""Makes fixtures/strings: recorded single notes, cut short, and an independent reading of each.

Run from the repository's root:  python tests/make_fixtures/strings.py NODE_MODULES
NODE_MODULES holds the npm packages tonejs-instrument-{guitar-acoustic,guitar-nylon,harp,bass-electric}-mp3 1.1.1.
Needs ffmpeg and the Python libraries librosa and soundfile. The reading in expected.json is librosa's YIN (de Cheveigné
and Kawahara 2002), the median over 0.2 to 1.2 s: another program's pitch, good to a few cents.
"""
import json
import subprocess
import sys
from pathlib import Path

import librosa
import numpy as np
import soundfile

NOTES = {
    "guitar-acoustic": ["A2", "E3", "G4"],
    "guitar-nylon": ["E3", "Cs4"],
    "harp": ["F2", "A4"],
    "bass-electric": ["Cs3"],
}


def read_pitch(path, note):
    samples, rate = soundfile.read(path)
    near = librosa.note_to_hz(note.replace("s", "#"))
    pitch = librosa.yin(samples, fmin=near / 1.5, fmax=near * 1.5, sr=rate, frame_length=8192, hop_length=512)
    times = librosa.times_like(pitch, sr=rate, hop_length=512)
    return float(np.median(pitch[(times > 0.2) & (times < 1.2)]))


def main():
    modules, out = Path(sys.argv[1]), Path("fixtures/strings")
    out.mkdir(parents=True, exist_ok=True)
    expected = {}
    for instrument, notes in NOTES.items():
        for note in notes:
            source = modules / f"tonejs-instrument-{instrument}-mp3" / f"{note}.mp3"
            target = out / f"{instrument}-{note}.flac"
            subprocess.run(["ffmpeg", "-nostdin", "-y", "-loglevel", "error", "-i", source, "-af", "afade=out:st=1.4:d=0.1",
                            "-t", "1.5", "-ac", "1", "-ar", "44100", "-sample_fmt", "s16", target], check=True)
            expected[target.name] = {"note": note.replace("s", "#"), "yin_hz": round(read_pitch(target, note), 3)}
    (out / "expected.json").write_text(json.dumps(expected, indent=1) + "\n")


main()
