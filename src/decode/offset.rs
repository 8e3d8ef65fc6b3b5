//! Takes out a constant offset of the samples, as a faulty sound card adds it: it is no sound, but a window cut out of it
//! is. A recording without one is not touched.

use crate::words::said;

/// An offset from this part of full scale on, −26 dB, is taken out; no source. Music and wind stay below on the average.
const NOTABLE: f64 = 0.05;
/// The offset is the average over about this many seconds: slow against the lowest note (27.5 Hz), quick against a phrase.
const MEMORY_S: f64 = 0.2;
/// A first block of at least this many seconds, half a turn of 25 Hz, shows its offset by lying wholly to one side.
const FIRST_S: f64 = 0.02;
/// Seconds over which taking out begins, so that it makes no step.
const FADE_S: f64 = 0.05;

/// The running offset of each channel.
#[derive(Debug, Default)]
pub(super) struct Offset {
    channels: Vec<Channel>,
    /// The greatest offset that was taken out, as a part of full scale.
    greatest: f64,
}

#[derive(Debug, Clone, Copy, Default)]
struct Channel {
    mean: f64,
    /// How far taking out has begun, 0 to 1; it never ends.
    part: f64,
    is_notable: bool,
    has_begun: bool,
}

impl Offset {
    /// Takes the offset out of interleaved samples.
    pub(super) fn remove(&mut self, samples: &mut [f32], channels: usize, rate_hz: f64) {
        self.channels.resize(channels, Channel::default());
        for (k, channel) in self.channels.iter_mut().enumerate() {
            let own = k.min(samples.len());
            channel.remove(&mut samples[own..], channels, rate_hz);
            if channel.is_notable {
                self.greatest = self.greatest.max(channel.mean.abs());
            }
        }
    }

    /// A sentence about what was taken out.
    pub(super) fn warning(&self) -> Option<String> {
        (self.greatest > 0.0).then(|| {
            said!(
                "warning.offset",
                percent = format!("{:.0}", 100.0 * self.greatest)
            )
        })
    }
}

impl Channel {
    fn remove(&mut self, samples: &mut [f32], step: usize, rate_hz: f64) {
        let own = || samples.iter().step_by(step);
        let count = own().count();
        if count == 0 {
            return;
        }
        if !self.is_notable {
            let mean = f64::from(own().sum::<f32>()) / count as f64;
            let is_long = count as f64 >= FIRST_S * rate_hz;
            let one_sided = || own().all(|&x| f64::from(x) * mean.signum() > NOTABLE);
            if !self.has_begun && is_long && one_sided() {
                (self.mean, self.part) = (mean, 1.0);
            }
            self.has_begun = true;
            let forgotten = 1.0 - (-(count as f64) / (MEMORY_S * rate_hz)).exp();
            self.mean += forgotten * (mean - self.mean);
            self.is_notable = self.mean.abs() > NOTABLE;
        }
        if self.is_notable {
            self.take_out(samples, step, rate_hz);
        }
    }

    fn take_out(&mut self, samples: &mut [f32], step: usize, rate_hz: f64) {
        let forgotten = 1.0 - (-1.0 / (MEMORY_S * rate_hz)).exp();
        let fade = 1.0 / (FADE_S * rate_hz);
        for x in samples.iter_mut().step_by(step) {
            self.mean += forgotten * (f64::from(*x) - self.mean);
            self.part = (self.part + fade).min(1.0);
            *x = (f64::from(*x) - self.part * self.mean) as f32;
        }
    }
}
