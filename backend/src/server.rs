//! The server: the API, the pages and the health routes under one outermost layer.

use actix_web::dev::{Server, ServiceFactory, ServiceRequest, ServiceResponse};
use actix_web::http::StatusCode;
use actix_web::middleware::{Compress, from_fn};
use actix_web::web::{Data, PayloadConfig};
use actix_web::{App, Error, HttpResponse, HttpServer, get};
use std::io;
use std::net::TcpListener;
use std::sync::Arc;
use utoipa::OpenApi as _;
use utoipa_actix_web::{AppExt, scope};

use crate::access::session::SignInDesk;
use crate::api::cookie::CookieRule;
use crate::api::document::Head;
use crate::api::{Document, Known, Readiness, around, live, not_here, ready, resources};
use crate::clock::{Clock, Randomness};
use crate::config::Network;
use crate::pages;
use crate::registry::reports::Reports;
use crate::store::Store;
use crate::worker::Worker;

/// The largest JSON body. A case with twenty complications is about 20 KiB.
const LARGEST_BODY: usize = 64 * 1024;
/// Seconds that requests under way get when the server stops.
const SHUTDOWN_SECONDS: u64 = 30;

/// What the server needs.
#[derive(Clone)]
pub struct Pieces {
    /// The store.
    pub store: Store,
    /// Where people sign in.
    pub desk: SignInDesk,
    /// The clock.
    pub clock: Clock,
    /// The random source.
    pub randomness: Randomness,
    /// Whether people reach the registry through TLS, so that cookies insist on it.
    pub https: bool,
    /// Who publishes.
    pub network: Network,
}

/// Serves on a listener until the process is told to stop. Requests under way
/// are finished.
///
/// # Errors
/// When the listener cannot be used.
pub fn serve(pieces: Pieces, listener: TcpListener, workers: usize) -> io::Result<Server> {
    let shared = Shared {
        worker: Data::new(Worker::start(pieces.store.clone(), &pieces.randomness)?),
        reports: Data::new(Reports::default()),
        shelf: Data::new(pages::public::Shelf::default()),
    };
    let server = HttpServer::new(move || app(pieces.clone(), shared.clone()))
        .workers(workers)
        .shutdown_timeout(SHUTDOWN_SECONDS)
        .listen(listener)?
        .run();
    Ok(server)
}

/// What all threads of the server share.
#[derive(Clone)]
struct Shared {
    worker: Data<Worker>,
    reports: Data<Reports>,
    shelf: Data<pages::public::Shelf>,
}

/// Everything the server answers to.
fn app(
    pieces: Pieces,
    shared: Shared,
) -> App<
    impl ServiceFactory<
        ServiceRequest,
        Config = (),
        Response = ServiceResponse<impl actix_web::body::MessageBody>,
        Error = Error,
        InitError = (),
    >,
> {
    let Pieces { store, desk, clock, randomness, https, network } = pieces;
    let (app, handlers) = App::new()
        .into_utoipa_app()
        // The scope would take these for addresses of its own that it does not know.
        .map(|app| app.service(openapi).service(api_page))
        .openapi(Head::openapi())
        .service(scope("/api/v1").configure(resources))
        .split_for_parts();
    let document = Document::of(&handlers);
    let known = Known::of(document.json());
    app.app_data(Data::new(store))
        .app_data(shared.worker)
        .app_data(Data::new(desk))
        .app_data(Data::new(clock))
        .app_data(Data::new(randomness))
        .app_data(Data::new(CookieRule::new(https)))
        .app_data(Data::new(known))
        .app_data(shared.reports)
        .app_data(shared.shelf)
        .app_data(Data::new(network))
        .app_data(Data::new(Readiness::default()))
        .app_data(Data::from(Arc::new(document)))
        .app_data(PayloadConfig::new(LARGEST_BODY))
        .service(live)
        .service(ready)
        .configure(pages::routes)
        .default_service(actix_web::web::to(not_here))
        .wrap(from_fn(around))
        .wrap(Compress::default())
}

/// The API's document.
#[get("/api/v1/openapi.json")]
async fn openapi(document: Data<Document>) -> HttpResponse {
    HttpResponse::Ok().json(document.json())
}

/// The API's page.
#[get("/api/v1/")]
async fn api_page(document: Data<Document>) -> HttpResponse {
    pages::answer(StatusCode::OK, document.page())
}
