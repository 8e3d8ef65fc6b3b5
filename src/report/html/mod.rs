//! The answers as HTML and SVG, the same for the page in the browser and for reports on disk.
//!
//! **Takes** the rows that programs read ([`super::identify`], [`super::review`], [`super::tuning`]) and versions with
//! the label book. **Gives** one fragment each for a [`recording`], a [`class`], a student's [`sheet`], an
//! [`instrument`], [`relations`] and [`labels`]; [`document`] makes a whole file of one. All text is escaped, nothing is
//! fetched, and a fragment reads well without scripts.

mod beside;
mod calls;
pub mod class;
mod curves;
pub mod document;
pub mod heard;
pub mod instrument;
pub mod labels;
mod line;
mod neck;
mod octave;
mod passages;
pub mod recording;
pub mod relations;
mod rule;
mod shapes;
pub mod sheet;
mod why;
pub mod write;

pub use write::Html;

use write::head_row;

/// A file's name, set apart from the text around it whichever way its letters run.
fn file_name(html: &mut Html, name: &str) {
    html.element("bdi", &[("class", "file")], |h| h.text(name));
}

/// A moment in a recording: a link where the sound is a file beside the report, else a button that the script wakes.
fn moment(html: &mut Html, seconds: f64, label: &str, sound: Option<&str>) {
    let at = format!("{seconds:.2}");
    match sound {
        Some(link) => {
            let target = format!("{link}#t={at}");
            let attributes = [
                ("class", "moment"),
                ("href", target.as_str()),
                ("data-at", &at),
            ];
            html.element("a", &attributes, |h| h.text(label));
        }
        None => html.element("span", &[("class", "moment"), ("data-at", &at)], |h| {
            h.text(label)
        }),
    }
}

/// Sentences, each a paragraph.
fn paragraphs(html: &mut Html, class: &str, sentences: &[String]) {
    for sentence in sentences {
        html.line("p", class, sentence);
    }
}

/// A table that scrolls sideways by itself on a narrow screen, so that the page doesn't.
fn table(html: &mut Html, label: &str, titles: &[&str], rows: impl FnOnce(&mut Html)) {
    let attributes = [
        ("class", "wide"),
        ("role", "region"),
        ("tabindex", "0"),
        ("aria-label", label),
    ];
    html.element("div", &attributes, |h| {
        h.element("table", &[], |h| {
            head_row(h, titles);
            h.element("tbody", &[], rows);
        });
    });
}

/// A row of plain cells.
fn row(html: &mut Html, cells: &[&str]) {
    html.element("tr", &[], |h| {
        for cell in cells {
            h.plain("td", cell);
        }
    });
}
