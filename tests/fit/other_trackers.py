#!/usr/bin/env python3
"""Run general-purpose pitch trackers on a pitch corpus, to compare ours with them on the same files.

  other_trackers.py CORPUS OUT pyin|praat|swift-f0

Writes OUT/ID.pitch.csv (time_s,f0_hz or 0,confidence) for every clip of CORPUS/manifest.json and prints the seconds of sound per
second of one core. Settings are those for music: 27.5 to 2,093 Hz (swift-f0: its own range), 10 ms hop where it can be chosen.
Needs PyPI numpy, soundfile, librosa, praat-parselmouth, swift-f0.
"""
import argparse, json, os, time
from pathlib import Path
for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"
import numpy as np
import soundfile as sf

LOWEST_HZ, HIGHEST_HZ = 27.5, 2093.0


def pyin():
    """librosa pYIN: M. Mauch and S. Dixon, "pYIN: a fundamental frequency estimator using probabilistic threshold distributions", 2014."""
    import librosa

    def run(x, rate):
        hop = int(round(rate * 0.01))
        f0, voiced, p = librosa.pyin(x, fmin=LOWEST_HZ, fmax=HIGHEST_HZ, sr=rate, frame_length=4096, hop_length=hop)
        return np.arange(len(f0)) * hop / rate, np.where(voiced, np.nan_to_num(f0), 0), p
    return run


def praat():
    """Autocorrelation of P. Boersma, 1993, thresholds lowered for decaying notes."""
    import parselmouth

    def run(x, rate):
        pitch = parselmouth.Sound(x.astype(float), rate).to_pitch_ac(
            time_step=0.01, pitch_floor=40.0, pitch_ceiling=HIGHEST_HZ, silence_threshold=0.01, voicing_threshold=0.3)
        a = pitch.selected_array
        return pitch.xs(), a["frequency"], a["strength"]
    return run


def swift_f0():
    """swift-f0, a neural tracker with a range of 46.875 to 2,093.75 Hz; voiced from a confidence of a half, as it says itself."""
    from swift_f0 import SwiftF0
    model = SwiftF0(threads=1, spin=False)

    def run(x, rate):
        r = model.detect(x, rate)
        return r.timestamps, np.where(np.asarray(r.confidence) >= 0.5, np.nan_to_num(r.pitch_hz), 0), r.confidence
    return run


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("corpus", type=Path)
    ap.add_argument("out", type=Path)
    ap.add_argument("tracker", choices=["pyin", "praat", "swift-f0"])
    a = ap.parse_args()
    a.out.mkdir(parents=True, exist_ok=True)
    run = {"pyin": pyin, "praat": praat, "swift-f0": swift_f0}[a.tracker]()
    heard = spent = 0.0
    for k, m in enumerate(json.load(open(a.corpus / "manifest.json"))):
        x, rate = sf.read(a.corpus / "wav" / f"{m['id']}.wav", dtype="float32")
        if k == 0:
            run(x, rate)  # compilers and caches warm up on a run that is not counted
        begun = time.process_time()
        times, f0, confidence = run(x, rate)
        spent += time.process_time() - begun
        heard += len(x) / rate
        with open(a.out / f"{m['id']}.pitch.csv", "w") as f:
            f.writelines(f"{t:.4f},{h:.3f},{c:.4f}\n" for t, h, c in zip(times, f0, confidence))
    print(f"{a.tracker}: {heard / spent:.1f} x real time")


if __name__ == "__main__":
    main()
