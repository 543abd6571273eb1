//! The real server on a port of its own, and people who speak HTTP to it.

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::mpsc;
use std::thread::{self, JoinHandle};
use std::time::Duration;

use actix_web::dev::ServerHandle;
use quietbeam::clock::Randomness;
use quietbeam::config::Network;
use quietbeam::server::{Pieces, serve};
use quietbeam_schema::access::Role;
use quietbeam_schema::ids::CentreCode;
use serde_json::{Value, json};
use ureq::http::{Request, Response};
use ureq::{Agent, Body};

use crate::people::{Desk, PASSWORD};
use crate::registry::Registry;

/// A registry that is served.
pub struct Served<'r> {
    /// The registry behind it.
    pub registry: &'r Registry,
    /// Where its members come from.
    pub desk: Desk<'r>,
    address: SocketAddr,
    agent: Agent,
    handle: ServerHandle,
    thread: Option<JoinHandle<()>>,
}

impl Drop for Served<'_> {
    fn drop(&mut self) {
        drop(self.handle.stop(false));
        if let Some(thread) = self.thread.take() {
            thread.join().expect("the server to stop");
        }
    }
}

impl<'r> Served<'r> {
    /// Serves a registry.
    pub fn new(registry: &'r Registry) -> Self {
        Self::at(Desk::new(registry))
    }

    /// Serves the registry of a desk.
    pub fn at(desk: Desk<'r>) -> Self {
        let registry = desk.registry;
        let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
        let address = listener.local_addr().expect("its number");
        let pieces = Pieces {
            store: registry.store.clone(),
            desk: desk.desk.clone(),
            clock: registry.clock.clone(),
            randomness: Randomness::system(),
            https: false,
            network: Network {
                name: "Harbour Rhythm Network".to_owned(),
                address: format!("http://{address}"),
            },
        };
        let (sender, receiver) = mpsc::channel();
        let thread = thread::spawn(move || {
            actix_web::rt::System::new().block_on(async {
                let server = serve(pieces, listener, 2).expect("a server");
                sender.send(server.handle()).expect("the test to wait");
                server.await.expect("the server to end well");
            });
        });
        let handle = receiver.recv().expect("the server to start");
        let agent = Agent::config_builder()
            .http_status_as_error(false)
            .max_redirects(0)
            .timeout_global(Some(Duration::from_secs(60)))
            .build()
            .into();
        Self { registry, desk, address, agent, handle, thread: Some(thread) }
    }

    /// Somebody who has not signed in.
    pub fn stranger(&self) -> SignedOut<'_> {
        SignedOut { served: self }
    }

    /// A new member of this role, signed in.
    pub fn member(&self, name: &str, role: Role, centres: &[CentreCode]) -> SignedIn<'_> {
        self.desk.member(name, role, centres);
        self.sign_in(name)
    }

    /// A member that exists, signed in.
    pub fn sign_in(&self, name: &str) -> SignedIn<'_> {
        let body = json!({ "sign_in_name": name, "password": PASSWORD });
        let granted = self.stranger().post("/sessions", &body).expect(200).json();
        let text = |key: &str| granted[key].as_str().expect("a token").to_owned();
        SignedIn { served: self, token: text("access_token"), refresh_token: text("refresh_token") }
    }

    /// Where it is reached.
    pub fn address(&self) -> String {
        format!("http://{}", self.address)
    }

    /// Sends bytes as they are and reads what comes until the server closes.
    pub fn raw(&self, request: &[u8]) -> String {
        let mut stream = TcpStream::connect(self.address).expect("a connection");
        stream.set_read_timeout(Some(Duration::from_secs(20))).expect("a limit");
        stream.write_all(request).expect("to send");
        let mut answer = Vec::new();
        // A server that refuses early may close before everything was sent.
        let _ = stream.read_to_end(&mut answer);
        String::from_utf8_lossy(&answer).into_owned()
    }

    pub(crate) fn send(&self, asked: &Asked, token: Option<&str>) -> Answer {
        let path = match asked.path.strip_prefix('/') {
            Some(root) if root.starts_with('/') => root.to_owned(),
            _ => format!("/api/v1{}", asked.path),
        };
        let uri = format!("http://{}{path}", self.address);
        let mut request = Request::builder().method(asked.method).uri(uri);
        for (name, value) in &asked.headers {
            request = request.header(name, value);
        }
        if let Some(token) = token {
            request = request.header("authorization", format!("Bearer {token}"));
        }
        let sent = match &asked.body {
            Some(bytes) => self.agent.run(request.body(bytes.as_slice()).expect("a request")),
            None => self.agent.run(request.body(()).expect("a request")),
        };
        Answer::read(asked.method, path, sent.expect("an answer"))
    }
}

/// A request under construction.
#[derive(Clone)]
pub struct Asked {
    method: &'static str,
    path: String,
    headers: Vec<(String, String)>,
    body: Option<Vec<u8>>,
}

impl Asked {
    /// A request without a body. The path is below `/api/v1`; with two slashes in front it
    /// is taken from the root.
    pub fn new(method: &'static str, path: impl Into<String>) -> Self {
        Self { method, path: path.into(), headers: Vec::new(), body: None }
    }

    /// The same path, of a page and not of the API.
    pub(crate) fn of_page(mut self) -> Self {
        if !self.path.starts_with("//") {
            self.path.insert(0, '/');
        }
        self
    }

    /// With a header.
    pub fn header(mut self, name: &str, value: impl Into<String>) -> Self {
        self.headers.push((name.to_owned(), value.into()));
        self
    }

    /// With a JSON body.
    pub fn json(self, body: &Value) -> Self {
        self.bytes("application/json", body.to_string())
    }

    /// With any body.
    pub fn bytes(mut self, media_type: &str, bytes: impl Into<Vec<u8>>) -> Self {
        self.body = Some(bytes.into());
        self.header("content-type", media_type)
    }

    /// With the version that was read.
    pub fn if_match(self, etag: &str) -> Self {
        self.header("if-match", etag)
    }

    /// With a new key for a creation.
    pub fn new_key(self) -> Self {
        static KEYS: AtomicU32 = AtomicU32::new(0);
        let number = KEYS.fetch_add(1, Ordering::SeqCst);
        self.header("idempotency-key", format!("key-{number:08}"))
    }

    /// The JSON body, if there is one.
    pub fn json_body(&self) -> Option<Value> {
        serde_json::from_slice(self.body.as_deref()?).ok()
    }

    /// With another JSON body in place of the present one.
    pub fn replacing(mut self, body: &Value) -> Self {
        self.body = Some(body.to_string().into_bytes());
        self
    }

    /// With files as a form.
    pub fn files(self, parts: &[(&str, &[u8])]) -> Self {
        let mut form = Vec::new();
        for (name, bytes) in parts {
            let head = format!(
                "--edge\r\nContent-Disposition: form-data; name=\"{name}\"; filename=\"{name}.csv\"\r\n\
                 Content-Type: text/csv\r\n\r\n"
            );
            form.extend_from_slice(head.as_bytes());
            form.extend_from_slice(bytes);
            form.extend_from_slice(b"\r\n");
        }
        form.extend_from_slice(b"--edge--\r\n");
        self.bytes("multipart/form-data; boundary=edge", form)
    }
}

/// Somebody who has not signed in.
pub struct SignedOut<'s> {
    served: &'s Served<'s>,
}

/// A member with its tokens.
pub struct SignedIn<'s> {
    served: &'s Served<'s>,
    /// The access token.
    pub token: String,
    /// The refresh token.
    pub refresh_token: String,
}

/// Whoever sends requests.
pub trait Sends {
    /// Sends a request.
    fn send(&self, asked: &Asked) -> Answer;

    /// Reads.
    fn get(&self, path: &str) -> Answer {
        self.send(&Asked::new("GET", path))
    }

    /// Creates, or takes a step.
    fn post(&self, path: &str, body: &Value) -> Answer {
        self.send(&Asked::new("POST", path).new_key().json(body))
    }

    /// Changes what was read.
    fn put(&self, path: &str, etag: &str, body: &Value) -> Answer {
        self.send(&Asked::new("PUT", path).if_match(etag).json(body))
    }
}

impl Sends for SignedOut<'_> {
    fn send(&self, asked: &Asked) -> Answer {
        self.served.send(asked, None)
    }
}

impl Sends for SignedIn<'_> {
    fn send(&self, asked: &Asked) -> Answer {
        self.served.send(asked, Some(&self.token))
    }
}

impl<'s> SignedIn<'s> {
    /// The same person with another token in hand.
    pub fn with_token(&self, token: impl Into<String>) -> Self {
        Self { served: self.served, token: token.into(), refresh_token: self.refresh_token.clone() }
    }
}

/// What came back. Whatever a test asks for, each answer is guarded and each refusal is a
/// whole problem.
#[derive(Debug)]
pub struct Answer {
    asked: String,
    /// The status.
    pub status: u16,
    headers: Vec<(String, String)>,
    body: Vec<u8>,
}

impl Answer {
    fn read(method: &str, path: String, response: Response<Body>) -> Self {
        let status = response.status().as_u16();
        let headers = response
            .headers()
            .iter()
            .map(|(name, value)| (name.to_string(), String::from_utf8_lossy(value.as_bytes()).into_owned()))
            .collect();
        let body = response.into_body().into_with_config().limit(1 << 26).read_to_vec().expect("a body");
        let answer = Self { asked: format!("{method} {path}"), status, headers, body };
        answer.check_guards();
        assert!(status < 500, "{}\n{}", answer.asked, answer.text());
        let page = answer.header("content-type").is_some_and(|kind| kind.starts_with("text/html"));
        if status >= 400 && method != "HEAD" && !page {
            answer.checked_problem();
        }
        answer
    }

    fn check_guards(&self) {
        let policy = self.header("content-security-policy").unwrap_or_default();
        // One page of the public is made to stand inside others.
        let embedded = self.asked.ends_with("/embed") && self.status < 400;
        for part in ["default-src 'none'", "base-uri 'none'", "frame-ancestors 'none'"] {
            let needed = !(embedded && part.starts_with("frame-ancestors"));
            assert_eq!(policy.contains(part), needed, "{}: {policy}", self.asked);
        }
        assert!(!policy.contains("unsafe"), "{}: {policy}", self.asked);
        for (name, expected) in [
            ("x-content-type-options", "nosniff"),
            ("referrer-policy", "no-referrer"),
            ("cross-origin-opener-policy", "same-origin"),
            ("cross-origin-resource-policy", if embedded { "cross-origin" } else { "same-origin" }),
        ] {
            assert_eq!(self.header(name), Some(expected), "{} {name}", self.asked);
        }
        for name in ["permissions-policy", "cache-control", "x-request-id"] {
            assert!(self.header(name).is_some(), "{} has no {name}", self.asked);
        }
        for name in ["server", "x-powered-by", "access-control-allow-origin"] {
            assert_eq!(self.header(name), None, "{} {name}", self.asked);
        }
        match self.header("set-cookie") {
            None => {}
            Some(cookie) => {
                let sign = ["POST /sign-in", "POST /sign-out"].contains(&self.asked.as_str());
                let guarded =
                    ["HttpOnly", "SameSite=Strict", "Path=/"].iter().all(|part| cookie.contains(part));
                assert!(sign && guarded, "{}: {cookie}", self.asked);
            }
        }
    }

    /// The answer, if it has this status.
    pub fn expect(self, status: u16) -> Self {
        assert_eq!(self.status, status, "{}\n{}", self.asked, self.text());
        self
    }

    /// A header.
    pub fn header(&self, name: &str) -> Option<&str> {
        self.headers.iter().find(|(known, _)| known == name).map(|(_, value)| value.as_str())
    }

    /// How many bytes the body had on its way.
    pub fn size(&self) -> usize {
        self.body.len()
    }

    /// The version to change from.
    pub fn etag(&self) -> String {
        self.header("etag").unwrap_or_else(|| panic!("no ETag from {}", self.asked)).to_owned()
    }

    /// The body as it came.
    pub fn body(&self) -> &[u8] {
        &self.body
    }

    /// The body as text.
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    /// The body as JSON.
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body)
            .unwrap_or_else(|error| panic!("{}: {error}: {}", self.asked, self.text()))
    }

    /// The problem that the body must be, with this code.
    pub fn problem(self, status: u16, code: &str) -> Value {
        let answer = self.expect(status);
        let problem = answer.checked_problem();
        assert_eq!(problem["code"], code, "{}\n{problem}", answer.asked);
        problem
    }

    /// The body, which must be a whole problem (RFC 9457).
    pub fn checked_problem(&self) -> Value {
        let kind = self.header("content-type").unwrap_or_default();
        assert_eq!(kind, "application/problem+json", "{} {}\n{}", self.asked, self.status, self.text());
        let problem = self.json();
        assert_eq!(problem["status"], self.status, "{problem}");
        for key in ["type", "title", "detail", "instance", "code"] {
            let said = problem[key].as_str().unwrap_or_default();
            assert!(!said.is_empty(), "{} {key} is missing in {problem}", self.asked);
        }
        let id = self.header("x-request-id").expect("a request identifier");
        assert_eq!(problem["instance"], format!("urn:uuid:{id}"), "{problem}");
        problem
    }

    /// The rule and the place of each thing to mend.
    pub fn mends(problem: &Value) -> Vec<(String, String)> {
        let errors = problem["errors"].as_array().cloned().unwrap_or_default();
        let text = |error: &Value, key: &str| error[key].as_str().unwrap_or_default().to_owned();
        errors.iter().map(|error| (text(error, "pointer"), text(error, "rule"))).collect()
    }
}
