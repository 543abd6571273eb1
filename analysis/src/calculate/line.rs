//! What a calculation says about one row or one set.

/// One value of a result.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// A number; never NaN.
    Number(f64),
    /// No bound on this side.
    Unbounded,
    /// A code or a label.
    Word(String),
    /// Nothing to say.
    Blank,
}

impl Cell {
    /// The shortest text that reads back to the same number, `Inf` without bound.
    pub fn text(&self) -> String {
        match self {
            Self::Number(value) => number_text(*value),
            Self::Unbounded => "Inf".to_owned(),
            Self::Word(word) => word.clone(),
            Self::Blank => String::new(),
        }
    }
}

fn number_text(value: f64) -> String {
    // Adding 0 takes the sign from a zero.
    let value = value + 0.0;
    let size = value.abs();
    if value == 0.0 || (1e-5..1e16).contains(&size) { value.to_string() } else { format!("{value:e}") }
}

/// One row of a result: a cell for each output, and why there are none if so.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// In the order of the calculation's outputs.
    pub cells: Vec<Cell>,
    /// Why something cannot be estimated.
    pub reason: Option<String>,
}

impl Line {
    /// Closes the row with the method and the reason, which every calculation tells.
    pub(super) fn name(&mut self, method: &str) {
        self.cells.push(Cell::Word(method.to_owned()));
        self.cells.push(self.reason.clone().map_or(Cell::Blank, Cell::Word));
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_number_is_written_so_that_it_reads_back() {
        let numbers = [0.1 + 0.2, 1.0, 1e-300, 12_345.678_9, f64::MAX, 5e-324, 1e16, 0.000_012, -0.3];
        for number in numbers {
            let text = Cell::Number(number).text();
            assert_eq!(text.parse::<f64>().unwrap(), number, "{text}");
            assert!(text.len() <= 24, "{text}");
        }
        assert_eq!(Cell::Number(-0.0).text(), "0");
        assert_eq!(Cell::Number(1.0).text(), "1");
        assert_eq!(Cell::Unbounded.text(), "Inf");
    }
}
