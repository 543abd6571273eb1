//! Somebody who uses the pages as a browser without script does.

use std::cell::RefCell;

use quietbeam_schema::access::Role;
use quietbeam_schema::ids::CentreCode;

use crate::people::PASSWORD;
use crate::server::{Answer, Asked, Sends, Served};

/// A browser with its one cookie.
pub struct Visitor<'s> {
    served: &'s Served<'s>,
    cookie: RefCell<Option<String>>,
}

impl Sends for Visitor<'_> {
    /// Paths are pages' own: `/desk`.
    fn send(&self, asked: &Asked) -> Answer {
        let mut asked = asked.clone().of_page().header("accept", "text/html,application/xhtml+xml");
        if let Some(cookie) = &*self.cookie.borrow() {
            asked = asked.header("cookie", cookie.clone());
        }
        let answer = self.served.send(&asked, None);
        if let Some(set) = answer.header("set-cookie") {
            let pair = set.split(';').next().expect("a cookie").to_owned();
            let kept = !set.contains("Max-Age=0");
            *self.cookie.borrow_mut() = kept.then_some(pair);
        }
        answer
    }
}

impl<'s> Visitor<'s> {
    /// Nobody yet.
    pub fn new(served: &'s Served<'s>) -> Self {
        Self { served, cookie: RefCell::new(None) }
    }

    /// A new member of this role, signed in.
    pub fn member(served: &'s Served<'s>, name: &str, role: Role, centres: &[CentreCode]) -> Self {
        served.desk.member(name, role, centres);
        let visitor = Self::new(served);
        let answer = visitor.sign_in(name, PASSWORD, "");
        assert_eq!(answer.header("location"), Some("/desk"), "{}", answer.text());
        visitor
    }

    /// Fills in the sign-in form.
    pub fn sign_in(&self, account: &str, password: &str, to: &str) -> Answer {
        self.submit("/sign-in", &[("account", account), ("password", password), ("to", to)])
    }

    /// Sends a form from a page of the registry, with the token of this sign-in.
    pub fn post(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let token = self.form_token();
        let fields: Vec<(&str, &str)> =
            [("form_token", token.as_str())].into_iter().chain(fields.iter().copied()).collect();
        self.submit(path, &fields)
    }

    /// Sends a form with a file from a page of the registry; the token stands in the address.
    pub fn post_file(
        &self,
        path: &str,
        fields: &[(&str, &str)],
        (name, file_name, bytes): (&str, &str, &[u8]),
    ) -> Answer {
        const EDGE: &str = "--edge\r\nContent-Disposition: form-data; name=";
        let mut form = Vec::new();
        for (name, value) in fields {
            form.extend_from_slice(format!("{EDGE}\"{name}\"\r\n\r\n{value}\r\n").as_bytes());
        }
        form.extend_from_slice(format!("{EDGE}\"{name}\"; filename=\"{file_name}\"\r\n\r\n").as_bytes());
        form.extend_from_slice(bytes);
        form.extend_from_slice(b"\r\n--edge--\r\n");
        let asked = Asked::new("POST", format!("{path}?form_token={}", self.form_token()));
        self.send(
            &asked.bytes("multipart/form-data; boundary=edge", form).header("sec-fetch-site", "same-origin"),
        )
    }

    /// Sends a form from a page of the registry as it is.
    pub fn submit(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        self.send(&form(path, fields).header("sec-fetch-site", "same-origin"))
    }

    /// The cookie as it is sent.
    pub fn cookie(&self) -> String {
        self.cookie.borrow().clone().expect("a cookie")
    }

    /// Sends this cookie from now on.
    pub fn keep(&self, cookie: &str) {
        *self.cookie.borrow_mut() = Some(cookie.to_owned());
    }

    /// The token that the forms of this sign-in carry.
    pub fn form_token(&self) -> String {
        let page = self.get("/desk").expect(200).text();
        let (_, rest) = page.split_once("name=\"form_token\" value=\"").expect("a form with a token");
        rest.split('"').next().expect("its value").to_owned()
    }
}

/// A form on its way.
pub fn form(path: &str, fields: &[(&str, &str)]) -> Asked {
    let body = fields.iter().map(|(name, value)| format!("{}={}", encoded(name), encoded(value)));
    let body = body.collect::<Vec<_>>().join("&");
    Asked::new("POST", path).bytes("application/x-www-form-urlencoded", body)
}

fn encoded(text: &str) -> String {
    let one = |byte: u8| match byte {
        b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'_' | b'.' => char::from(byte).to_string(),
        other => format!("%{other:02X}"),
    };
    text.bytes().map(one).collect()
}
