//! A real browser without a window, driven by the W3C WebDriver protocol.

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use std::{env, fs};

use serde_json::{Value, json};
use tempfile::TempDir;
use ureq::Agent;

/// The Tab key.
pub const TAB: &str = "\u{e004}";
/// The Enter key.
pub const ENTER: &str = "\u{e007}";

/// The Escape key.
pub const ESCAPE: &str = "\u{e00c}";
/// The Down key.
pub const DOWN: &str = "\u{e015}";
/// The F8 key.
pub const F8: &str = "\u{e038}";
/// The Control key.
pub const CONTROL: &str = "\u{e009}";

/// Where somebody is and what is said there.
const SEEN: &str = "
    const said = (one) => one?.innerText ?? '';
    const here = document.activeElement;
    return [location.href, here.outerHTML.slice(0, 200), said(document.querySelector('.form-foot')),
        ...[...document.querySelectorAll('.error-summary, .message')].map(said)].join('\\n');
";

/// An open browser; it is closed with the value.
pub struct Browser {
    driver: Child,
    agent: Agent,
    session: String,
    // The profile is thrown away with the browser.
    _profile: TempDir,
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.agent.delete(&self.session).call();
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }
}

impl Browser {
    /// Opens a browser with a new profile.
    pub fn open() -> Self {
        let profile = tempfile::tempdir().expect("a folder");
        let (driver, port) = start_driver();
        let agent: Agent = Agent::config_builder()
            .http_status_as_error(false)
            .timeout_global(Some(Duration::from_secs(60)))
            .build()
            .into();
        let arguments = [
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--hide-scrollbars",
            &format!("--user-data-dir={}", profile.path().display()),
        ];
        let capabilities = json!({ "capabilities": { "alwaysMatch": {
            "browserName": "chrome",
            "goog:loggingPrefs": { "browser": "ALL" },
            "goog:chromeOptions": { "args": arguments, "binary": program("chromium", "QUIETBEAM_TEST_CHROMIUM") },
        } } });
        let base = format!("http://127.0.0.1:{port}/session");
        let opened = send(&agent, &base, &capabilities);
        let id = opened["sessionId"].as_str().unwrap_or_else(|| panic!("no browser: {opened}"));
        Self { driver, agent, session: format!("{base}/{id}"), _profile: profile }
    }

    /// Goes to an address.
    pub fn go(&self, address: &str) {
        self.command("/url", &json!({ "url": address }));
    }

    /// Types into whatever has the focus.
    pub fn press(&self, keys: &str) {
        let element = self.read("/element/active");
        let id = element.as_object().and_then(|names| names.values().next()).and_then(Value::as_str);
        let id = id.unwrap_or_else(|| panic!("nothing has the focus: {element}"));
        self.command(&format!("/element/{id}/value"), &json!({ "text": keys }));
    }

    /// Gives a file to the field that a selector names, as one does who drops it there.
    pub fn give_file(&self, selector: &str, path: &Path) {
        let named = json!({ "using": "css selector", "value": selector });
        let element = self.command("/element", &named);
        let id = element.as_object().and_then(|names| names.values().next()).and_then(Value::as_str);
        let id = id.unwrap_or_else(|| panic!("there is no {selector}: {element}"));
        self.command(&format!("/element/{id}/value"), &json!({ "text": path.display().to_string() }));
    }

    /// Fills in the first form that fits and sends it, with the button of this value if one
    /// is named. What is not asked stays as it is.
    pub fn send_form(&self, selector: &str, fields: &[(&str, &str)], button: Option<&str>) {
        let script = "
            const [selector, fields, button] = arguments;
            const form = document.querySelector(selector);
            form.noValidate = true;
            for (const [name, value] of fields) {
                const control = form.elements[name];
                if (control) control.value = value;
            }
            form.requestSubmit(button === null ? null : form.querySelector(`button[value=\"${button}\"]`));
        ";
        self.command("/execute/sync", &json!({ "script": script, "args": [selector, fields, button] }));
    }

    /// Presses keys one after the other, whatever has the focus, as fingers do.
    pub fn keys(&self, keys: &str) {
        let strokes = keys.chars().flat_map(|key| {
            ["keyDown", "keyUp"].map(|kind| json!({ "type": kind, "value": key.to_string() }))
        });
        self.strokes(strokes.collect());
    }

    /// Presses a key while another is held down.
    pub fn chord(&self, held: &str, key: &str) {
        let stroke = |kind: &str, key: &str| json!({ "type": kind, "value": key });
        self.strokes(vec![
            stroke("keyDown", held),
            stroke("keyDown", key),
            stroke("keyUp", key),
            stroke("keyUp", held),
        ]);
    }

    fn strokes(&self, strokes: Vec<Value>) {
        let keyboard = json!({ "type": "key", "id": "keyboard", "actions": strokes });
        self.command("/actions", &json!({ "actions": [keyboard] }));
    }

    /// Waits until a script of the test returns true, and fails when it does not in time.
    pub fn wait_until(&self, condition: &str) {
        let deadline = Instant::now() + Duration::from_secs(20);
        while self.evaluate(condition) != Value::Bool(true) {
            assert!(Instant::now() < deadline, "not in time: {condition}\n{}", self.evaluate(SEEN));
            std::thread::yield_now();
        }
    }

    /// Takes the line away, or gives it back.
    pub fn offline(&self, offline: bool) {
        self.developer("Network.enable", &json!({}));
        let line =
            json!({ "offline": offline, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1 });
        self.developer("Network.emulateNetworkConditions", &line);
    }

    /// Runs no script of the pages from the next page on.
    pub fn without_script(&self) {
        self.developer("Emulation.setScriptExecutionDisabled", &json!({ "value": true }));
    }

    /// The page as it stands, also where no script may run.
    pub fn html(&self) -> String {
        let root = self.developer("DOM.getDocument", &json!({}));
        let node = json!({ "nodeId": root["root"]["nodeId"] });
        self.developer("DOM.getOuterHTML", &node)["outerHTML"].as_str().unwrap_or_default().to_owned()
    }

    /// The open tabs, the first one first.
    pub fn tabs(&self) -> Vec<String> {
        let tabs = self.read("/window/handles");
        tabs.as_array().into_iter().flatten().filter_map(Value::as_str).map(str::to_owned).collect()
    }

    /// Goes to a tab.
    pub fn show_tab(&self, tab: &str) {
        self.command("/window", &json!({ "handle": tab }));
    }

    /// The address that is shown.
    pub fn address(&self) -> String {
        self.read("/url").as_str().unwrap_or_default().to_owned()
    }

    /// The title of the page.
    pub fn title(&self) -> String {
        self.read("/title").as_str().unwrap_or_default().to_owned()
    }

    /// What a script of the test returns. The pages' own policy does not bind it.
    pub fn evaluate(&self, script: &str) -> Value {
        self.command("/execute/sync", &json!({ "script": script, "args": [] }))
    }

    /// Makes the page so many pixels wide.
    pub fn resize(&self, width: u32, height: u32) {
        let screen =
            json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 500 });
        self.developer("Emulation.setDeviceMetricsOverride", &screen);
    }

    /// Shows the page on a medium, "screen" or "print", to somebody who prefers this:
    /// `("prefers-color-scheme", "dark")`.
    pub fn show_on(&self, medium: &str, preferred: (&str, &str)) {
        let features = json!([{ "name": preferred.0, "value": preferred.1 }]);
        self.developer("Emulation.setEmulatedMedia", &json!({ "media": medium, "features": features }));
    }

    /// Takes the colours away, as a printer without them does, or gives them back.
    pub fn without_colours(&self, grey: bool) {
        let seen = if grey { "achromatopsia" } else { "none" };
        self.developer("Emulation.setEmulatedVisionDeficiency", &json!({ "type": seen }));
    }

    /// Signs in with the form.
    pub fn sign_in(&self, served: &str, account: &str, password: &str) {
        self.go(&format!("{served}/sign-in"));
        self.press(account);
        self.press(TAB);
        self.press(password);
        self.press(ENTER);
    }

    /// Asks for the dark or the light theme.
    pub fn prefer(&self, theme: &str) {
        self.show_on("screen", ("prefers-color-scheme", theme));
    }

    /// What the browser complained about: refused by the content policy, not found, broken.
    pub fn complaints(&self) -> Vec<String> {
        let lines = self.command("/se/log", &json!({ "type": "browser" }));
        let said = |line: &Value| line["message"].as_str().unwrap_or_default().to_owned();
        lines.as_array().into_iter().flatten().map(said).collect()
    }

    /// Writes a picture of the whole page.
    pub fn picture(&self, path: &Path) {
        let size = self
            .evaluate("const page = document.documentElement; return [page.clientWidth, page.scrollHeight];");
        let clip = json!({ "x": 0, "y": 0, "width": size[0], "height": size[1], "scale": 1 });
        let taken =
            self.developer("Page.captureScreenshot", &json!({ "captureBeyondViewport": true, "clip": clip }));
        let bytes = from_base64(taken["data"].as_str().expect("a picture"));
        fs::write(path, bytes).expect("to write the picture");
    }

    fn developer(&self, command: &str, parameters: &Value) -> Value {
        self.command("/goog/cdp/execute", &json!({ "cmd": command, "params": parameters }))
    }

    fn command(&self, path: &str, body: &Value) -> Value {
        send(&self.agent, &format!("{}{path}", self.session), body)
    }

    fn read(&self, path: &str) -> Value {
        let answer = self.agent.get(format!("{}{path}", self.session)).call();
        value_of(&mut answer.expect("the driver to answer"))
    }
}

fn send(agent: &Agent, address: &str, body: &Value) -> Value {
    value_of(&mut agent.post(address).send_json(body).expect("the driver to answer"))
}

fn value_of(answer: &mut ureq::http::Response<ureq::Body>) -> Value {
    let status = answer.status();
    let body: Value =
        answer.body_mut().with_config().limit(1 << 27).read_json().expect("an answer of the driver");
    assert!(status.is_success(), "the browser refused: {body}");
    body["value"].clone()
}

/// Starts the driver on a port of its own choice. It takes one that is free in one of the two
/// address families and ends when the other has lent it out, so it may need another start.
fn start_driver() -> (Child, u16) {
    let start = || {
        let mut driver = Command::new(program("chromedriver", "QUIETBEAM_TEST_CHROMEDRIVER"))
            .arg("--port=0")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("to start the driver");
        let port = port_of(&mut driver);
        if port.is_none() {
            let _ = driver.kill();
            let _ = driver.wait();
        }
        Some((driver, port?))
    };
    (0..5).find_map(|_| start()).expect("the driver to say its port")
}

/// The driver says on which port it listens; `None` when it ended without.
fn port_of(driver: &mut Child) -> Option<u16> {
    let output = BufReader::new(driver.stdout.take().expect("its output"));
    output.lines().map_while(Result::ok).find_map(|line| {
        let (_, port) = line.split_once("successfully on port ")?;
        port.trim_end_matches('.').parse().ok()
    })
}

fn program(name: &str, variable: &str) -> PathBuf {
    let named = env::var_os(variable).map(PathBuf::from);
    let path = env::var_os("PATH").unwrap_or_default();
    let mut found = named.into_iter().chain(env::split_paths(&path).map(|folder| folder.join(name)));
    found.find(|path| path.exists()).unwrap_or_else(|| {
        panic!(
            "these tests need {name}: install it (Debian: apt-get install chromium chromium-driver), \
             or name it in {variable}"
        )
    })
}

fn from_base64(text: &str) -> Vec<u8> {
    const SIGNS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let (mut bytes, mut held, mut bits) = (Vec::new(), 0_u32, 0);
    for sign in text.bytes().filter(|sign| *sign != b'=') {
        let place = SIGNS.iter().position(|known| *known == sign).expect("a base64 sign");
        held = (held << 6) | u32::try_from(place).expect("a small number");
        bits += 6;
        if bits >= 8 {
            bits -= 8;
            bytes.push((held >> bits) as u8);
            held &= (1 << bits) - 1;
        }
    }
    bytes
}
