//! Who may ask: the address, the host, the origin and the token of a request.
//!
//! A page of another site can send requests to this machine. It cannot read the token in the address, it cannot set the
//! origin that its browser sends, and a name of its own that leads here shows in the host.

use std::net::IpAddr;

use hyper::header::{HOST, HeaderMap, ORIGIN};

use super::options::PageError;

/// Secret part of the address; nothing that is computed depends on it.
#[derive(Debug, Clone)]
pub struct Token(String);

/// Bytes of a token.
const TOKEN_BYTES: usize = 16;

impl Token {
    /// A token from the randomness of the system.
    ///
    /// # Errors
    /// [`PageError::Token`].
    pub fn new() -> Result<Token, PageError> {
        let mut bytes = [0u8; TOKEN_BYTES];
        getrandom::fill(&mut bytes).map_err(|error| PageError::Token(error.to_string()))?;
        Ok(Token(bytes.iter().map(|byte| format!("{byte:02x}")).collect()))
    }

    /// The token as it stands in the address.
    pub fn text(&self) -> &str {
        &self.0
    }

    /// Whether this is it; takes as long for every wrong one.
    fn is(&self, given: &str) -> bool {
        let (own, given) = (self.0.as_bytes(), given.as_bytes());
        own.len() == given.len() && own.iter().zip(given).fold(0, |off, (a, b)| off | (a ^ b)) == 0
    }

    /// What follows the token in a path.
    pub(super) fn rest<'a>(&self, path: &'a str) -> Option<&'a str> {
        let (token, rest) = path.strip_prefix('/')?.split_once('/')?;
        self.is(token).then_some(rest)
    }
}

/// Whether a request comes from a page of this server: host and origin name it.
///
/// # Errors
/// Why it does not.
pub(super) fn admitted(headers: &HeaderMap, port: u16, network: bool) -> Result<(), &'static str> {
    let mut hosts = headers.get_all(HOST).iter();
    let host = match (hosts.next().map(|host| host.to_str()), hosts.next()) {
        (Some(Ok(host)), None) => host,
        _ => return Err("a request names one host"),
    };
    if !is_here(host, port, network) {
        return Err("the host is not this server");
    }
    let mut origins = headers.get_all(ORIGIN).iter();
    match (origins.next().map(|origin| origin.to_str()), origins.next()) {
        (None, _) => {}
        (Some(Ok(origin)), None) if origin.strip_prefix("http://") == Some(host) => {}
        _ => return Err("the request comes from another page"),
    }
    let site = headers.get("sec-fetch-site").map(|site| site.as_bytes());
    match site {
        None | Some(b"same-origin" | b"none") => Ok(()),
        Some(_) => Err("the request comes from another page"),
    }
}

/// Whether a host is an address of this server. A name can be made to lead here by anybody, an address cannot.
fn is_here(host: &str, port: u16, network: bool) -> bool {
    let (name, given) = match host.strip_prefix('[').and_then(|rest| rest.split_once(']')) {
        Some((name, rest)) => (name, rest.strip_prefix(':').filter(|_| !rest.is_empty())),
        None => host
            .split_once(':')
            .map_or((host, None), |(name, port)| (name, Some(port))),
    };
    let right_port = match given {
        Some(given) => given.parse() == Ok(port),
        None => port == 80,
    };
    let address = name.parse::<IpAddr>();
    let here = match address {
        Ok(address) => network || address.is_loopback(),
        Err(_) => name.eq_ignore_ascii_case("localhost"),
    };
    right_port && here
}

#[cfg(test)]
mod tests {
    use super::*;
    use hyper::header::{HeaderName, HeaderValue};

    fn asked(headers: &[(&'static str, &str)], network: bool) -> bool {
        let mut map = HeaderMap::new();
        for (name, value) in headers {
            map.append(HeaderName::from_static(name), HeaderValue::from_str(value).unwrap());
        }
        admitted(&map, 4000, network).is_ok()
    }

    #[test]
    fn only_pages_of_this_server_ask() {
        assert!(asked(&[("host", "127.0.0.1:4000")], false));
        assert!(asked(
            &[("host", "localhost:4000"), ("origin", "http://localhost:4000")],
            false
        ));
        assert!(asked(
            &[("host", "[::1]:4000"), ("sec-fetch-site", "same-origin")],
            false
        ));
        for (headers, why) in [
            (vec![], "no host"),
            (vec![("host", "127.0.0.1")], "port"),
            (vec![("host", "127.0.0.1:4001")], "port"),
            (
                vec![("host", "127.0.0.1:4000"), ("host", "127.0.0.1:4000")],
                "two hosts",
            ),
            (vec![("host", "shop.example:4000")], "a name that leads here"),
            (
                vec![("host", "127.0.0.1.shop.example:4000")],
                "a name that looks like an address",
            ),
            (vec![("host", "192.0.2.7:4000")], "an address of the network"),
            (
                vec![("host", "127.0.0.1:4000"), ("origin", "http://shop.example")],
                "another page",
            ),
            (vec![("host", "127.0.0.1:4000"), ("origin", "null")], "no page"),
            (
                vec![("host", "127.0.0.1:4000"), ("origin", "https://127.0.0.1:4000")],
                "another scheme",
            ),
            (
                vec![("host", "127.0.0.1:4000"), ("origin", "http://localhost:4000")],
                "another host",
            ),
            (
                vec![("host", "127.0.0.1:4000"), ("sec-fetch-site", "cross-site")],
                "another site",
            ),
        ] {
            assert!(!asked(&headers, false), "{why}");
        }
        assert!(asked(
            &[("host", "192.0.2.7:4000"), ("origin", "http://192.0.2.7:4000")],
            true
        ));
        assert!(!asked(&[("host", "shop.example:4000")], true));
    }

    #[test]
    fn only_the_whole_token_opens() {
        let token = Token::new().unwrap();
        let path = format!("/{}/page.js", token.text());
        assert_eq!(token.text().len(), 2 * TOKEN_BYTES);
        assert_eq!(token.rest(&path), Some("page.js"));
        assert_eq!(token.rest("/page.js"), None);
        assert_eq!(token.rest(&format!("/{}", token.text())), None);
        assert_eq!(token.rest(&format!("/{}x/", token.text())), None);
        assert_eq!(token.rest(&format!("/{}/", &token.text()[1..])), None);
        assert_ne!(Token::new().unwrap().text(), token.text());
    }
}
