//! What was published and withdrawn, as a feed (Atom, RFC 4287).

use actix_web::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use actix_web::{HttpResponse, get, web};
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesText, Event};
use quietbeam_schema::instant::Instant;
use std::io;

use crate::access::Permit;
use crate::api::Problem;
use crate::config::Network;
use crate::store::{PublicBody, PublicSummary, Store};

#[get("/summaries/feed.xml")]
pub(super) async fn feed(
    store: web::Data<Store>,
    network: web::Data<Network>,
) -> Result<HttpResponse, Problem> {
    let summaries = store.read(Permit::public(), |session| session.list_published()).await?;
    let body = written(&summaries, &network).map_err(|error| {
        tracing::error!(%error, "the feed cannot be written");
        Problem::broken()
    })?;
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, "application/atom+xml; charset=utf-8"))
        .insert_header((CACHE_CONTROL, "public, max-age=300"))
        .body(body))
}

type Xml = Writer<Vec<u8>>;

fn written(summaries: &[PublicSummary], network: &Network) -> io::Result<Vec<u8>> {
    let mut xml = Writer::new(Vec::new());
    xml.write_event(Event::Decl(BytesDecl::new("1.0", Some("utf-8"), None)))?;
    let address = format!("{}/summaries", network.address);
    let latest = summaries.iter().map(changed).max().unwrap_or(Instant::from_unix_milliseconds(0));
    xml.create_element("feed").with_attribute(("xmlns", "http://www.w3.org/2005/Atom")).write_inner_content(
        |xml| {
            text(xml, "id", &address)?;
            text(xml, "title", &format!("Safety summaries of {}", network.name))?;
            text(xml, "updated", &latest.to_string())?;
            author(xml, network)?;
            let own = [("rel", "self"), ("href", &format!("{address}/feed.xml"))];
            xml.create_element("link").with_attributes(own).write_empty()?;
            summaries.iter().try_for_each(|summary| entry(xml, summary, &address))
        },
    )?;
    Ok(xml.into_inner())
}

/// When something about it changed last.
fn changed(summary: &PublicSummary) -> Instant {
    match &summary.body {
        PublicBody::InForce(_) => summary.published_at,
        PublicBody::Withdrawn { at, .. } => *at,
    }
}

fn entry(xml: &mut Xml, summary: &PublicSummary, address: &str) -> io::Result<()> {
    let here = format!("{address}/{}", summary.number.0);
    let (title, what) = match &summary.body {
        PublicBody::InForce(_) => ("published", "Published.".to_owned()),
        PublicBody::Withdrawn { reason, corrected_by, .. } => {
            let by =
                corrected_by.map_or_else(String::new, |by| format!(" Corrected by safety summary {}.", by.0));
            ("withdrawn", format!("Withdrawn: {reason}{by}"))
        }
    };
    xml.create_element("entry").write_inner_content(|xml| {
        text(xml, "id", &here)?;
        text(xml, "title", &format!("Safety summary {} was {title}", summary.number.0))?;
        text(xml, "published", &summary.published_at.to_string())?;
        text(xml, "updated", &changed(summary).to_string())?;
        text(xml, "summary", &what)?;
        xml.create_element("link").with_attribute(("href", here.as_str())).write_empty()?;
        Ok(())
    })?;
    Ok(())
}

fn author(xml: &mut Xml, network: &Network) -> io::Result<()> {
    xml.create_element("author").write_inner_content(|xml| text(xml, "name", &network.name))?;
    Ok(())
}

fn text(xml: &mut Xml, name: &str, text: &str) -> io::Result<()> {
    xml.create_element(name).write_text_content(BytesText::new(text))?;
    Ok(())
}
