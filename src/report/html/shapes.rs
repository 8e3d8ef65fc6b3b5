//! The shapes that drawings are made of; their looks are in the style sheet, by class.

use super::write::{Html, length};

/// A straight line from x1, y1 to x2, y2.
pub fn stroke(html: &mut Html, class: &str, [x1, y1, x2, y2]: [f64; 4]) {
    let attributes = [
        ("class", class),
        ("x1", &length(x1)),
        ("y1", &length(y1)),
        ("x2", &length(x2)),
        ("y2", &length(y2)),
    ];
    html.element("line", &attributes, |_| {});
}

/// A rectangle of x, y, width and height.
pub fn rectangle(html: &mut Html, class: &str, [x, y, width, height]: [f64; 4]) {
    let attributes = [
        ("class", class),
        ("x", &length(x)),
        ("y", &length(y)),
        ("width", &length(width)),
        ("height", &length(height)),
        ("rx", "1.5"),
    ];
    html.element("rect", &attributes, |_| {});
}

/// A text at its base line.
pub fn text(html: &mut Html, class: &str, x: f64, y: f64, text: &str) {
    let attributes = [("class", class), ("x", &length(x)), ("y", &length(y))];
    html.element("text", &attributes, |h| h.text(text));
}

/// A filled or open circle.
pub fn circle(html: &mut Html, class: &str, [x, y]: [f64; 2], radius: f64) {
    let attributes = [
        ("class", class),
        ("cx", &length(x)),
        ("cy", &length(y)),
        ("r", &length(radius)),
    ];
    html.element("circle", &attributes, |_| {});
}
