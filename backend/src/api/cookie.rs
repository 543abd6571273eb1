//! The cookie that holds a browser's sign-in. Scripts cannot read it, other sites cannot
//! send it, and behind TLS it never leaves TLS.

use actix_web::cookie::{Cookie, SameSite, time::Duration};
use actix_web::http::header::{COOKIE, HeaderMap};

/// How this registry sets and reads its cookie.
#[derive(Clone, Copy)]
pub(crate) struct CookieRule {
    /// Whether people reach the registry through TLS.
    https: bool,
}

impl CookieRule {
    /// Behind TLS, or on loopback without it.
    pub(crate) fn new(https: bool) -> Self {
        Self { https }
    }

    /// Whether browsers may be told to use TLS alone.
    pub(crate) fn is_https(self) -> bool {
        self.https
    }

    fn name(self) -> &'static str {
        // Browsers take the prefix only with Secure, Path=/ and no domain.
        if self.https { "__Host-quietbeam" } else { "quietbeam" }
    }

    /// The value that came with a request. Two of them are none: a neighbour on the same
    /// host may have planted one.
    pub(super) fn read(self, headers: &HeaderMap) -> Option<String> {
        let sent = headers.get_all(COOKIE).filter_map(|value| value.to_str().ok());
        let mut values = sent
            .flat_map(|text| text.split(';'))
            .filter_map(|pair| pair.trim().split_once('='))
            .filter(|(name, _)| *name == self.name())
            .map(|(_, value)| value.to_owned());
        let first = values.next()?;
        values.next().is_none().then_some(first)
    }

    /// Begins a sign-in; it ends with the browser at the latest.
    pub(crate) fn set(self, value: String) -> Cookie<'static> {
        Cookie::build(self.name(), value)
            .path("/")
            .http_only(true)
            .secure(self.https)
            .same_site(SameSite::Strict)
            .finish()
    }

    /// Takes the cookie away.
    pub(crate) fn end(self) -> Cookie<'static> {
        let mut cookie = self.set(String::new());
        cookie.set_max_age(Duration::ZERO);
        cookie
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use actix_web::http::header::HeaderValue;

    use super::*;

    #[test]
    fn behind_tls_the_cookie_belongs_to_this_host_alone() {
        let text = CookieRule::new(true).set("ab12".to_owned()).to_string();
        assert!(text.starts_with("__Host-quietbeam=ab12; "), "{text}");
        for part in ["HttpOnly", "SameSite=Strict", "Secure", "Path=/"] {
            assert!(text.contains(part), "{text}");
        }
        assert!(!text.contains("Domain") && !text.contains("Max-Age"), "{text}");
        let plain = CookieRule::new(false).set("ab12".to_owned()).to_string();
        assert!(plain.starts_with("quietbeam=ab12; ") && !plain.contains("Secure"), "{plain}");
        assert!(CookieRule::new(true).end().to_string().contains("Max-Age=0"));
    }

    #[test]
    fn two_cookies_are_none() {
        let read = |texts: &[&str]| {
            let mut headers = HeaderMap::new();
            for text in texts {
                headers.append(COOKIE, HeaderValue::from_str(text).unwrap());
            }
            CookieRule::new(false).read(&headers)
        };
        assert_eq!(read(&["a=1; quietbeam=ab; b=2"]).as_deref(), Some("ab"));
        assert_eq!(read(&["quietbeam=ab; quietbeam=cd"]), None);
        assert_eq!(read(&["quietbeam=ab", "quietbeam=cd"]), None);
        assert_eq!(read(&["__Host-quietbeam=ab", "xquietbeam=cd"]), None);
        assert_eq!(read(&[]), None);
    }
}
