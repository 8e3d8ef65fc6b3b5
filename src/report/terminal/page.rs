//! Laying text out for a terminal: wrapped paragraphs, tables that fold when the terminal is narrow, a few styles.
//!
//! Styles are ECMA-48 escape sequences; the command line prints through a stream that drops them where they are not wanted.

/// Narrower than this, in characters, nothing can be laid out.
const NARROWEST: usize = 30;
/// Lines longer than this, in characters, are tiring to read.
const WIDEST: usize = 100;
/// Between the columns of a table, in characters.
const COLUMN_GAP: usize = 2;
/// A table keeps its last column beside the others if it gets at least this many characters.
const LAST_COLUMN_LEAST: usize = 24;

const BOLD: &str = "\u{1b}[1m";
const DIM: &str = "\u{1b}[2m";
const RESET: &str = "\u{1b}[0m";

/// Text that grows line by line within a width.
#[derive(Debug, Clone)]
pub struct Page {
    width: usize,
    styled: bool,
    out: String,
}

/// How a line is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Style {
    /// As it is.
    Plain,
    /// The answer, a heading.
    Strong,
    /// What may be passed over.
    Faint,
}

impl Page {
    /// An empty page of that many characters across, without styles.
    pub fn new(width: usize) -> Self {
        Self {
            width: width.clamp(NARROWEST, WIDEST),
            styled: false,
            out: String::new(),
        }
    }

    /// The same page with styles.
    pub fn styled(self) -> Self {
        Self {
            styled: true,
            ..self
        }
    }

    /// A strong line with an empty line before it, unless it is the first.
    pub fn heading(&mut self, text: &str) {
        self.gap();
        self.set(text, 0, 0, Style::Strong);
    }

    /// A paragraph.
    pub fn paragraph(&mut self, text: &str) {
        self.set(text, 0, 0, Style::Plain);
    }

    /// A paragraph that begins at one indent and goes on at another.
    pub fn set(&mut self, text: &str, first: usize, rest: usize, style: Style) {
        for line in wrapped(text, self.width, first, rest) {
            let body = line.trim_start();
            let indent = &line[..line.len() - body.len()];
            let body = self.in_style(body, style);
            self.out.push_str(&format!("{indent}{body}\n"));
        }
    }

    /// An empty line, unless there is one already or nothing before it.
    pub fn gap(&mut self) {
        if !self.out.is_empty() && !self.out.ends_with("\n\n") {
            self.out.push('\n');
        }
    }

    /// Rows in columns. The last column wraps; where it would get too narrow it stands below the others.
    pub fn table(&mut self, rows: &[Vec<String>], indent: usize) {
        let widths = column_widths(rows);
        let before_last: usize = widths
            .iter()
            .rev()
            .skip(1)
            .map(|width| width + COLUMN_GAP)
            .sum();
        let last = widths.last().copied().unwrap_or(0);
        let left = self.width.saturating_sub(indent + before_last);
        let fits = last <= left || left >= LAST_COLUMN_LEAST;
        for row in rows {
            if fits {
                self.row_in_line(row, &widths, indent, indent + before_last)
            } else {
                self.row_folded(row, &widths, indent)
            }
        }
    }

    /// The text.
    pub fn finish(self) -> String {
        self.out
    }

    fn row_in_line(&mut self, row: &[String], widths: &[usize], indent: usize, last_at: usize) {
        let Some((last, others)) = row.split_last() else {
            return;
        };
        let mut line = " ".repeat(indent);
        for (cell, width) in others.iter().zip(widths) {
            line.push_str(&padded(cell, width + COLUMN_GAP));
        }
        let mut lines = wrapped(last, self.width, last_at, last_at).into_iter();
        line.push_str(lines.next().unwrap_or_default().trim_start());
        self.out.push_str(line.trim_end());
        self.out.push('\n');
        for line in lines {
            self.out.push_str(&format!("{line}\n"));
        }
    }

    /// As many cells a line as there is room for, further lines indented.
    fn row_folded(&mut self, row: &[String], widths: &[usize], indent: usize) {
        let mut line = " ".repeat(indent);
        for (k, (cell, width)) in row.iter().zip(widths).enumerate() {
            let starts_line = line.trim().is_empty();
            if !starts_line && line.chars().count() + cell.chars().count() > self.width {
                self.out.push_str(&format!("{}\n", line.trim_end()));
                line = " ".repeat(indent + 2);
            }
            let is_last = k + 1 == row.len();
            line.push_str(&if is_last {
                cell.clone()
            } else {
                padded(cell, width + COLUMN_GAP)
            });
        }
        if line.chars().count() <= self.width {
            self.out.push_str(&format!("{}\n", line.trim_end()));
            return;
        }
        let start = line.len() - line.trim_start().len();
        self.set(line.trim(), start, indent + 2, Style::Plain);
    }

    fn in_style(&self, text: &str, style: Style) -> String {
        match style {
            Style::Strong if self.styled => format!("{BOLD}{text}{RESET}"),
            Style::Faint if self.styled => format!("{DIM}{text}{RESET}"),
            _ => text.to_string(),
        }
    }
}

/// Lines of at most `width` characters; a word that is longer stands alone.
fn wrapped(text: &str, width: usize, first: usize, rest: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = " ".repeat(first);
    let mut is_empty = true;
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        if !is_empty && line.chars().count() + 1 + word.chars().count() > width {
            lines.push(std::mem::replace(&mut line, " ".repeat(rest)));
            is_empty = true;
        }
        if !is_empty {
            line.push(' ');
        }
        line.push_str(word);
        is_empty = false;
    }
    lines.push(line);
    lines
}

fn column_widths(rows: &[Vec<String>]) -> Vec<usize> {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |k: usize| {
        rows.iter()
            .filter_map(|row| row.get(k))
            .map(|cell| cell.chars().count())
            .max()
    };
    (0..columns).map(|k| width(k).unwrap_or(0)).collect()
}

fn padded(text: &str, width: usize) -> String {
    let spaces = width.saturating_sub(text.chars().count());
    format!("{text}{}", " ".repeat(spaces))
}
