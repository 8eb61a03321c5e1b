//! A run with its page, asked by plain sockets: with TLS where it is served on a network.
//!
//! The rule inside: what is sent is written out byte by byte, so that an attack can send what no browser would.

use std::io::{Read, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpStream};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use rustls_pki_types::pem::PemObject;
use rustls_pki_types::{CertificateDer, ServerName};
use serde_json::Value;
use tokio_rustls::rustls::{ClientConfig, ClientConnection, RootCertStore, StreamOwned, crypto, version};

use crate::world::{Walk, World, text};

/// A run with its page, at its first question.
pub struct Paged {
    pub world: World,
    walk: Mutex<Walk>,
    pub at: SocketAddr,
    pub code: String,
    tls: Option<Arc<ClientConfig>>,
}

/// What came back.
pub struct Reply {
    pub status: u16,
    pub head: String,
    pub body: String,
}

/// A connection, with TLS or without.
pub trait Wire: Read + Write + Send {}

impl<W: Read + Write + Send> Wire for W {}

impl Paged {
    /// A run with these arguments.
    pub fn new(more: &[&str]) -> Paged {
        Paged::walking(World::sequence, more)
    }

    /// The same of another sequence.
    pub fn walking(sequence: fn(&World) -> String, more: &[&str]) -> Paged {
        let world = World::with_key();
        let sequence = sequence(&world);
        let mut walk = world.talk(&[&["run", &sequence, "--job", "fixtures/saltmarsh.ron"], more].concat());
        let address = loop {
            let line = walk.line().expect("it says its address");
            if let Some((_, address)) = line.trim().split_once("for one browser: ") {
                break address.to_owned();
            }
        };
        let (origin, code) = address.split_once("/#").unwrap();
        let (scheme, at) = origin.split_once("://").unwrap();
        Paged {
            tls: (scheme == "https").then(|| trusting(&world)),
            world,
            walk: Mutex::new(walk),
            at: at.parse().unwrap(),
            code: code.to_owned(),
        }
    }

    /// Both ways of serving it, so that each attack is tried on each; a loopback address stands for one on a network, which a test has not.
    pub fn both(sequence: fn(&World) -> String) -> [Paged; 2] {
        [&["--page"][..], &["--page", "127.0.0.1"]].map(|more| Paged::walking(sequence, more))
    }

    /// The terminal beside it.
    pub fn terminal(&self) -> MutexGuard<'_, Walk> {
        self.walk.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub fn is_tls(&self) -> bool {
        self.tls.is_some()
    }

    pub fn host(&self) -> String {
        self.at.to_string()
    }

    pub fn origin(&self) -> String {
        format!("{}://{}", if self.is_tls() { "https" } else { "http" }, self.at)
    }

    /// The name of its cookie.
    pub fn cookie_name(&self) -> String {
        let prefix = if self.is_tls() { "__Host-" } else { "" };
        format!("{prefix}coreproof-{}", self.at.port())
    }

    /// A connection that has said nothing, not even of TLS.
    pub fn silent(&self) -> TcpStream {
        waiting(TcpStream::connect(self.at).unwrap())
    }

    /// The same from another address of the loopback.
    pub fn silent_from(&self, last: u8) -> TcpStream {
        use rustix::net::{AddressFamily, SocketAddrV4, SocketFlags, SocketType, bind, connect, socket_with};
        let flags = SocketFlags::CLOEXEC;
        let from = socket_with(AddressFamily::INET, SocketType::STREAM, flags, None).unwrap();
        bind(&from, &SocketAddrV4::new(Ipv4Addr::new(127, 0, 0, last), 0)).unwrap();
        connect(&from, &SocketAddrV4::new(Ipv4Addr::LOCALHOST, self.at.port())).unwrap();
        waiting(TcpStream::from(from))
    }

    pub fn connect(&self) -> Box<dyn Wire> {
        self.over(self.silent())
    }

    pub fn over(&self, stream: TcpStream) -> Box<dyn Wire> {
        match &self.tls {
            None => Box::new(stream),
            Some(config) => {
                let name = ServerName::from(self.at.ip());
                let client = ClientConnection::new(config.clone(), name).unwrap();
                Box::new(StreamOwned::new(client, stream))
            }
        }
    }

    /// A request as it is, to the end of what comes back.
    pub fn raw(&self, request: &[u8]) -> Reply {
        let mut stream = self.connect();
        // one that is cut off in the middle, or refused before its end, is seen by what comes back
        let _ = stream.write_all(request);
        let mut all = Vec::new();
        let _ = stream.read_to_end(&mut all);
        let all = text(&all);
        let (head, body) = all.split_once("\r\n\r\n").unwrap_or((&all, ""));
        let status = head.split(' ').nth(1).and_then(|status| status.parse().ok());
        Reply {
            status: status.unwrap_or(0),
            head: head.to_owned(),
            body: body.to_owned(),
        }
    }

    pub fn request(&self, line: &str, headers: &[(&str, &str)], body: &str) -> Reply {
        self.sent(line, headers, body.as_bytes())
    }

    /// The same with a body that need not be text.
    pub fn sent(&self, line: &str, headers: &[(&str, &str)], body: &[u8]) -> Reply {
        let has = |name: &str| headers.iter().any(|(there, _)| there.eq_ignore_ascii_case(name));
        let mut request = format!("{line} HTTP/1.1\r\nConnection: close\r\n");
        if !has("host") {
            request += &format!("Host: {}\r\n", self.host());
        }
        for (name, value) in headers {
            request += &format!("{name}: {value}\r\n");
        }
        if line.starts_with("POST") {
            for (name, value) in [("Origin", self.origin()), ("Content-Type", "application/json".into())] {
                if !has(name) {
                    request += &format!("{name}: {value}\r\n");
                }
            }
            request += &format!("Content-Length: {}\r\n", body.len());
        }
        self.raw(&[request.as_bytes(), b"\r\n", body].concat())
    }

    /// Sends a picture as the page does, with these headers in place of or beside its own: the status.
    pub fn picture(&self, number: u64, headers: &[(&str, &str)], body: &[u8]) -> u16 {
        let number = number.to_string();
        let mut all = headers.to_vec();
        for own in [("Content-Type", "image/jpeg"), ("Coreproof-Prompt", &number)] {
            if !headers.iter().any(|(there, _)| *there == own.0) {
                all.push(own);
            }
        }
        self.sent("POST /photograph", &all, body).status
    }

    /// What is kept of pictures.
    pub fn pictures(&self) -> Vec<PathBuf> {
        let entries = std::fs::read_dir(self.world.path("photographs"));
        let entries = entries.into_iter().flatten();
        let mut all: Vec<_> = entries.map(|entry| entry.unwrap().path()).collect();
        all.sort();
        all
    }

    pub fn post(&self, path: &str, headers: &[(&str, &str)], body: &str) -> u16 {
        self.request(&format!("POST {path}"), headers, body).status
    }

    pub fn get(&self, path: &str, headers: &[(&str, &str)]) -> Reply {
        self.request(&format!("GET {path}"), headers, "")
    }

    pub fn pair(&self, code: &str) -> Reply {
        self.request("POST /pair", &[], &format!("{{\"code\":\"{code}\"}}"))
    }

    /// Opens the page as its browser does: the cookie.
    pub fn paired(&self) -> String {
        let reply = self.pair(&self.code);
        assert_eq!(reply.status, 204, "{}", reply.head);
        let cookie = reply.head.lines().find_map(|line| line.strip_prefix("set-cookie: "));
        let (pair, about) = cookie.unwrap().split_once("; ").unwrap();
        let secure = if self.is_tls() { "; Secure" } else { "" };
        assert_eq!(about, format!("Path=/; HttpOnly; SameSite=Strict{secure}"));
        let (name, value) = pair.split_once('=').unwrap();
        assert_eq!((name, value.len()), (self.cookie_name().as_str(), 32));
        pair.to_owned()
    }

    /// A connection on which events come.
    pub fn listen(&self, cookie: &str) -> Box<dyn Wire> {
        let mut stream = self.connect();
        let host = self.host();
        write!(
            stream,
            "GET /events HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\n\r\n"
        )
        .unwrap();
        stream
    }

    /// The state as a page is told it first once something is asked.
    pub fn state(&self, cookie: &str) -> Value {
        let (mut stream, mut all, mut part) = (self.listen(cookie), String::new(), [0; 4096]);
        let until = Instant::now() + Duration::from_secs(8);
        loop {
            // only whole events
            let whole = all.rsplit_once("\n\n").map_or("", |(whole, _)| whole);
            let data = whole.lines().filter_map(|line| line.strip_prefix("data: "));
            let mut states = data.filter_map(|data| serde_json::from_str::<Value>(data).ok());
            if let Some(state) = states.find(|state| state["prompt"].is_object()) {
                return state;
            }
            assert!(Instant::now() < until, "{all}");
            let n = stream.read(&mut part).unwrap();
            assert_ne!(n, 0, "{all}");
            all += &text(&part[..n]);
        }
    }

    /// The number of the question, and the step it is about.
    pub fn asked(&self, cookie: &str) -> (u64, String) {
        let prompt = &self.state(cookie)["prompt"];
        let step = prompt["step"].as_str().unwrap();
        (prompt["number"].as_u64().unwrap(), step.to_owned())
    }

    /// Waits for the question after this one.
    pub fn asked_after(&self, cookie: &str, number: u64) {
        let until = Instant::now() + Duration::from_secs(5);
        while self.asked(cookie).0 != number + 1 {
            assert!(Instant::now() < until, "the next question never came");
        }
    }

    pub fn journal(&self) -> String {
        std::fs::read_to_string(&self.world.journals()[0]).unwrap()
    }

    pub fn answers(&self) -> usize {
        self.journal().matches("{\"answered").count()
    }
}

impl Drop for Paged {
    fn drop(&mut self) {
        let mut walk = self.terminal();
        let _ = walk.child.kill();
        let _ = walk.child.wait();
    }
}

fn waiting(stream: TcpStream) -> TcpStream {
    stream.set_read_timeout(Some(Duration::from_secs(8))).unwrap();
    stream
}

/// A client that believes the kept certificate and nothing else, for the address that it names and as a server's.
fn trusting(world: &World) -> Arc<ClientConfig> {
    let kept = CertificateDer::from_pem_file(world.path("page.pem")).unwrap();
    let mut roots = RootCertStore::empty();
    roots.add(kept).unwrap();
    let config = ClientConfig::builder_with_provider(Arc::new(crypto::ring::default_provider()))
        .with_protocol_versions(&[&version::TLS13])
        .unwrap()
        .with_root_certificates(roots)
        .with_no_client_auth();
    Arc::new(config)
}
