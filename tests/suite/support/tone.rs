//! Reads whole recordings and measures a tone in them, by a method that shares nothing with the pitch tracker.

use std::f64::consts::TAU;
use std::path::{Path, PathBuf};

use whichmode::decode::SoundReader;
use whichmode::error::Result;

/// All that a reader gives for one recording.
pub struct Sound {
    pub rate_hz: f64,
    pub samples: Vec<f32>,
    pub warnings: Vec<String>,
}

impl Sound {
    pub fn seconds(&self) -> f64 {
        self.samples.len() as f64 / self.rate_hz
    }

    pub fn rms(&self) -> f64 {
        let sum: f64 = self.samples.iter().map(|&x| f64::from(x).powi(2)).sum();
        (sum / self.samples.len() as f64).sqrt()
    }

    /// Amplitude and phase of a partial in the stretch of `length_s` at `from_s`: the discrete Fourier transform at
    /// that one frequency under a Hann window, which holds other partials 60 dB down when they are 20 bins away.
    fn partial(&self, hz: f64, from_s: f64, length_s: f64) -> (f64, f64) {
        let first = (from_s * self.rate_hz) as usize;
        let count = (length_s * self.rate_hz) as usize;
        let (mut re, mut im, mut sum) = (0.0, 0.0, 0.0);
        for (k, &x) in self.samples[first..first + count].iter().enumerate() {
            let window = 0.5 - 0.5 * (TAU * k as f64 / count as f64).cos();
            let (sin, cos) = (TAU * hz * (first + k) as f64 / self.rate_hz).sin_cos();
            re += window * f64::from(x) * cos;
            im -= window * f64::from(x) * sin;
            sum += window;
        }
        (2.0 * re.hypot(im) / sum, im.atan2(re))
    }

    /// Amplitude of a partial in the stretch between two times.
    pub fn amplitude(&self, hz: f64, from_s: f64, to_s: f64) -> f64 {
        self.partial(hz, from_s, to_s - from_s).0
    }

    /// The frequency of the partial near `hz`, from how far its phase turns between two stretches. Exact for a steady
    /// tone; right while the frequency is within half a turn of `hz`, which is ±1.5 Hz for stretches 1/3 s apart.
    pub fn frequency(&self, hz: f64, from_s: f64, to_s: f64) -> f64 {
        let length_s = (to_s - from_s) / 2.0;
        let first = (from_s * self.rate_hz).floor() / self.rate_hz;
        let apart = (length_s * self.rate_hz).floor() / self.rate_hz;
        let turn =
            self.partial(hz, first + apart, length_s).1 - self.partial(hz, first, length_s).1;
        let turns = turn / TAU;
        hz + (turns - turns.round()) / apart
    }
}

pub fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures/formats")
        .join(name)
}

pub fn read(path: &Path) -> Result<Sound> {
    drain(SoundReader::open(path)?)
}

/// Reads bytes as from a pipe.
pub fn read_bytes(bytes: &[u8]) -> Result<Sound> {
    drain(SoundReader::from_reader(bytes)?)
}

pub fn drain(mut reader: SoundReader) -> Result<Sound> {
    let rate_hz = reader.rate_hz();
    let mut samples = Vec::new();
    while let Some(block) = reader.next_block()? {
        samples.extend_from_slice(block);
    }
    Ok(Sound {
        rate_hz,
        samples,
        warnings: reader.warnings().to_vec(),
    })
}

/// A WAV file of mono float samples.
pub fn float_wav(rate_hz: u32, samples: impl IntoIterator<Item = f32>) -> Vec<u8> {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: rate_hz,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut bytes = std::io::Cursor::new(Vec::new());
    let mut writer = hound::WavWriter::new(&mut bytes, spec).unwrap();
    let samples = samples.into_iter();
    samples.for_each(|x| writer.write_sample(x).unwrap());
    writer.finalize().unwrap();
    bytes.into_inner()
}
