//! A page of the registry as a typeset document (PDF). What the screen says, the paper says: the
//! page's own markup is read as a tree and laid out anew, so that no sentence or number is written
//! twice.

mod drawing;
mod fonts;
mod tree;

use maud::Markup;
use serde::Serialize;
use typst::foundations::{Dict, IntoValue, Str};
use typst_as_lib::TypstEngine;
use typst_pdf::{PdfOptions, pdf};

use tree::Node;

/// How a page stands on paper.
const LAYOUT: &str = include_str!("page.typ");

/// What is to be typeset.
pub(crate) struct Paper<'p> {
    /// Its title, for the file's own description.
    pub(crate) title: &'p str,
    /// What stands at the foot of every page.
    pub(crate) foot: &'p str,
    /// The content, as on the screen.
    pub(crate) content: &'p Markup,
}

/// Why a page could not be typeset. Neither says anything about a case: the layout is ours.
#[derive(Debug, thiserror::Error)]
pub(crate) enum TypesetError {
    /// The tree could not be written.
    #[error(transparent)]
    NotWritten(#[from] serde_json::Error),
    /// The layout does not hold.
    #[error("the page could not be laid out: {0}")]
    NotLaidOut(String),
}

#[derive(Serialize)]
struct Given<'p> {
    title: &'p str,
    foot: &'p str,
    content: Vec<Node>,
}

impl Paper<'_> {
    /// The document: the same bytes for the same content.
    pub(crate) fn typeset(&self) -> Result<Vec<u8>, TypesetError> {
        let content = tree::read(&self.content.0);
        let given = serde_json::to_string(&Given { title: self.title, foot: self.foot, content })?;
        let inputs: Dict = [(Str::from("paper"), given.into_value())].into_iter().collect();
        // Nothing is kept between two documents: they are rare, and memory is dear.
        let engine = TypstEngine::builder()
            .main_file(LAYOUT)
            .fonts(fonts::both())
            .comemo_evict_max_age(Some(0))
            .build();
        let document = engine
            .compile_with_input(inputs)
            .output
            .map_err(|error| TypesetError::NotLaidOut(error.to_string()))?;
        pdf(&document, &PdfOptions::default())
            .map_err(|errors| TypesetError::NotLaidOut(format!("{errors:?}")))
    }
}
