//! Who may ask for what: the checks that every request passes before anything of it is used.
//!
//! The rule inside: a request is of this page only where each header that a browser sets says so; whatever is missing or twice is refused,
//! and the answer names no secret.

use std::net::{IpAddr, SocketAddr};

use hyper::header::{self, HeaderMap, HeaderName};
use hyper::{Method, StatusCode};

use super::secret::Secret;

const FETCH_SITE: HeaderName = HeaderName::from_static("sec-fetch-site");

/// The address at which the page is served.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Address {
    /// As it is bound.
    pub at: SocketAddr,
    /// With TLS, for other machines; without it for browsers of this machine.
    pub tls: bool,
}

impl Address {
    /// Whether whoever comes by it sits at this machine.
    pub(super) fn is_at_laptop(&self) -> bool {
        !self.tls
    }

    /// As `Host` must say it.
    pub(super) fn host(&self) -> String {
        let (ip, port) = (self.at.ip(), self.at.port());
        // browsers leave the port of the scheme out
        match (ip, port == if self.tls { 443 } else { 80 }) {
            (IpAddr::V4(ip), true) => ip.to_string(),
            (IpAddr::V6(ip), true) => format!("[{ip}]"),
            (ip, false) => SocketAddr::new(ip, port).to_string(),
        }
    }

    /// As `Origin` must say it.
    pub(super) fn origin(&self) -> String {
        format!("{}://{}", if self.tls { "https" } else { "http" }, self.host())
    }

    /// The address that opens it with a code, which stands behind the sign that no browser sends on.
    pub(super) fn opens(&self, code: &str) -> String {
        format!("{}/#{code}", self.origin())
    }

    /// The name of its cookie: a browser does not tell the ports of a host apart. With TLS the prefix keeps it to this host (RFC 6265bis).
    fn cookie(&self) -> String {
        let prefix = if self.tls { "__Host-" } else { "" };
        format!("{prefix}coreproof-{}", self.at.port())
    }

    /// The header that gives a browser its cookie.
    pub(super) fn set_cookie(&self, value: &str) -> String {
        let secure = if self.tls { "; Secure" } else { "" };
        format!("{}={value}; Path=/; HttpOnly; SameSite=Strict{secure}", self.cookie())
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

    fn loopback() -> Address {
        let at = "127.0.0.1:4000".parse().unwrap();
        Address { at, tls: false }
    }

    #[test]
    fn an_address_is_written_as_browsers_write_it() {
        for (at, tls, origin, cookie) in [
            ("127.0.0.1:4000", false, "http://127.0.0.1:4000", "coreproof-4000"),
            (
                "192.168.43.5:4000",
                true,
                "https://192.168.43.5:4000",
                "__Host-coreproof-4000",
            ),
            ("192.168.43.5:443", true, "https://192.168.43.5", "__Host-coreproof-443"),
            (
                "192.168.43.5:80",
                true,
                "https://192.168.43.5:80",
                "__Host-coreproof-80",
            ),
            ("[fd00:0::5]:443", true, "https://[fd00::5]", "__Host-coreproof-443"),
            (
                "[fd00:0::5]:4000",
                true,
                "https://[fd00::5]:4000",
                "__Host-coreproof-4000",
            ),
        ] {
            let address = Address {
                at: at.parse().unwrap(),
                tls,
            };
            assert_eq!((address.origin().as_str(), address.cookie().as_str()), (origin, cookie));
            assert_eq!(address.is_at_laptop(), !tls);
            let set = address.set_cookie("x");
            assert!(set.starts_with(&format!("{cookie}=x; Path=/; HttpOnly; SameSite=Strict")));
            assert_eq!(set.ends_with("; Secure"), tls);
        }
    }

    #[test]
    fn only_what_a_browser_sends_for_this_page_is_admitted() {
        let address = loopback();
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
        let address = loopback();
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
