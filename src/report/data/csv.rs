//! Tables as comma-separated values (RFC 4180), the way spreadsheets open them right: where a comma is the decimal mark, the
//! columns are parted by semicolons; a byte order mark says that the text is UTF-8.

/// How a table is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Csv {
    /// Semicolons between the columns and commas in the numbers.
    pub semicolons: bool,
    /// Whether a byte order mark stands first.
    pub byte_order_mark: bool,
}

/// What stands in one place of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Words; never taken for a formula.
    Text(String),
    /// A number.
    Number(f64),
    /// Nothing is known.
    Empty,
}

impl Csv {
    /// The first line: the names of the columns.
    pub fn header(self, columns: &[&str]) -> String {
        let names: Vec<Cell> = columns.iter().map(|&name| name.into()).collect();
        let mark = if self.byte_order_mark { "\u{feff}" } else { "" };
        format!("{mark}{}", self.line(&names))
    }

    /// One line with its end.
    pub fn line(self, cells: &[Cell]) -> String {
        let separator = if self.semicolons { ";" } else { "," };
        let fields: Vec<String> = cells.iter().map(|cell| self.field(cell)).collect();
        format!("{}\r\n", fields.join(separator))
    }

    fn field(self, cell: &Cell) -> String {
        match cell {
            Cell::Empty => String::new(),
            Cell::Number(x) if self.semicolons => x.to_string().replace('.', ","),
            Cell::Number(x) => x.to_string(),
            Cell::Text(text) => field(text),
        }
    }
}

/// Words in quotes where they need them; what a spreadsheet would take for a formula is set off by a quote mark.
fn field(text: &str) -> String {
    let safe = if text.starts_with(['=', '+', '-', '@', '\t']) {
        format!("'{text}")
    } else {
        text.to_string()
    };
    if safe.contains(['"', ',', ';', '\n', '\r']) {
        format!("\"{}\"", safe.replace('"', "\"\""))
    } else {
        safe
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Cell::Text(text.to_string())
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        Cell::Text(text)
    }
}

impl From<f64> for Cell {
    fn from(number: f64) -> Self {
        Cell::Number(number)
    }
}

impl<T: Into<Cell>> From<Option<T>> for Cell {
    fn from(cell: Option<T>) -> Self {
        cell.map_or(Cell::Empty, Into::into)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4180, 2.5 to 2.7: quotes about a field with a separator, a quote or a line end; quotes within are doubled.
    #[test]
    fn fields_are_quoted_by_the_standard() {
        let cells = ["plain", "a, b", "say \"D\"", "two\nlines"].map(Cell::from);
        let line = Csv::default().line(&cells);
        assert_eq!(line, "plain,\"a, b\",\"say \"\"D\"\"\",\"two\nlines\"\r\n");
    }

    /// A spreadsheet reads what begins with =, +, - or @ as a formula (common practice, no source); a number may be below 0.
    #[test]
    fn words_are_no_formulas_and_numbers_stay_numbers() {
        let cells = [Cell::from("=1+1"), Cell::Number(-2.5), Cell::Empty];
        assert_eq!(Csv::default().line(&cells), "'=1+1,-2.5,\r\n");
        let local = Csv {
            semicolons: true,
            byte_order_mark: true,
        };
        assert_eq!(local.line(&cells), "'=1+1;-2,5;\r\n");
        assert_eq!(local.header(&["a", "b"]), "\u{feff}a;b\r\n");
    }
}
