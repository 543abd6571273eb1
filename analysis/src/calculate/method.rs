//! How a function of the methods becomes a calculation: its arguments say what is read, its
//! answer says what is written.

use super::answer::Answer;
use super::calculation::Shape;
use super::column::{Column, Output};
use super::input::Input;
use super::line::Line;
use super::table::Table;
use super::trouble::Trouble;

/// A function over inputs that gives an answer.
pub(super) trait Method<Args>: Send + Sync + 'static {
    /// Whether one row is enough for every argument.
    fn shape() -> Shape;

    /// The columns of all arguments.
    fn inputs() -> Vec<Column>;

    /// The columns of the answer.
    fn outputs() -> Vec<Output>;

    /// Reads the arguments and answers.
    ///
    /// # Errors
    /// A value that cannot be taken.
    fn run(&self, table: &Table) -> Result<Vec<Line>, Trouble>;
}

macro_rules! method {
    ($($argument:ident),+) => {
        impl<F, R, $($argument),+> Method<($($argument,)+)> for F
        where
            F: Fn($($argument),+) -> R + Send + Sync + 'static,
            R: Answer,
            $($argument: Input),+
        {
            fn shape() -> Shape {
                if [$($argument::SHAPE),+].contains(&Shape::Set) { Shape::Set } else { Shape::Row }
            }

            fn inputs() -> Vec<Column> {
                [$($argument::columns()),+].concat()
            }

            fn outputs() -> Vec<Output> {
                R::outputs()
            }

            fn run(&self, table: &Table) -> Result<Vec<Line>, Trouble> {
                Ok(self($($argument::read(table)?),+).lines())
            }
        }
    };
}

method!(A);
method!(A, B);
method!(A, B, C);
method!(A, B, C, D);
