//! One entry of the catalogue.

use serde::Serialize;
use serde::ser::{SerializeStruct, Serializer};

use super::column::{Column, METHOD, Output, REASON, SET_ID};
use super::line::Line;
use super::method::Method;
use super::table::Table;
use super::trouble::Trouble;

/// How many rows a calculation looks at together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Shape {
    /// Each row is calculated by itself.
    Row,
    /// The rows of one set are calculated together.
    Set,
}

type Run = dyn Fn(&Table) -> Result<Vec<Line>, Trouble> + Send + Sync;

/// A method that rows can be put through.
pub struct Calculation {
    name: &'static str,
    summary: &'static str,
    source: &'static str,
    shape: Shape,
    inputs: Vec<Column>,
    outputs: Vec<Output>,
    run: Box<Run>,
}

impl Calculation {
    /// An entry: its columns follow from the types that the method takes and gives.
    pub(super) fn new<Args, M: Method<Args>>(
        name: &'static str,
        source: &'static str,
        summary: &'static str,
        method: M,
    ) -> Self {
        let shape = M::shape();
        let mut inputs: Vec<Column> = if shape == Shape::Set { vec![SET_ID] } else { Vec::new() };
        for column in M::inputs() {
            if inputs.iter().all(|known| known.name != column.name) {
                inputs.push(column);
            }
        }
        let mut outputs = M::outputs();
        outputs.extend([METHOD, REASON]);
        Self { name, summary, source, shape, inputs, outputs, run: Box::new(move |table| method.run(table)) }
    }

    /// What a person calls it.
    pub fn name(&self) -> &'static str {
        self.name
    }

    /// One line about it.
    pub fn summary(&self) -> &'static str {
        self.summary
    }

    /// Keys of its sources in REFERENCES.md.
    pub fn source(&self) -> &'static str {
        self.source
    }

    /// Row by row or set by set.
    pub fn shape(&self) -> Shape {
        self.shape
    }

    /// The columns it reads.
    pub fn inputs(&self) -> &[Column] {
        &self.inputs
    }

    /// The columns it writes.
    pub fn outputs(&self) -> &[Output] {
        &self.outputs
    }

    /// The result of one row or one set, a cell for each output.
    pub(super) fn run(&self, table: &Table) -> Result<Vec<Line>, Trouble> {
        let mut lines = (self.run)(table)?;
        for line in &mut lines {
            line.name(self.name);
        }
        Ok(lines)
    }
}

impl Serialize for Calculation {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut entry = serializer.serialize_struct("Calculation", 6)?;
        entry.serialize_field("name", self.name)?;
        entry.serialize_field("summary", self.summary)?;
        entry.serialize_field("source", self.source)?;
        entry.serialize_field("shape", &self.shape)?;
        entry.serialize_field("inputs", &self.inputs)?;
        entry.serialize_field("outputs", &self.outputs)?;
        entry.end()
    }
}
