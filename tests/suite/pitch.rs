//! The pitch and note stages against tones whose pitch is known from their formula, and against another program's
//! method (McLeod's, crate `pitch-detection`).
//!
//! Pitch numbers are f = 440 · 2^((m − 69) / 12), ISO 16:1975 with MIDI numbers. Half a cent is what the project asks of
//! a steady tone; about 5 cents is the least that is heard (common practice, no source). Onsets may be 50 ms off and
//! pitches of notes 50 cents, the usual limits for comparing transcriptions (Raffel et al., mir_eval, 2014), unless a
//! test needs less.

use crate::support::{synth, tone};

use std::path::Path;

use pitch_detection::detector::PitchDetector;
use pitch_detection::detector::mcleod::McLeodDetector;
use synth::{Voice, clicks, noise};
use whichmode::notes::steadiness::Steadiness;
use whichmode::notes::{NoteList, Ornament, transcribe};
use whichmode::pitch::{FRAME_S, PitchTrack, Tracker};

pub const RATE_HZ: f64 = 22_050.0;
/// Frames this near to a tone's ends are not steady, in seconds.
const END_S: f64 = 0.2;

pub fn hz(midi: f64) -> f64 {
    440.0 * ((midi - 69.0) / 12.0).exp2()
}

fn midi(hz: f32) -> f64 {
    69.0 + 12.0 * (f64::from(hz) / 440.0).log2()
}

pub fn track(rate_hz: f64, samples: &[f32]) -> PitchTrack {
    track_in_blocks(rate_hz, samples, 2048)
}

fn track_in_blocks(rate_hz: f64, samples: &[f32], size: usize) -> PitchTrack {
    let mut tracker = Tracker::new(rate_hz);
    for block in samples.chunks(size) {
        tracker.push(block);
    }
    tracker.finish()
}

pub fn notes(rate_hz: f64, samples: &[f32]) -> NoteList {
    transcribe(&track(rate_hz, samples))
}

/// Deviations in cents from `expected` of the frames clear of both ends; every one of them must be voiced.
fn steady_cents(name: &str, track: &PitchTrack, expected: f64) -> Vec<f64> {
    let end = (END_S / FRAME_S) as usize;
    let steady = &track.frames[end..track.frames.len() - end];
    let unvoiced = steady.iter().filter(|f| f.f0_hz <= 0.0).count();
    assert_eq!(unvoiced, 0, "{name}: unvoiced frames of {}", steady.len());
    steady
        .iter()
        .map(|f| 100.0 * (midi(f.f0_hz) - expected))
        .collect()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn worst(values: &[f64]) -> f64 {
    values.iter().fold(0.0, |most: f64, v| most.max(v.abs()))
}

fn voiced_share(track: &PitchTrack) -> f64 {
    track.frames.iter().filter(|f| f.f0_hz > 0.0).count() as f64 / track.frames.len() as f64
}

/// Checks a voice on every third semitone from C2 to `highest`, 13 cents beside the 12-tone grid so that no rounding
/// to it could help: the mean and every single frame.
fn assert_pitch(what: &str, voice: &Voice, highest: usize, mean_cents: f64, frame_cents: f64) {
    let mut failures = Vec::new();
    for whole in (36..=highest).step_by(3) {
        let expected = whole as f64 + 0.13;
        let tone = voice.steady(0.7, hz(expected));
        let cents = steady_cents(
            &format!("{what} {whole}"),
            &track(voice.rate_hz, &tone),
            expected,
        );
        if mean(&cents).abs() > mean_cents || worst(&cents) > frame_cents {
            failures.push(format!(
                "{whole}: mean {:.2}, worst {:.2}",
                mean(&cents),
                worst(&cents)
            ));
        }
    }
    assert!(failures.is_empty(), "{what}, cents off: {failures:?}");
}

#[test]
fn harmonic_tones_are_exact_from_c2_to_c7() {
    assert_pitch("harmonic", &Voice::harmonic(RATE_HZ), 96, 0.5, 2.0);
}

#[test]
fn sines_are_exact() {
    let voice = Voice {
        rate_hz: RATE_HZ,
        amplitudes: vec![0.3],
        stiffness: 0.0,
    };
    assert_pitch("sine", &voice, 96, 0.5, 2.0);
}

/// Tones whose first partial is weak or absent are heard at its pitch all the same.
#[test]
fn a_weak_first_partial_keeps_the_pitch() {
    let amplitudes = vec![0.005, 0.2, 0.15, 0.12, 0.1, 0.05, 0.05, 0.03];
    let voice = Voice {
        rate_hz: RATE_HZ,
        amplitudes,
        stiffness: 0.0,
    };
    assert_pitch("weak first partial", &voice, 72, 1.0, 5.0);
}

/// B = 3e-4 is a wound guitar string or a piano's middle (order of magnitude from memory). The reading is the first
/// partial's, not a compromise between the stretched ones.
#[test]
fn stiff_strings_are_read_at_their_first_partial() {
    let voice = Voice {
        stiffness: 3e-4,
        ..Voice::harmonic(RATE_HZ)
    };
    assert_pitch("stiff string", &voice, 84, 2.0, 5.0);
}

#[test]
fn every_sampling_rate_gives_the_same_pitch() {
    for rate_hz in [8_000.0, 16_000.0, 44_100.0, 48_000.0, 96_000.0] {
        for expected in [45.2, 57.0, 69.0, 81.6] {
            let tone = Voice::harmonic(rate_hz).steady(0.7, hz(expected));
            let name = format!("{expected} at {rate_hz} Hz");
            let off = mean(&steady_cents(&name, &track(rate_hz, &tone), expected));
            assert!(off.abs() < 0.5, "{name}: {off} cents off");
        }
    }
}

/// McLeod's method on 4,096 samples at 44.1 kHz is itself up to 3.5 cents off on such tones (measured on six-harmonic
/// tones of 80 to 1,200 Hz), hence 4 cents.
#[test]
fn mcleod_agrees_on_steady_tones() {
    let rate_hz = 44_100.0;
    for whole in (40..=86).step_by(5) {
        let tone = Voice::harmonic(rate_hz).steady(0.7, hz(f64::from(whole)));
        let middle: Vec<f64> = tone[12_000..12_000 + 4096]
            .iter()
            .map(|&x| f64::from(x))
            .collect();
        let other = McLeodDetector::new(4096, 2048)
            .get_pitch(&middle, rate_hz as usize, 1.0, 0.7)
            .expect("McLeod hears a steady tone");
        let expected = midi(other.frequency as f32);
        let off = mean(&steady_cents(
            &format!("{whole}"),
            &track(rate_hz, &tone),
            expected,
        ));
        assert!(off.abs() < 4.0, "{whole}: {off} cents from McLeod");
    }
}

#[test]
fn a_vibrato_is_one_note_at_its_mean() {
    let voice = Voice::harmonic(RATE_HZ);
    // Eleven whole swings of 5.5 Hz, 40 cents to either side.
    let tone = voice.glide(2.0, |t| {
        hz(64.0 + 0.4 * (std::f64::consts::TAU * 5.5 * t).sin())
    });
    let track = track(RATE_HZ, &tone);
    let cents = steady_cents("vibrato", &track, 64.0);
    assert!(worst(&cents) > 25.0, "the track does not follow the swing");
    let heard = transcribe(&track).notes;
    assert_eq!(heard.len(), 1, "{heard:?}");
    assert!((heard[0].midi - 64.0).abs() < 0.05, "{}", heard[0].midi);
    let Some(Ornament::Vibrato { extent_cents }) = heard[0].ornament else {
        panic!("no vibrato: {:?}", heard[0])
    };
    assert!((25.0..50.0).contains(&extent_cents), "{extent_cents} cents");
}

/// Short notes that swing two or three times, up first or down first, never stay on one pitch but have a level middle.
#[test]
fn a_few_swings_are_one_note_at_their_middle() {
    let voice = Voice::harmonic(RATE_HZ);
    for (swings, per_second, extent) in [(2.0, 4.5, 0.5), (2.5, 5.5, 0.6), (3.0, 6.5, 0.7)] {
        for side in [1.0, -1.0] {
            let swing = |t: f64| side * extent * (std::f64::consts::TAU * per_second * t).cos();
            let tone = voice.glide(swings / per_second, |t| hz(64.0 + swing(t)));
            let heard = notes(RATE_HZ, &tone).notes;
            let what = format!("{swings} swings, {per_second} Hz, {extent} to side {side}");
            assert_eq!(heard.len(), 1, "{what}: {heard:?}");
            assert!((heard[0].midi - 64.0).abs() < 0.1, "{what}: {heard:?}");
        }
    }
}

/// Sung notes that swing, with breath 20 dB beneath them in the pauses: where they sound is known from how they are made. A voice
/// between notes is what singers were given too often.
#[test]
fn breath_between_notes_has_no_pitch() {
    let (mut sound, mut sounds) = (Vec::new(), Vec::new());
    for k in 0..12usize {
        let middle = 60.0 + (k * 5 % 9) as f64;
        let swing = |t: f64| middle + 0.5 * (std::f64::consts::TAU * 5.5 * t).sin();
        let note = Voice::harmonic(RATE_HZ).glide(0.45, |t| hz(swing(t)));
        let power = note.iter().map(|x| f64::from(x * x)).sum::<f64>() / note.len() as f64;
        // Even noise of this width has a level of a tenth of the note's.
        let breath = noise(
            (0.3 * RATE_HZ) as usize,
            0.1 * (3.0 * power).sqrt(),
            1 + k as u64,
        );
        sounds.push(sound.len() as f64 / RATE_HZ..(sound.len() + note.len()) as f64 / RATE_HZ);
        sound.extend(note);
        sound.extend(breath);
    }
    let track = track(RATE_HZ, &sound);
    let frames = track.sounding();
    let share = |away: f64, within: bool| {
        let at = |k: usize| k as f64 * FRAME_S;
        let near = |k: &usize| {
            sounds
                .iter()
                .any(|s| (s.start - away..s.end + away).contains(&at(*k)))
        };
        let own: Vec<usize> = (0..frames.len()).filter(|k| near(k) == within).collect();
        let voiced = own.iter().filter(|&&k| frames[k].f0_hz > 0.0).count();
        voiced as f64 / own.len() as f64
    };
    assert!(share(0.05, false) < 0.12, "{}", share(0.05, false));
    assert!(share(-0.05, true) > 0.97, "{}", share(-0.05, true));
}

/// Struck tones with vibrato that fade by 80 dB a second, as those of a kalimba: all of each sounds, faint as its end is.
#[test]
fn tones_that_fade_keep_their_pitch() {
    let mut sound = Vec::new();
    for k in 0..12usize {
        let middle = 60.0 + (k * 5 % 9) as f64;
        let swing = |t: f64| middle + 0.5 * (std::f64::consts::TAU * 5.5 * t).sin();
        let fade = |at: usize| 10f64.powf(-4.0 * at as f64 / RATE_HZ) as f32;
        let note = Voice::harmonic(RATE_HZ).glide(0.5, |t| hz(swing(t)));
        sound.extend(note.iter().enumerate().map(|(at, x)| x * fade(at)));
    }
    let frames = track(RATE_HZ, &sound).sounding();
    let voiced = frames.iter().filter(|f| f.f0_hz > 0.0).count();
    let share = voiced as f64 / frames.len() as f64;
    assert!(share > 0.95, "{share}");
}

/// A wind player's slurs of 80 cents: the upper note is reached from below and held, a key is opened, the lower one is held.
/// Each pair is two notes, whose pitches are those that it is made of.
#[test]
fn slurred_semitones_are_two_notes() {
    let mut sound = vec![0.0; (0.2 * RATE_HZ) as usize];
    let tops = [57.0, 60.0, 62.0, 57.0, 65.0];
    for top in tops {
        let path = |t: f64| {
            let rise: f64 = (1.0 - t / 0.16).max(0.0);
            top - if t < 0.18 { 0.7 * rise * rise } else { 0.8 }
        };
        sound.extend(Voice::harmonic(RATE_HZ).glide(0.43, |t| hz(path(t))));
        sound.extend(vec![0.0; (0.1 * RATE_HZ) as usize]);
    }
    let heard = notes(RATE_HZ, &sound).notes;
    assert_eq!(heard.len(), 2 * tops.len(), "{heard:?}");
    for (pair, top) in heard.chunks(2).zip(tops) {
        assert!((pair[0].midi - top).abs() < 0.3, "{pair:?}");
        assert!((pair[1].midi - top + 0.8).abs() < 0.1, "{pair:?}");
    }
}

/// A voiced consonant of 60 ms, weaker than its vowel, does not make a note of its own: sung notes that swing begin once.
#[test]
fn a_consonant_and_its_vowel_are_one_note() {
    let mut sound = vec![0.0; (0.2 * RATE_HZ) as usize];
    let sung = [57.0, 60.0, 62.0, 57.0, 65.0];
    for middle in sung {
        let swing = |t: f64| middle + 0.4 * (std::f64::consts::TAU * 5.5 * t).sin();
        let note = Voice::harmonic(RATE_HZ).glide(0.55, |t| hz(swing(t)));
        let weak = |at: usize| match at as f64 / RATE_HZ {
            t if t < 0.05 => 0.35,
            t if t < 0.06 => 0.12,
            _ => 1.0,
        };
        sound.extend(note.iter().enumerate().map(|(at, x)| x * weak(at)));
        sound.extend(vec![0.0; (0.1 * RATE_HZ) as usize]);
    }
    let heard = notes(RATE_HZ, &sound).notes;
    let pitches: Vec<f64> = heard.iter().map(|n| n.midi.round()).collect();
    assert_eq!(pitches, sung, "{heard:?}");
}

/// The melody of a spoken syllable rises, turns and falls; a voice that does nothing else speaks.
#[test]
fn syllables_are_speech() {
    let mut sound = Vec::new();
    for k in 0..12usize {
        let (rise, fall) = [(4.0, 6.0), (1.5, 5.0), (5.0, 1.0), (2.5, 3.5)][k % 4];
        let middle = 57.0 + (k * 5 % 7) as f64 / 2.0;
        let path =
            |t: f64| middle + rise * (t / 0.12).min(1.0) - fall * ((t - 0.12) / 0.2).max(0.0);
        sound.extend(Voice::harmonic(RATE_HZ).glide(0.32, |t| hz(path(t))));
        sound.extend(vec![0.0; (0.08 * RATE_HZ) as usize]);
    }
    let heard = notes(RATE_HZ, &sound);
    assert_eq!(heard.is_speech, Some(true), "{:?}", heard.notes);
}

/// Numbers read out in Cantonese, whose syllables stand on their tones, and two texts in languages without tones (fixtures/speech).
#[test]
fn speech_is_speech_where_its_syllables_stand_too() {
    for name in ["numbers.ogg", "low.ogg", "high.ogg"] {
        let file = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/speech/");
        let sound = tone::read(Path::new(&format!("{file}{name}"))).expect(name);
        let heard = notes(sound.rate_hz, &sound.samples);
        assert_eq!(heard.is_speech, Some(true), "{name}: {:?}", heard.notes);
    }
}

/// Speech keeps within half an octave ('t Hart, Collier and Cohen, 1990; from memory): a line's reach is from its lower notes to its
/// higher ones, whatever note it ends on and for how long. One tone, held or played again and again, has none and is no speech.
#[test]
fn a_narrow_reach_alone_is_no_speech() {
    let voice = Voice::harmonic(RATE_HZ);
    let mut octaves = line(&voice, &[60.0, 72.0].repeat(10), 0.25, 0.4);
    octaves.extend(voice.plucked(4.0, hz(60.0), 2.0));
    let track = track(RATE_HZ, &octaves);
    let heard = transcribe(&track);
    let steadiness = Steadiness::new(&track, &heard.notes);
    let signs = steadiness.signs(0..track.frames.len());
    let reach = signs.expect("pitch").reach.exp();
    assert!((reach - 12.0).abs() < 0.1, "{reach} semitones");
    let held = voice.steady(2.0, hz(62.0));
    let again = line(&voice, &[62.0; 12], 0.3, 0.4);
    for sound in [held, again, octaves] {
        let heard = notes(RATE_HZ, &sound);
        assert_eq!(heard.is_speech, Some(false), "{:?}", heard.notes);
    }
}

/// A string bent by two semitones in a fifth of a second, evenly or with a smooth start and end.
#[test]
fn a_bend_is_one_note_where_it_is_held() {
    let even = |part: f64| part;
    let smooth = |part: f64| 0.5 - 0.5 * (std::f64::consts::PI * part).cos();
    for (name, shape) in [("even", &even as &dyn Fn(f64) -> f64), ("smooth", &smooth)] {
        let path = |t: f64| 62.0 + 2.0 * shape(((t - 0.15) / 0.2).clamp(0.0, 1.0));
        let tone = Voice::harmonic(RATE_HZ).glide(1.3, |t| hz(path(t)));
        let heard = notes(RATE_HZ, &tone).notes;
        assert_eq!(heard.len(), 1, "{name}: {heard:?}");
        assert!(
            (heard[0].midi - 64.0).abs() < 0.1,
            "{name}: {}",
            heard[0].midi
        );
        let bent = matches!(heard[0].ornament, Some(Ornament::Bend { .. }));
        assert!(bent, "{name}: {:?}", heard[0].ornament);
    }
}

/// A wind player's breath: the level swings by 3 dB to either side five times a second, the pitch is held.
#[test]
fn a_tremor_of_the_breath_is_one_note() {
    for pitch in [65.0, 72.0] {
        let mut tone = Voice::harmonic(RATE_HZ).steady(1.5, hz(pitch));
        for (k, x) in tone.iter_mut().enumerate() {
            let turns = 5.0 * k as f64 / RATE_HZ;
            let swing_db = 3.0 * (std::f64::consts::TAU * turns).sin();
            *x *= 10f64.powf(swing_db / 20.0) as f32;
        }
        let heard = notes(RATE_HZ, &tone).notes;
        assert_eq!(heard.len(), 1, "{pitch}: {heard:?}");
        assert!((heard[0].midi - pitch).abs() < 0.05, "{}", heard[0].midi);
    }
}

/// A slow slide down that ends on a held note.
#[test]
fn a_slide_is_one_note() {
    let path = |t: f64| 67.0 - 3.0 * ((t - 0.1) / 0.35).clamp(0.0, 1.0);
    let tone = Voice::harmonic(RATE_HZ).glide(1.5, |t| hz(path(t)));
    let heard = notes(RATE_HZ, &tone).notes;
    assert_eq!(heard.len(), 1, "{heard:?}");
    assert!((heard[0].midi - 64.0).abs() < 0.1, "{}", heard[0].midi);
}

/// Notes one after the other, each `length_s` long: `(seconds, fractional MIDI)`.
pub fn line(voice: &Voice, pitches: &[f64], length_s: f64, decay_s: f64) -> Vec<f32> {
    let mut sound = vec![0.0; (0.2 * voice.rate_hz) as usize];
    for &pitch in pitches {
        sound.extend(voice.plucked(length_s, hz(pitch), decay_s));
    }
    sound
}

pub fn assert_line(heard: &NoteList, pitches: &[f64], length_s: f64) {
    assert_eq!(heard.notes.len(), pitches.len(), "{:#?}", heard.notes);
    for (k, (note, pitch)) in heard.notes.iter().zip(pitches).enumerate() {
        let start_s = 0.2 + k as f64 * length_s;
        assert!(
            (note.start_s - start_s).abs() < 0.05,
            "note {k} starts at {} for {start_s}",
            note.start_s
        );
        assert!(
            (note.midi - pitch).abs() < 0.05,
            "note {k} is {} for {pitch}",
            note.midi
        );
    }
}

#[test]
fn a_repeated_note_is_split_at_its_onsets() {
    let voice = Voice::harmonic(RATE_HZ);
    for pitch in [45.0, 57.0, 69.0, 76.0] {
        let pitches = [pitch; 5];
        assert_line(
            &notes(RATE_HZ, &line(&voice, &pitches, 0.4, 0.3)),
            &pitches,
            0.4,
        );
    }
}

#[test]
fn a_line_is_heard_note_by_note() {
    let pitches = [62.0, 64.0, 65.0, 69.0, 71.0, 69.0, 65.0, 64.0, 62.0];
    let voice = Voice::harmonic(RATE_HZ);
    assert_line(
        &notes(RATE_HZ, &line(&voice, &pitches, 0.25, 0.4)),
        &pitches,
        0.25,
    );
}

/// Two lines an octave and more apart at one level, of other rhythms: the warning says so; of each alone it does not.
#[test]
fn two_lines_of_equal_weight_are_told() {
    let voice = Voice::harmonic(RATE_HZ);
    let high = [74.0, 76.0, 77.0, 81.0, 83.0, 81.0, 77.0, 76.0].repeat(3);
    let low = [50.0, 57.0, 53.0, 52.0, 55.0, 50.0].repeat(3);
    let (high, low) = (
        line(&voice, &high, 0.25, 0.5),
        line(&voice, &low, 0.35, 0.6),
    );
    let both: Vec<f32> = high.iter().zip(&low).map(|(a, b)| a + b).collect();
    let told = |sound: &[f32]| {
        let warnings = notes(RATE_HZ, sound).warnings;
        warnings.iter().any(|w| w.starts_with("several lines"))
    };
    assert!(told(&both));
    assert!(!told(&high) && !told(&low));
}

#[test]
fn transposing_the_sound_transposes_the_notes() {
    let pitches = [57.0, 59.0, 60.0, 64.0, 66.0, 57.0];
    let voice = Voice::harmonic(RATE_HZ);
    for up in [-7.41, -0.33, 3.37, 12.0] {
        let moved = pitches.map(|p| p + up);
        assert_line(
            &notes(RATE_HZ, &line(&voice, &moved, 0.35, 0.4)),
            &moved,
            0.35,
        );
    }
}

/// From near full scale down to what a phone on the far side of the room records.
#[test]
fn level_does_not_change_the_notes() {
    let pitches = [57.0, 59.0, 60.0, 64.0, 66.0, 57.0];
    let sound = line(&Voice::harmonic(RATE_HZ), &pitches, 0.35, 0.4);
    for gain in [1.8, 0.1, 0.01] {
        let louder: Vec<f32> = sound.iter().map(|x| x * gain).collect();
        assert_line(&notes(RATE_HZ, &louder), &pitches, 0.35);
    }
}

/// At most 2 % of the frames may claim a pitch where there is none, and no note may be made of them.
#[test]
fn nothing_is_heard_where_nothing_sounds() {
    let silence = track(RATE_HZ, &vec![0.0; (3.0 * RATE_HZ) as usize]);
    assert_eq!(voiced_share(&silence), 0.0, "silence");
    assert!(transcribe(&silence).notes.is_empty());
    for seed in 1..=4 {
        for amplitude in [0.8, 0.001] {
            let track = track(RATE_HZ, &noise((3.0 * RATE_HZ) as usize, amplitude, seed));
            let share = voiced_share(&track);
            assert!(share <= 0.02, "noise {seed} at {amplitude}: {share}");
            assert!(transcribe(&track).notes.is_empty(), "noise {seed}");
        }
        let track = track(RATE_HZ, &clicks(RATE_HZ, 3.0, seed));
        let share = voiced_share(&track);
        assert!(share <= 0.02, "clicks {seed}: {share}");
        assert!(transcribe(&track).notes.is_empty(), "clicks {seed}");
    }
}

/// The same sound in blocks of any size is the same to the last bit.
#[test]
fn blocks_of_any_size_give_the_same_track() {
    let pitches = [57.0, 64.0, 57.0];
    for rate_hz in [RATE_HZ, 48_000.0] {
        let sound = line(&Voice::harmonic(rate_hz), &pitches, 0.3, 0.4);
        let whole = track_in_blocks(rate_hz, &sound, sound.len());
        assert!(voiced_share(&whole) > 0.5);
        for size in [1, 7, 441, 1024, 5000] {
            assert!(
                track_in_blocks(rate_hz, &sound, size) == whole,
                "blocks of {size} at {rate_hz} Hz"
            );
        }
    }
}

/// A frame every 10 ms from the first sample to the last.
#[test]
fn the_track_is_as_long_as_the_sound() {
    for seconds in [0.5, 1.234] {
        let track = track(RATE_HZ, &Voice::harmonic(RATE_HZ).steady(seconds, 300.0));
        assert!(
            (track.duration_s - seconds).abs() < 1e-3,
            "{} for {seconds}",
            track.duration_s
        );
        let frames = seconds / FRAME_S;
        assert!(
            (track.frames.len() as f64 - frames).abs() <= 1.0,
            "{} for {frames}",
            track.frames.len()
        );
    }
}

fn assert_finite(name: &str, track: &PitchTrack) {
    for (k, f) in track.frames.iter().enumerate() {
        let values = [f.f0_hz, f.confidence, f.onset, f.level];
        assert!(
            values.iter().all(|v| v.is_finite() && *v >= 0.0),
            "{name}, frame {k}: {f:?}"
        );
        assert!(f.confidence <= 1.0, "{name}, frame {k}: {f:?}");
    }
    for note in transcribe(track).notes {
        let values = [note.start_s, note.end_s, note.midi, note.confidence];
        assert!(
            values.iter().all(|v| v.is_finite()) && note.end_s > note.start_s,
            "{name}: {note:?}"
        );
    }
}

/// Extreme but finite sound: shorter than a frame, constant, an impulse, barely above nothing, far over full scale.
#[test]
fn extreme_sound_gives_finite_numbers() {
    let second = RATE_HZ as usize;
    let tone = Voice::harmonic(RATE_HZ).steady(1.0, 220.0);
    let mut impulse = vec![0.0; second];
    impulse[second / 2] = 1.0;
    let square = tone.iter().map(|x| x.signum()).collect();
    let sounds: [(&str, Vec<f32>); 8] = [
        ("nothing", Vec::new()),
        ("one sample", vec![0.5]),
        ("constant", vec![0.7; second]),
        ("impulse", impulse),
        ("square", square),
        ("denormal", tone.iter().map(|x| x * 1e-38).collect()),
        (
            "far over full scale",
            tone.iter().map(|x| x * 1e6).collect(),
        ),
        ("short tone", tone[..300].to_vec()),
    ];
    for (name, sound) in &sounds {
        assert_finite(name, &track(RATE_HZ, sound));
    }
}
