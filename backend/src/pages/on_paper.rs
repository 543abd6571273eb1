//! A page as a typeset document to take away.

use actix_web::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use actix_web::{HttpResponse, web};
use maud::Markup;

use crate::api::Problem;
use crate::typeset::Paper;

/// A page's content for paper.
pub(super) struct Document {
    /// Its title.
    pub(super) title: String,
    /// What stands at the foot of every page.
    pub(super) foot: String,
    /// The content, as on the screen.
    pub(super) content: Markup,
    /// What the file is called.
    pub(super) file: String,
}

impl Document {
    /// The bytes, laid out away from the threads that answer.
    pub(super) async fn typeset(self) -> Result<Vec<u8>, Problem> {
        let work = move || Paper { title: &self.title, foot: &self.foot, content: &self.content }.typeset();
        web::block(work).await.map_err(|_| Problem::busy())?.map_err(|error| {
            tracing::error!(%error, "a page could not be typeset");
            Problem::broken()
        })
    }

    /// The document as a file.
    pub(super) async fn answer(self) -> Result<HttpResponse, Problem> {
        let as_file = (CONTENT_DISPOSITION, format!("attachment; filename=\"{}\"", self.file));
        let bytes = self.typeset().await?;
        Ok(HttpResponse::Ok()
            .insert_header((CONTENT_TYPE, "application/pdf"))
            .insert_header(as_file)
            .body(bytes))
    }
}
