//! Who may ask for what: the checks that every request passes before anything of it is used.
//!
//! The rule inside: a request is of this page only where each header that a browser sets says so; whatever is missing or twice is refused,
//! and the answer names no secret.

use hyper::header::{self, HeaderMap, HeaderName};
use hyper::{Method, StatusCode};

use super::secret::Secret;

const FETCH_SITE: HeaderName = HeaderName::from_static("sec-fetch-site");

/// The address at which the page is served.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Address {
    pub port: u16,
}

impl Address {
    /// As `Host` must say it.
    pub(super) fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    /// As `Origin` must say it.
    pub(super) fn origin(&self) -> String {
        format!("http://{}", self.host())
    }

    /// The name of its cookie: a browser does not tell the ports of a host apart.
    pub(super) fn cookie(&self) -> String {
        format!("coreproof-{}", self.port)
    }

    /// Whether a request may be looked at; the body of one that has a body is of one of these kinds.
    ///
    /// # Errors
    /// 421 for another host (RFC 9110, 15.5.20), 403 from another site or origin, 415 for a body of another kind.
    pub(super) fn admits(&self, method: &Method, headers: &HeaderMap, kinds: &[&str]) -> Result<(), StatusCode> {
        if one(headers, &header::HOST) != Some(&self.host()) {
            return Err(StatusCode::MISDIRECTED_REQUEST);
        }
        let site = headers.get_all(&FETCH_SITE).iter().collect::<Vec<_>>();
        let same = site
            .iter()
            .all(|site| *site == "same-origin" || (*site == "none" && method == Method::GET));
        if 1 < site.len() || !same {
            return Err(StatusCode::FORBIDDEN);
        }
        let origin = one(headers, &header::ORIGIN);
        let is_own = origin == Some(&self.origin());
        if headers.contains_key(header::ORIGIN) && !is_own {
            return Err(StatusCode::FORBIDDEN);
        }
        if method == Method::POST {
            if !is_own {
                return Err(StatusCode::FORBIDDEN);
            }
            if !one(headers, &header::CONTENT_TYPE).is_some_and(|kind| kinds.contains(&kind)) {
                return Err(StatusCode::UNSUPPORTED_MEDIA_TYPE);
            }
        }
        Ok(())
    }

    /// The session that the cookie of a request names; none where there is none, or several.
    pub(super) fn session(&self, headers: &HeaderMap) -> Option<Secret> {
        let name = self.cookie();
        let mut found = one(headers, &header::COOKIE)?.split(';').filter_map(|pair| {
            let (of, value) = pair.trim().split_once('=')?;
            (of == name).then_some(value)
        });
        let value = found.next()?;
        (found.next().is_none() && value.len() == 32).then(|| Secret::of(value))
    }
}

/// A header that stands there exactly once, as text.
pub(super) fn one<'h>(headers: &'h HeaderMap, name: &HeaderName) -> Option<&'h str> {
    let mut all = headers.get_all(name).iter();
    let first = all.next()?;
    if all.next().is_some() {
        return None;
    }
    first.to_str().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(of: &[(&'static str, &str)]) -> HeaderMap {
        let mut headers = HeaderMap::new();
        for (name, value) in of {
            headers.append(*name, value.parse().unwrap());
        }
        headers
    }

    #[test]
    fn only_what_a_browser_sends_for_this_page_is_admitted() {
        let address = Address { port: 4000 };
        let host = ("host", "127.0.0.1:4000");
        let origin = ("origin", "http://127.0.0.1:4000");
        let json = ("content-type", "application/json");
        let check = |method: Method, of: &[(&'static str, &str)], expected: u16| {
            let found = address
                .admits(&method, &headers(of), &["application/json"])
                .err()
                .map_or(200, |status| status.as_u16());
            assert_eq!(found, expected, "{method} {of:?}");
        };
        check(Method::GET, &[host], 200);
        check(Method::GET, &[host, ("sec-fetch-site", "none")], 200);
        check(
            Method::POST,
            &[host, origin, json, ("sec-fetch-site", "same-origin")],
            200,
        );
        check(Method::GET, &[], 421);
        check(Method::GET, &[host, host], 421);
        for other in [
            "127.0.0.1",
            "127.0.0.1:4001",
            "localhost:4000",
            "example.org:4000",
            "127.0.0.1:4000.example.org",
        ] {
            check(Method::GET, &[("host", other)], 421);
        }
        for site in ["cross-site", "same-site", "x"] {
            check(Method::GET, &[host, ("sec-fetch-site", site)], 403);
        }
        check(Method::POST, &[host, origin, json, ("sec-fetch-site", "none")], 403);
        check(Method::POST, &[host, json], 403);
        for other in [
            "null",
            "http://127.0.0.1:4001",
            "https://127.0.0.1:4000",
            "http://localhost:4000",
        ] {
            check(Method::POST, &[host, ("origin", other), json], 403);
            check(Method::GET, &[host, ("origin", other)], 403);
        }
        check(Method::POST, &[host, origin], 415);
        for other in [
            "text/plain",
            "application/x-www-form-urlencoded",
            "application/json; charset=utf-8",
            "image/jpeg",
        ] {
            check(Method::POST, &[host, origin, ("content-type", other)], 415);
        }
    }

    #[test]
    fn the_cookie_is_of_this_port_and_stands_once() {
        let address = Address { port: 4000 };
        let (secret, text) = Secret::new();
        let check = |cookie: &str, expected: bool| {
            let found = address.session(&headers(&[("cookie", cookie)]));
            assert_eq!(found.as_ref() == Some(&secret), expected, "{cookie}");
        };
        check(&format!("coreproof-4000={text}"), true);
        check(&format!("a=b; coreproof-4000={text}"), true);
        check(&format!("coreproof-4001={text}"), false);
        check(&format!("coreproof-4000={text}; coreproof-4000={text}"), false);
        check("coreproof-4000=", false);
        assert_eq!(address.session(&headers(&[])), None);
    }
}
