//! The neck as a drawing (W3C, Scalable Vector Graphics 1.1, 2011): degrees are text, the centre is a filled square among
//! open circles, so that no colour is needed. It is black on white; a page's style sheet may paint it anew by its classes. Frets stand as on an instrument, each 2^(-1/12) nearer to the bridge.

use std::fmt::Write;

use super::text::{INLAYS, head};
use super::{Mark, Neck};
use crate::render::scale::Scale;

/// Between strings, in the drawing's units.
const STRING_GAP: f64 = 34.0;
/// Width of the narrowest fret that is shown.
const NARROWEST_FRET: f64 = 38.0;
/// Radius of a mark; the centre's square has this half side.
const RADIUS: f64 = 13.0;
/// Room for string names and open strings before the nut.
const MARGIN: f64 = 84.0;
/// Room above for the title and below for fret numbers.
const TOP: f64 = 54.0;
const BOTTOM: f64 = 44.0;
/// Room behind the last fret.
const RIGHT: f64 = 24.0;
/// The title's size, and how wide its letters are on average, so that a short neck is as wide as its title.
const TITLE_SIZE: f64 = 15.0;
const LETTER_WIDTH: f64 = 8.2;
/// Room left of the title.
const TITLE_AT: f64 = 16.0;
/// Labels of more letters than this don't fit a circle.
const ROUND_LETTERS: usize = 3;

/// Which part of a neck is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Frame {
    /// The first fret; with 0 or 1 the nut and open strings are drawn.
    pub first: usize,
    /// The last fret.
    pub last: usize,
}

/// The drawing of a part of the neck.
pub fn write(scale: &Scale, neck: &Neck, frame: Frame) -> String {
    let sheet = Sheet::new(scale, neck, frame);
    let mut out = sheet.opening();
    sheet.frets(&mut out);
    sheet.strings(&mut out);
    for mark in &sheet.marks {
        sheet.mark(&mut out, mark);
    }
    out.push_str("</g>\n</svg>\n");
    out
}

struct Sheet<'a> {
    neck: &'a Neck,
    frame: Frame,
    marks: Vec<Mark>,
    /// Whether something lies between frets, so that all marks stand exactly where the string is stopped.
    is_exact: bool,
    /// Length of the whole string, so that the narrowest fret shown has its width.
    length: f64,
    title: String,
}

impl<'a> Sheet<'a> {
    fn new(scale: &Scale, neck: &'a Neck, frame: Frame) -> Self {
        let shown = |m: &Mark| {
            let fret = m.place.ceil() as usize;
            (frame.first.max(1)..=frame.last).contains(&fret)
                || (frame.first <= 1 && m.place <= 0.0)
        };
        let marks: Vec<Mark> = neck.marks(scale).into_iter().filter(shown).collect();
        let last = frame.last as f64;
        Self {
            neck,
            frame,
            is_exact: marks.iter().any(|m| !m.is_on_fret()),
            marks,
            length: NARROWEST_FRET / (stopped(last) - stopped(last - 1.0)),
            title: head(scale),
        }
    }

    fn width(&self) -> f64 {
        let title = 2.0 * TITLE_AT + LETTER_WIDTH * self.title.chars().count() as f64;
        (MARGIN + self.along(self.frame.last as f64) + RIGHT).max(title)
    }

    fn height(&self) -> f64 {
        TOP + STRING_GAP * (self.neck.strings.len() as f64 - 1.0) + BOTTOM + RADIUS
    }

    /// From the drawing's nut, or the fret before its first, to a place.
    fn along(&self, place: f64) -> f64 {
        let before = self.frame.first.saturating_sub(1) as f64;
        self.length * (stopped(place) - stopped(before))
    }

    fn x(&self, along: f64) -> f64 {
        let x = MARGIN + along;
        if self.neck.is_left_handed {
            self.width() - x
        } else {
            x
        }
    }

    fn y(&self, string: usize) -> f64 {
        TOP + STRING_GAP * (self.neck.strings.len() - 1 - string) as f64
    }

    fn opening(&self) -> String {
        let (width, height, title) = (self.width(), self.height(), escaped(&self.title));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width:.0} {height:.0}\" width=\"{width:.0}\" height=\"{height:.0}\" role=\"img\" class=\"neck\">\n\
             <title>{title}</title>\n\
             <rect class=\"neck-paper\" width=\"100%\" height=\"100%\" fill=\"white\"/>\n\
             <g font-family=\"sans-serif\" font-size=\"13\" text-anchor=\"middle\" stroke=\"none\" fill=\"black\">\n\
             <text x=\"{TITLE_AT}\" y=\"22\" text-anchor=\"start\" font-size=\"{TITLE_SIZE}\">{title}</text>\n"
        )
    }

    fn frets(&self, out: &mut String) {
        let (top, bottom) = (self.y(self.neck.strings.len() - 1), self.y(0));
        let before = self.frame.first.saturating_sub(1);
        for fret in before..=self.frame.last {
            let x = self.x(self.along(fret as f64));
            let weight = if fret == 0 { 6.0 } else { 1.5 };
            line(out, (x, top), (x, bottom), weight);
        }
        for fret in before + 1..=self.frame.last {
            let middle = self.x(self.along(fret as f64 - 0.5));
            let at = if self.is_exact {
                self.x(self.along(fret as f64))
            } else {
                middle
            };
            let y = bottom + RADIUS + 20.0;
            let weight = if fret == 12 || INLAYS.contains(&fret) {
                "bold"
            } else {
                "normal"
            };
            let _ = writeln!(
                out,
                "<text x=\"{at:.1}\" y=\"{y:.1}\" font-size=\"12\" font-weight=\"{weight}\">{fret}</text>"
            );
        }
    }

    fn strings(&self, out: &mut String) {
        let end = self.x(self.along(self.frame.last as f64));
        let start = self.x(0.0);
        for (k, string) in self.neck.strings.iter().enumerate() {
            let y = self.y(k);
            line(out, (start, y), (end, y), 1.0);
            let x = self.x(24.0 - MARGIN);
            let _ = writeln!(
                out,
                "<text x=\"{x:.1}\" y=\"{:.1}\">{string}</text>",
                y + 4.5
            );
        }
    }

    fn mark(&self, out: &mut String, mark: &Mark) {
        let x = if mark.place <= 0.0 {
            self.x(-RADIUS - 9.0)
        } else if self.is_exact {
            self.x(self.along(mark.place))
        } else {
            self.x(self.along(mark.place - 0.5))
        };
        let y = self.y(mark.string);
        let degree = mark.tone.degree_text();
        let letters = degree.chars().count();
        let (shape, ink, weight) = if mark.is_centre {
            (square(x, y), "white", "bold")
        } else if letters > ROUND_LETTERS {
            (oblong(x, y, letters), "black", "normal")
        } else {
            (circle(x, y), "black", "normal")
        };
        let class = match mark.is_centre {
            true => " class=\"neck-on-centre\"",
            false => "",
        };
        let size = if letters > ROUND_LETTERS { 11 } else { 13 };
        let _ = writeln!(
            out,
            "{shape}<text{class} x=\"{x:.1}\" y=\"{:.1}\" font-size=\"{size}\" font-weight=\"{weight}\" fill=\"{ink}\">{degree}</text>",
            y + 4.5
        );
    }
}

/// A text that can stand in XML.
fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;")
}

/// The part of a string's length that lies before a place in semitones.
fn stopped(place: f64) -> f64 {
    1.0 - (-place / 12.0).exp2()
}

fn line(out: &mut String, from: (f64, f64), to: (f64, f64), weight: f64) {
    let _ = writeln!(
        out,
        "<line class=\"neck-line\" x1=\"{:.1}\" y1=\"{:.1}\" x2=\"{:.1}\" y2=\"{:.1}\" stroke=\"black\" stroke-width=\"{weight}\"/>",
        from.0, from.1, to.0, to.1
    );
}

fn square(x: f64, y: f64) -> String {
    let side = 2.0 * RADIUS;
    format!(
        "<rect class=\"neck-centre\" x=\"{:.1}\" y=\"{:.1}\" width=\"{side}\" height=\"{side}\" fill=\"black\"/>",
        x - RADIUS,
        y - RADIUS
    )
}

fn circle(x: f64, y: f64) -> String {
    format!(
        "<circle class=\"neck-degree\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{RADIUS}\" fill=\"white\" stroke=\"black\" stroke-width=\"1.5\"/>"
    )
}

fn oblong(x: f64, y: f64, letters: usize) -> String {
    let half = 3.5 * letters as f64 + 3.0;
    format!(
        "<rect class=\"neck-degree\" x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\" rx=\"{RADIUS}\" fill=\"white\" stroke=\"black\" stroke-width=\"1.5\"/>",
        x - half,
        y - RADIUS + 2.0,
        2.0 * half,
        2.0 * RADIUS - 4.0
    )
}
