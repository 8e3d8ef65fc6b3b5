//! The played line: pitch over time on the levels of the scale, notes outside it named, passages marked.

use super::curves::Curves;
use super::shapes::{circle, rectangle, stroke, text};
use super::write::{Html, length};
use crate::report::identify::{ContentRow, Identify, NoteRow, OutsideRow};
use crate::report::words::{clock, phrase, said, whole_clock, word};
use crate::segments::Kind;

/// The drawing's width for a second of sound, and its bounds: a long lesson is drawn narrower.
const PER_SECOND: f64 = 46.0;
const NARROWEST: f64 = 620.0;
const WIDEST: f64 = 5200.0;
/// Where the levels begin and end, from the left and right edges.
const LEFT: f64 = 66.0;
/// Names of levels that lie nearer than this stand beside each other, this far apart.
const NAME_HIGH: f64 = 12.0;
const NAME_WIDE: f64 = 19.0;
const RIGHT: f64 = 46.0;
const TOP: f64 = 24.0;
const BOTTOM: f64 = 30.0;
/// Height of a semitone, where the line spans few and where it spans many.
const SEMITONE_HIGH: f64 = 13.0;
const SEMITONE_LOW: f64 = 7.0;
/// The line is drawn this high if there is room.
const WANTED_HEIGHT: f64 = 230.0;
/// Levels above and below the notes, in semitones.
const BEYOND: f64 = 1.5;
/// The curve has a point at least so far from the last one, in units of the drawing.
const POINT_EVERY: f64 = 1.0;
/// Half the width of the mark of a note beside the scale.
const MARK: f64 = 5.5;
/// Times are written about so far apart.
const TIME_EVERY: f64 = 90.0;

/// How seconds and pitches become places in the drawing.
struct Scale {
    start_s: f64,
    end_s: f64,
    per_second: f64,
    lowest: f64,
    highest: f64,
    semitone: f64,
}

impl Scale {
    fn new(answer: &Identify) -> Option<Self> {
        let keys = answer.notes.iter().map(NoteRow::key);
        let lowest = keys.clone().fold(f64::INFINITY, f64::min) - BEYOND;
        let highest = keys.fold(f64::NEG_INFINITY, f64::max) + BEYOND;
        let first = answer.notes.first()?.start_s;
        let ends = answer.notes.iter().map(|n| n.end_s).fold(0.0, f64::max);
        // Of a passage only its own span is drawn, and with a span of a long file only that.
        let (start_s, end_s) = match &answer.place {
            Some(place) => (place.start_s, place.end_s.max(ends)),
            None if first > answer.duration_s => (first, first + answer.duration_s),
            None => (0.0, answer.duration_s),
        };
        let end_s = end_s.max(ends).max(start_s + 1.0);
        let width = (PER_SECOND * (end_s - start_s)).clamp(NARROWEST, WIDEST);
        Some(Self {
            start_s,
            end_s,
            per_second: width / (end_s - start_s),
            lowest,
            highest,
            semitone: (WANTED_HEIGHT / (highest - lowest)).clamp(SEMITONE_LOW, SEMITONE_HIGH),
        })
    }

    fn holds(&self, seconds: f64) -> bool {
        (self.start_s..=self.end_s).contains(&seconds)
    }

    fn x(&self, seconds: f64) -> f64 {
        LEFT + self.per_second * (seconds - self.start_s)
    }

    fn y(&self, midi: f64) -> f64 {
        TOP + self.semitone * (self.highest - midi)
    }

    fn right(&self) -> f64 {
        self.x(self.end_s)
    }

    fn floor(&self) -> f64 {
        self.y(self.lowest)
    }
}

/// Draws the line; nothing where no note was heard.
pub fn line(html: &mut Html, answer: &Identify, curves: &Curves) {
    let Some(scale) = Scale::new(answer) else {
        return;
    };
    let (width, height) = (scale.right() + RIGHT, scale.floor() + BOTTOM);
    let view = format!("0 0 {} {}", length(width), length(height));
    let label = told(answer);
    let attributes = [
        ("class", "line"),
        ("viewBox", view.as_str()),
        ("width", &length(width)),
        ("height", &length(height)),
        ("role", "img"),
        ("aria-label", &label),
        ("data-left", &length(LEFT)),
        ("data-second", &scale.per_second.to_string()),
        ("data-start", &scale.start_s.to_string()),
        ("data-top", &length(TOP)),
        ("data-floor", &length(scale.floor())),
    ];
    html.element("svg", &attributes, |h| {
        passages(h, &answer.contents, &scale);
        levels(h, answer, &scale);
        times(h, &scale);
        for note in &answer.notes {
            bar(h, note, &scale);
        }
        for curve in &curves.curves {
            polyline(h, curve, &scale);
        }
        let mut taken = f64::NEG_INFINITY;
        for note in &answer.outside {
            taken = beside(h, note, answer, &scale, taken);
        }
    });
}

/// The drawing in a sentence.
fn told(answer: &Identify) -> String {
    let outside: Vec<String> = answer
        .slips()
        .iter()
        .map(|o| format!("{} {}", o.name, clock(o.start_s)))
        .collect();
    let touched: Vec<String> = answer.touched.iter().map(|t| t.name.clone()).collect();
    let count = answer.notes.len().to_string();
    let length = whole_clock(answer.duration_s);
    let notes = answer.note_names.join(" ");
    let values = [
        ("count", count.as_str()),
        ("length", &length),
        ("notes", &notes),
    ];
    let rest = [
        ("line.label.touched", touched),
        ("line.label.outside", outside),
    ];
    let rest = rest
        .into_iter()
        .filter(|(_, notes)| !notes.is_empty())
        .map(|(key, notes)| said!(key, notes = notes.join(", ")));
    let sentences: Vec<String> = std::iter::once(phrase("line.label", &values))
        .chain(rest)
        .collect();
    sentences.join(" ")
}

fn levels(html: &mut Html, answer: &Identify, scale: &Scale) {
    let home = answer.centre.as_ref().map(|c| c.pitch_class);
    let (mut before, mut aside) = (f64::INFINITY, false);
    for key in scale.lowest.ceil() as i64..=scale.highest.floor() as i64 {
        let class = key.rem_euclid(12) as usize;
        if !answer.pitch_classes.contains(&class) {
            continue;
        }
        let y = scale.y(key as f64);
        aside = !aside && before - y < NAME_HIGH;
        before = y;
        level(html, answer, scale, class, (y, aside), home == Some(class));
    }
}

/// One level with its name, which stands aside where another is close below.
fn level(
    html: &mut Html,
    answer: &Identify,
    scale: &Scale,
    class: usize,
    (y, aside): (f64, bool),
    is_home: bool,
) {
    let (line, named) = match is_home {
        true => ("level level-home", "level-name level-name-home"),
        false => ("level", "level-name"),
    };
    stroke(html, line, [LEFT, y, scale.right(), y]);
    let (name, degree) = name_of(answer, class);
    let x = LEFT - 26.0 - if aside { NAME_WIDE } else { 0.0 };
    text(html, named, x, y + 4.0, &name);
    text(html, "level-degree", LEFT - 6.0, y + 4.0, &degree);
    if is_home {
        let right = scale.right() + 5.0;
        text(html, "level-side", right, y + 4.0, word("line.home"));
    }
}

/// A class's name and degree, from the degrees that were measured.
fn name_of(answer: &Identify, class: usize) -> (String, String) {
    let note = answer.notes.iter().find(|n| n.pitch_class == class);
    let degree = note.and_then(|n| n.degree.clone()).unwrap_or_default();
    let name = note.map_or_else(String::new, |n| without_octave(&n.name));
    (name, degree)
}

/// "Bb" of "Bb3".
pub fn without_octave(name: &str) -> String {
    name.trim_end_matches(|c: char| c.is_ascii_digit() || c == '-')
        .to_string()
}

fn times(html: &mut Html, scale: &Scale) {
    let wanted = TIME_EVERY / scale.per_second;
    let steps = [1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0];
    let every = steps.into_iter().find(|&s| s >= wanted).unwrap_or(1200.0);
    let mut seconds = (scale.start_s / every).ceil() * every;
    while seconds <= scale.end_s {
        let x = scale.x(seconds);
        stroke(html, "time", [x, scale.floor(), x, scale.floor() + 5.0]);
        text(
            html,
            "time-name",
            x,
            scale.floor() + 19.0,
            &whole_clock(seconds),
        );
        seconds += every;
    }
}

fn passages(html: &mut Html, contents: &[ContentRow], scale: &Scale) {
    for segment in contents {
        let what = match segment.kind {
            Kind::Playing => continue,
            Kind::Speech => word("passage.speech"),
            Kind::Silence => word("passage.silence"),
            Kind::Other => word("passage.other"),
        };
        let (x, end) = (scale.x(segment.span.start_s), scale.x(segment.span.end_s));
        rectangle(html, "passage", [x, TOP, end - x, scale.floor() - TOP]);
        text(html, "passage-name", x + 4.0, TOP + 12.0, what);
    }
}

fn bar(html: &mut Html, note: &NoteRow, scale: &Scale) {
    let (x, end) = (scale.x(note.start_s), scale.x(note.end_s));
    let high = 0.62 * scale.semitone;
    let kind = if note.degree.is_some() {
        "bar"
    } else {
        "bar bar-outside"
    };
    let y = scale.y(note.key()) - high / 2.0;
    rectangle(html, kind, [x, y, (end - x - 0.6).max(1.0), high]);
}

fn polyline(html: &mut Html, curve: &[(f64, f64)], scale: &Scale) {
    let mut points = String::new();
    let mut last = f64::NEG_INFINITY;
    for &(seconds, midi) in curve.iter().filter(|p| scale.holds(p.0)) {
        let x = scale.x(seconds);
        if x - last < POINT_EVERY {
            continue;
        }
        last = x;
        let y = scale.y(midi.clamp(scale.lowest, scale.highest));
        points.push_str(&format!("{},{} ", length(x), length(y)));
    }
    if points.is_empty() {
        return;
    }
    html.element(
        "polyline",
        &[("class", "curve"), ("points", points.trim_end())],
        |_| {},
    );
}

/// A note beside the scale, a slip as a diamond and a touched one as a ring, with a word above it where there is room;
/// gives how far words reach.
fn beside(html: &mut Html, note: &OutsideRow, answer: &Identify, scale: &Scale, taken: f64) -> f64 {
    let same = |n: &&NoteRow| (n.start_s - note.start_s).abs() < 1e-6;
    let midi = answer
        .notes
        .iter()
        .find(same)
        .map_or(scale.highest, |n| n.key());
    let (x, y) = (scale.x(0.5 * (note.start_s + note.end_s)), scale.y(midi));
    let (key, kind) = match answer.is_touched(note) {
        true => ("line.touched", "touched-name"),
        false => ("line.outside", "outside-name"),
    };
    if answer.is_touched(note) {
        circle(html, "touched", [x, y], 0.8 * MARK);
    } else {
        diamond(html, x, y);
    }
    let label = said!(key, note = note.name);
    let reach = 3.3 * label.chars().count() as f64;
    if x - reach < taken {
        return taken;
    }
    text(html, kind, x, y - 11.0, &label);
    x + reach
}

fn diamond(html: &mut Html, x: f64, y: f64) {
    let points = [(x, y - MARK), (x + MARK, y), (x, y + MARK), (x - MARK, y)]
        .map(|(x, y)| format!("{},{}", length(x), length(y)))
        .join(" ");
    let attributes = [("class", "outside"), ("points", points.as_str())];
    html.element("polygon", &attributes, |_| {});
}
