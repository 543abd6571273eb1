//! What pages load: one stylesheet, two font families and small scripts, all of our own. Their
//! address changes whenever one of them does, so that browsers may keep them for a year.

use std::sync::OnceLock;

use actix_web::http::header::{CACHE_CONTROL, CONTENT_ENCODING, CONTENT_TYPE};
use actix_web::{HttpResponse, get, web};
use maud::{Markup, html};
use quietbeam_analysis::study::recovery::TABLE;

use crate::api::Problem;
use crate::store::sha256_hex;

/// The stylesheet, in the order in which its parts lean on one another.
const STYLE: &str = concat!(
    include_str!("style/tokens.css"),
    include_str!("style/ground.css"),
    include_str!("style/head.css"),
    include_str!("style/work.css"),
    include_str!("style/form.css"),
    include_str!("style/record.css"),
    include_str!("style/figure.css"),
    include_str!("style/places.css"),
    include_str!("style/queries.css"),
    include_str!("style/screening.css"),
    include_str!("style/imports.css"),
    include_str!("style/report.css"),
    include_str!("style/keys.css"),
    include_str!("style/print.css"),
);

/// The name of the stylesheet among the assets.
pub(super) const STYLESHEET: &str = "quietbeam.css";

/// The name of the mark for the browser's tab.
pub(super) const ICON: &str = "icon.svg";

/// The name of the table of what a registry can and cannot recover.
pub(super) const RECOVERY: &str = "recovery.txt";

/// What a page loads a script with: a module of our own from its versioned address.
pub(super) fn script(name: &str) -> Markup {
    html! { script type="module" src=(address(name)) {} }
}

struct Asset {
    name: &'static str,
    media_type: &'static str,
    bytes: &'static [u8],
}

/// A module of the pages' scripts; each says itself what it is for.
macro_rules! module {
    ($name:literal) => {
        Asset {
            name: $name,
            media_type: "text/javascript; charset=utf-8",
            bytes: include_bytes!(concat!("script/", $name)),
        }
    };
}

const ASSETS: &[Asset] = &[
    Asset { name: STYLESHEET, media_type: "text/css; charset=utf-8", bytes: STYLE.as_bytes() },
    Asset { name: RECOVERY, media_type: "text/plain; charset=utf-8", bytes: TABLE.as_bytes() },
    Asset { name: ICON, media_type: "image/svg+xml", bytes: include_bytes!("../../assets/icon.svg") },
    Asset {
        name: "source-sans-3-latin-wght-normal.woff2",
        media_type: "font/woff2",
        bytes: include_bytes!("../../assets/source-sans-3-latin-wght-normal.woff2"),
    },
    Asset {
        name: "source-serif-4-latin-wght-normal.woff2",
        media_type: "font/woff2",
        bytes: include_bytes!("../../assets/source-serif-4-latin-wght-normal.woff2"),
    },
    Asset {
        name: "source-sans-3-LICENSE.txt",
        media_type: "text/plain; charset=utf-8",
        bytes: include_bytes!("../../assets/source-sans-3-LICENSE.txt"),
    },
    Asset {
        name: "source-serif-4-LICENSE.txt",
        media_type: "text/plain; charset=utf-8",
        bytes: include_bytes!("../../assets/source-serif-4-LICENSE.txt"),
    },
    module!("codes.js"),
    module!("desk.js"),
    module!("entry.js"),
    module!("keys.js"),
    module!("made.js"),
    module!("matching.js"),
    module!("notes.js"),
    module!("notice.js"),
    module!("picker.js"),
    module!("places.js"),
    module!("redraw.js"),
    module!("relevant.js"),
    module!("saving.js"),
    module!("sending.js"),
];

/// The version of all assets together: a part of the hash of their bytes.
fn version() -> &'static str {
    static VERSION: OnceLock<String> = OnceLock::new();
    VERSION.get_or_init(|| {
        let all: Vec<u8> = ASSETS.iter().flat_map(|asset| asset.bytes).copied().collect();
        sha256_hex(&all)[..16].to_owned()
    })
}

/// Where an asset is loaded from.
pub(super) fn address(name: &str) -> String {
    format!("/assets/{}/{name}", version())
}

#[get("/assets/{version}/{name}")]
pub(super) async fn load(path: web::Path<(String, String)>) -> Result<HttpResponse, Problem> {
    let (asked, name) = path.into_inner();
    let found = ASSETS.iter().find(|asset| asset.name == name && asked == version());
    let Asset { media_type, bytes, .. } = found.ok_or_else(Problem::absent)?;
    let mut answer = HttpResponse::Ok();
    answer.insert_header((CONTENT_TYPE, *media_type));
    answer.insert_header((CACHE_CONTROL, "public, max-age=31536000, immutable"));
    if media_type.starts_with("font/") {
        // Fonts are compressed already.
        answer.insert_header((CONTENT_ENCODING, "identity"));
    }
    Ok(answer.body(*bytes))
}
