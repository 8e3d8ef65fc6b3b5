//! Writing HTML and SVG, everything escaped: what is written as text or as an attribute's value can't become markup.

/// A piece of HTML that grows element by element.
#[derive(Debug, Clone, Default)]
pub struct Html {
    out: String,
}

impl Html {
    /// An empty piece.
    pub fn new() -> Self {
        Self::default()
    }

    /// Fragments that another piece was finished to, kept as they are: never text of others.
    pub fn of_fragments(html: &str) -> Self {
        Self {
            out: html.to_string(),
        }
    }

    /// An element with what `inside` writes into it.
    pub fn element(
        &mut self,
        tag: &str,
        attributes: &[(&str, &str)],
        inside: impl FnOnce(&mut Self),
    ) {
        self.start(tag, attributes);
        inside(self);
        self.out.push_str("</");
        self.out.push_str(tag);
        self.out.push('>');
    }

    /// An element that holds nothing and has no end, such as `br`.
    pub fn start(&mut self, tag: &str, attributes: &[(&str, &str)]) {
        self.out.push('<');
        self.out.push_str(tag);
        for (name, value) in attributes {
            self.out.push(' ');
            self.out.push_str(name);
            self.out.push_str("=\"");
            self.text(value);
            self.out.push('"');
        }
        self.out.push('>');
    }

    /// An element of one class with a text.
    pub fn line(&mut self, tag: &str, class: &str, text: &str) {
        self.element(tag, &[("class", class)], |h| h.text(text));
    }

    /// A plain element with a text.
    pub fn plain(&mut self, tag: &str, text: &str) {
        self.element(tag, &[], |h| h.text(text));
    }

    /// Text; characters that mean something in HTML, and control characters, are made harmless.
    pub fn text(&mut self, text: &str) {
        for c in text.chars() {
            match c {
                '&' => self.out.push_str("&amp;"),
                '<' => self.out.push_str("&lt;"),
                '>' => self.out.push_str("&gt;"),
                '"' => self.out.push_str("&quot;"),
                '\'' => self.out.push_str("&#39;"),
                c if c.is_control() && c != '\n' => self.out.push('\u{fffd}'),
                c => self.out.push(c),
            }
        }
    }

    /// What another writer wrote.
    pub fn append(&mut self, other: &Html) {
        self.out.push_str(&other.out);
    }

    /// Trusted text of our own that is not escaped: style sheets and scripts.
    pub(super) fn own(&mut self, text: &str) {
        self.out.push_str(text);
    }

    /// The HTML.
    pub fn finish(self) -> String {
        self.out
    }
}

/// A drawing's length: one decimal, none where it says nothing.
pub fn length(x: f64) -> String {
    let text = format!("{x:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

/// A table's head.
pub fn head_row(html: &mut Html, titles: &[&str]) {
    html.element("thead", &[], |h| {
        h.element("tr", &[], |h| {
            for title in titles {
                h.element("th", &[("scope", "col")], |h| h.text(title));
            }
        });
    });
}

/// A section with its heading.
pub fn section(html: &mut Html, class: &str, heading: &str, inside: impl FnOnce(&mut Html)) {
    html.element("section", &[("class", class)], |h| {
        h.plain("h3", heading);
        inside(h);
    });
}
