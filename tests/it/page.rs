//! The page attacked with plain sockets: whatever is not the browser of this run gets nothing, keeps nothing shut and reads no file.
//!
//! The rule inside: one run is shared by all of it, since what is refused must leave it where it was.

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::process::Child;
use std::time::{Duration, Instant};

use crate::world::{World, text};

/// A run with its page, at its first question.
struct Paged {
    world: World,
    run: Child,
    port: u16,
    code: String,
}

/// What came back.
struct Reply {
    status: u16,
    head: String,
    body: String,
}

impl Paged {
    fn new() -> Paged {
        Paged::walking(World::sequence)
    }

    fn walking(sequence: impl Fn(&World) -> String) -> Paged {
        let world = World::with_key();
        let sequence = sequence(&world);
        let mut run = world
            .command(&["run", &sequence, "--job", "fixtures/saltmarsh.ron", "--page"])
            .stdin(std::process::Stdio::piped())
            .stdout(std::process::Stdio::piped())
            .spawn()
            .unwrap();
        let mut out = std::io::BufReader::new(run.stdout.take().unwrap());
        let mut line = String::new();
        let address = loop {
            line.clear();
            assert_ne!(std::io::BufRead::read_line(&mut out, &mut line).unwrap(), 0);
            if let Some((_, address)) = line.trim().split_once("for one browser: ") {
                break address.to_owned();
            }
        };
        // nobody reads on: the walk must not wait for its terminal
        std::thread::spawn(move || std::io::copy(&mut out, &mut std::io::sink()));
        let (host, code) = address
            .strip_prefix("http://127.0.0.1:")
            .unwrap()
            .split_once("/#")
            .unwrap();
        Paged {
            world,
            run,
            port: host.parse().unwrap(),
            code: code.to_owned(),
        }
    }

    fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(SocketAddr::from(([127, 0, 0, 1], self.port))).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(8))).unwrap();
        stream
    }

    /// A request as it is, to the end of what comes back.
    fn raw(&self, request: &[u8]) -> Reply {
        let mut stream = self.connect();
        // whoever refuses a long body early does not read it all
        let _ = stream.write_all(request);
        let mut all = Vec::new();
        let _ = stream.read_to_end(&mut all);
        let all = text(&all);
        let (head, body) = all.split_once("\r\n\r\n").unwrap_or((&all, ""));
        let status = head.split(' ').nth(1).and_then(|status| status.parse().ok());
        Reply {
            status: status.unwrap_or(0),
            head: head.to_lowercase(),
            body: body.to_owned(),
        }
    }

    fn request(&self, line: &str, headers: &[(&str, &str)], body: &str) -> Reply {
        self.sent(line, headers, body.as_bytes())
    }

    fn sent(&self, line: &str, headers: &[(&str, &str)], body: &[u8]) -> Reply {
        let own = format!("127.0.0.1:{}", self.port);
        let has = |name: &str| headers.iter().any(|(there, _)| there.eq_ignore_ascii_case(name));
        let mut request = format!("{line} HTTP/1.1\r\nConnection: close\r\n");
        if !has("host") {
            request += &format!("Host: {own}\r\n");
        }
        for (name, value) in headers {
            request += &format!("{name}: {value}\r\n");
        }
        if line.starts_with("POST") {
            for (name, value) in [
                ("Origin", format!("http://{own}")),
                ("Content-Type", "application/json".into()),
            ] {
                if !has(name) {
                    request += &format!("{name}: {value}\r\n");
                }
            }
            request += &format!("Content-Length: {}\r\n", body.len());
        }
        self.raw(&[request.as_bytes(), b"\r\n", body].concat())
    }

    /// Sends a picture as the page does, with these headers in place of or beside its own.
    fn picture(&self, number: u64, headers: &[(&str, &str)], body: &[u8]) -> u16 {
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
    fn pictures(&self) -> Vec<std::path::PathBuf> {
        let entries = std::fs::read_dir(self.world.path("photographs"));
        let mut all: Vec<_> = entries
            .into_iter()
            .flatten()
            .map(|entry| entry.unwrap().path())
            .collect();
        all.sort();
        all
    }

    fn post(&self, path: &str, headers: &[(&str, &str)], body: &str) -> u16 {
        self.request(&format!("POST {path}"), headers, body).status
    }

    fn get(&self, path: &str, headers: &[(&str, &str)]) -> Reply {
        self.request(&format!("GET {path}"), headers, "")
    }

    /// Opens the page as its browser does: the cookie.
    fn paired(&self) -> String {
        let reply = self.request("POST /pair", &[], &format!("{{\"code\":\"{}\"}}", self.code));
        assert_eq!(reply.status, 204, "{}", reply.head);
        let cookie = reply
            .head
            .lines()
            .find_map(|line| line.strip_prefix("set-cookie: "))
            .unwrap();
        for word in ["httponly", "samesite=strict", "path=/"] {
            assert!(cookie.contains(word), "{cookie}");
        }
        cookie.split(';').next().unwrap().to_owned()
    }

    /// Events as they come, for as long as this takes.
    fn events(&self, cookie: &str, enough: impl Fn(&str) -> bool) -> String {
        let mut stream = self.connect();
        let host = format!("127.0.0.1:{}", self.port);
        write!(
            stream,
            "GET /events HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\n\r\n"
        )
        .unwrap();
        let (mut all, mut part) = (String::new(), [0; 4096]);
        let until = Instant::now() + Duration::from_secs(8);
        while !enough(&all) && Instant::now() < until {
            let n = stream.read(&mut part).unwrap();
            assert_ne!(n, 0, "{all}");
            all += &text(&part[..n]);
        }
        assert!(enough(&all), "{all}");
        all
    }

    /// The number of the question, and the step it is about.
    fn asked(&self, cookie: &str) -> (u64, String) {
        let prompt = |all: &str| {
            let mut whole = all.rsplit_once("\n\n")?.0.lines();
            whole.find_map(|line| {
                let state: serde_json::Value = serde_json::from_str(line.strip_prefix("data: ")?).unwrap();
                state.get("prompt").filter(|prompt| prompt.is_object()).cloned()
            })
        };
        let events = self.events(cookie, |all| prompt(all).is_some());
        let prompt = prompt(&events).unwrap();
        (
            prompt["number"].as_u64().unwrap(),
            prompt["step"].as_str().unwrap().to_owned(),
        )
    }

    fn answers(&self) -> usize {
        let journal = std::fs::read_to_string(&self.world.journals()[0]).unwrap();
        journal.matches("{\"answered").count()
    }
}

impl Drop for Paged {
    fn drop(&mut self) {
        let _ = self.run.kill();
        let _ = self.run.wait();
    }
}

#[test]
fn nobody_but_the_browser_of_this_run_gets_anything() {
    let paged = Paged::new();
    let port = paged.port;
    // before it is paired: the files, which say nothing, and no state
    let mut bytes = 0;
    for path in ["/", "/page.js", "/page.css"] {
        let reply = paged.get(path, &[]);
        bytes += reply.body.len();
        assert_eq!(reply.status, 200, "{path}");
        for header in [
            "content-security-policy: default-src 'none';",
            "require-trusted-types-for 'script'",
            "frame-ancestors 'none'",
            "x-content-type-options: nosniff",
            "referrer-policy: no-referrer",
            "cross-origin-opener-policy: same-origin",
            "cross-origin-resource-policy: same-origin",
            "cache-control: no-store",
        ] {
            assert!(reply.head.contains(header), "{path}: {header} in {}", reply.head);
        }
        // nothing outside is asked for
        let own = reply.body.replace("http://www.w3.org/2000/svg", "");
        assert!(!own.contains("://") && !own.contains("url("), "{path}");
    }
    assert!(bytes < 60_000, "a page of {bytes} bytes");
    let unknown = [
        paged.get("/events", &[]).status,
        paged
            .get(
                "/events",
                &[("Cookie", &format!("coreproof-{port}=00000000000000000000000000000000"))],
            )
            .status,
        paged.post("/answer", &[], "{\"prompt\":1,\"say\":\"back\"}"),
        paged.post("/seen", &[], "{\"danger\":1}"),
        paged.post("/here", &[], "{}"),
    ];
    assert_eq!(unknown, [401; 5]);
    // a code is guessed slowly
    let began = Instant::now();
    assert_eq!(
        paged.post("/pair", &[], "{\"code\":\"0123456789abcdef0123456789abcdef\"}"),
        403
    );
    assert!(Duration::from_millis(200) < began.elapsed());
    let cookie = paged.paired();
    assert_eq!(
        paged.post("/pair", &[], &format!("{{\"code\":\"{}\"}}", paged.code)),
        403,
        "a code pairs once"
    );

    let (number, step) = paged.asked(&cookie);
    let answer = format!("{{\"prompt\":{number},\"say\":{{\"choice\":0}}}}");
    let with = |headers: &[(&str, &str)]| {
        let mut all = vec![("Cookie", cookie.as_str())];
        all.extend_from_slice(headers);
        paged.post("/answer", &all, &answer)
    };
    let refused = [
        (with(&[("Host", "example.org")]), 421),
        (with(&[("Host", &format!("localhost:{port}"))]), 421),
        (with(&[("Origin", "null")]), 403),
        (with(&[("Origin", "http://example.org")]), 403),
        (with(&[("Origin", &format!("http://127.0.0.1:{}", port ^ 1))]), 403),
        (with(&[("Sec-Fetch-Site", "cross-site")]), 403),
        (with(&[("Sec-Fetch-Site", "same-site")]), 403),
        (with(&[("Content-Type", "text/plain")]), 415),
        (with(&[("Content-Type", "application/x-www-form-urlencoded")]), 415),
        (paged.request("OPTIONS /answer", &[("Cookie", &cookie)], "").status, 405),
        (paged.request("GET /answer", &[("Cookie", &cookie)], "").status, 405),
        (paged.get("/../Cargo.toml", &[("Cookie", &cookie)]).status, 404),
        (paged.get("/page.js?x=1", &[("Cookie", &cookie)]).status, 404),
        (paged.get("/etc/passwd", &[("Cookie", &cookie)]).status, 404),
    ];
    for (n, (status, expected)) in refused.into_iter().enumerate() {
        assert_eq!(status, expected, "attack {n}");
    }
    let own = [("Cookie", cookie.as_str())];
    for (body, expected) in [
        (format!("{{\"prompt\":{},\"say\":{{\"choice\":0}}}}", number - 1), 409),
        (format!("{{\"prompt\":{},\"say\":{{\"choice\":0}}}}", number + 1), 409),
        (format!("{{\"prompt\":{number},\"say\":{{\"choice\":99}}}}"), 422),
        (
            format!("{{\"prompt\":{number},\"say\":{{\"text\":\"photograph /etc/passwd\"}}}}"),
            422,
        ),
        (
            format!("{{\"prompt\":{number},\"say\":{{\"reading\":\"230 V\"}}}}"),
            422,
        ),
        (format!("{{\"prompt\":{number},\"line\":\"lit\"}}"), 400),
        ("lit".to_owned(), 400),
        (String::new(), 400),
        ("[".repeat(4000), 400),
        ("x".repeat(5000), 413),
    ] {
        assert_eq!(
            paged.post("/answer", &own, &body),
            expected,
            "{}",
            &body[..body.len().min(80)]
        );
    }
    assert_eq!(
        (paged.answers(), paged.asked(&cookie)),
        (0, (number, step)),
        "nothing of it was taken"
    );

    // and three taps at once are one answer
    let taken: Vec<u16> = std::thread::scope(|scope| {
        let taps: Vec<_> = (0..3)
            .map(|_| scope.spawn(|| paged.post("/answer", &own, &answer)))
            .collect();
        taps.into_iter().map(|tap| tap.join().unwrap()).collect()
    });
    let mut sorted = taken.clone();
    sorted.sort_unstable();
    assert_eq!(sorted, [202, 409, 409], "{taken:?}");
    let until = Instant::now() + Duration::from_secs(5);
    while paged.asked(&cookie).0 != number + 1 {
        assert!(Instant::now() < until, "the next question never came");
    }
    assert_eq!(paged.post("/answer", &own, &answer), 409, "a replay");
    assert_eq!(paged.answers(), 1);
    let journal = std::fs::read_to_string(&paged.world.journals()[0]).unwrap();
    assert_eq!(
        journal.matches("{\"turned_to\":{\"face\":\"page\"}}").count(),
        1,
        "the record says by which face"
    );
}

#[test]
fn silence_keeps_nothing_shut() {
    let paged = Paged::new();
    let cookie = paged.paired();
    // a paired page listens, strangers take every seat and say nothing
    let mut listening = paged.connect();
    let host = format!("127.0.0.1:{}", paged.port);
    write!(
        listening,
        "GET /events HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\n\r\n"
    )
    .unwrap();
    assert_ne!(listening.read(&mut [0; 64]).unwrap(), 0);
    let mut silent: Vec<TcpStream> = (0..40).map(|_| paged.connect()).collect();
    let began = Instant::now();
    assert_eq!(paged.get("/", &[]).status, 200);
    assert!(began.elapsed() < Duration::from_secs(2), "{:?}", began.elapsed());
    // half a head, half a body and nothing at all are given up after their time
    let mut half = paged.connect();
    write!(half, "GET / HTTP/1.1\r\nHost: {host}\r\n").unwrap();
    let mut body = paged.connect();
    write!(
        body,
        "POST /answer HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nCookie: {cookie}\r\nContent-Type: application/json\r\n\
         Content-Length: 100\r\n\r\n{{"
    )
    .unwrap();
    let mut last = silent.pop().unwrap();
    for stream in [&mut half, &mut last, &mut body] {
        let mut all = Vec::new();
        let _ = stream.read_to_end(&mut all);
        let took = began.elapsed();
        assert!(took < Duration::from_secs(5), "{took:?}");
        let all = text(&all);
        assert!(all.is_empty() || all.contains(" 408 "), "{all}");
    }
    // a head without end is cut
    let endless = format!("GET / HTTP/1.1\r\nHost: {host}\r\nX: {}\r\n\r\n", "x".repeat(100_000));
    assert!([0, 431].contains(&paged.raw(endless.as_bytes()).status));
    // and whoever was paired still listens
    listening.set_read_timeout(Some(Duration::from_secs(2))).unwrap();
    let mut part = [0; 65536];
    for _ in 0..3 {
        assert_ne!(listening.read(&mut part).unwrap(), 0);
    }
}

const JPEG: &[u8] = b"\xff\xd8\xff\xe0\0\x10JFIF\0 of both ends, as found";

#[test]
fn a_picture_is_named_by_the_program_and_whatever_is_none_leaves_nothing() {
    let paged = Paged::walking(World::looked_at);
    let cookie = paged.paired();
    let (number, step) = paged.asked(&cookie);
    assert_eq!(step, "picture");
    let own = ("Cookie", cookie.as_str());
    let stranger = format!("coreproof-{}=00000000000000000000000000000000", paged.port);
    let port = paged.port;
    let refused = [
        (paged.picture(number, &[], JPEG), 401),
        (paged.picture(number, &[("Cookie", &stranger)], JPEG), 401),
        (paged.picture(number, &[own, ("Host", "example.org")], JPEG), 421),
        (paged.picture(number, &[own, ("Origin", "null")], JPEG), 403),
        (
            paged.picture(
                number,
                &[own, ("Origin", &format!("http://127.0.0.1:{}", port ^ 1))],
                JPEG,
            ),
            403,
        ),
        (
            paged.picture(number, &[own, ("Sec-Fetch-Site", "cross-site")], JPEG),
            403,
        ),
        (paged.picture(number - 1, &[own], JPEG), 409),
        (paged.picture(number + 1, &[own], JPEG), 409),
        (paged.picture(number, &[own, ("Coreproof-Prompt", "")], JPEG), 400),
        (paged.picture(number, &[own, ("Coreproof-Prompt", "../1")], JPEG), 400),
        (
            paged.picture(
                number,
                &[own, ("Coreproof-Prompt", "1"), ("coreproof-prompt", "2")],
                JPEG,
            ),
            400,
        ),
        (
            paged
                .sent("POST /photograph", &[own, ("Content-Type", "image/png")], JPEG)
                .status,
            400,
        ),
        (
            paged.picture(number, &[own, ("Content-Type", "application/json")], JPEG),
            415,
        ),
        (
            paged.picture(
                number,
                &[own, ("Content-Type", "multipart/form-data; boundary=x")],
                JPEG,
            ),
            415,
        ),
        (paged.picture(number, &[own, ("Content-Type", "text/plain")], JPEG), 415),
        (
            paged.picture(number, &[own, ("Content-Type", "image/svg+xml")], JPEG),
            415,
        ),
        (paged.picture(number, &[own], b""), 415),
        (paged.picture(number, &[own], b"\xff\xd8"), 415),
        (paged.picture(number, &[own], b"<html><script>"), 415),
        (paged.picture(number, &[own], b"#!/bin/sh\n"), 415),
        (paged.picture(number, &[own], b"\0\0\0\x18ftypheic"), 415),
        (paged.picture(number, &[own], b"photograph /etc/passwd"), 415),
        (
            paged
                .sent("POST /photograph/1.jpg", &[own, ("Content-Type", "image/jpeg")], JPEG)
                .status,
            415,
        ),
        (
            paged
                .sent("POST /photograph?file=x", &[own, ("Content-Type", "image/jpeg")], JPEG)
                .status,
            404,
        ),
        (paged.get("/photograph", &[own]).status, 405),
        (paged.get("/photographs/1.jpg", &[own]).status, 404),
        // a picture is no answer
        (
            paged
                .sent("POST /answer", &[own, ("Content-Type", "image/jpeg")], JPEG)
                .status,
            415,
        ),
    ];
    for (n, (status, expected)) in refused.into_iter().enumerate() {
        assert_eq!(status, expected, "attack {n}");
    }

    // too long by its own word, too long without one, half of one
    let host = format!("127.0.0.1:{port}");
    let head = format!(
        "POST /photograph HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nCookie: {cookie}\r\nContent-Type: image/jpeg\r\n\
         Coreproof-Prompt: {number}\r\nConnection: close\r\n"
    );
    let stated = paged.raw(format!("{head}Content-Length: 999999999999\r\n\r\n\u{ff}").as_bytes());
    assert_eq!(stated.status, 413);
    let mut endless = format!("{head}Transfer-Encoding: chunked\r\n\r\n").into_bytes();
    for _ in 0..17 {
        endless.extend_from_slice(b"100000\r\n");
        endless.extend_from_slice(&[0xff; 1 << 20]);
        endless.extend_from_slice(b"\r\n");
    }
    assert!([413, 0].contains(&paged.raw(&endless).status));
    let mut half = paged.connect();
    half.write_all(&[head.as_bytes(), b"Content-Length: 1000\r\n\r\n", JPEG].concat())
        .unwrap();
    let until = Instant::now() + Duration::from_secs(2);
    while paged.picture(number, &[own], b"none") != 429 {
        assert!(Instant::now() < until, "one is on its way");
    }
    let mut all = Vec::new();
    let _ = half.read_to_end(&mut all);
    assert!(text(&all).contains(" 408 "), "{}", text(&all));
    // and one that is cut off
    let mut cut = paged.connect();
    cut.write_all(&[head.as_bytes(), b"Content-Length: 1000\r\n\r\n", JPEG].concat())
        .unwrap();
    drop(cut);
    assert_eq!(paged.pictures(), [] as [std::path::PathBuf; 0]);
    assert_eq!((paged.answers(), paged.asked(&cookie)), (0, (number, step)));

    // the page's own: no name in it is used
    let named = ("Content-Disposition", "attachment; filename=\"../../runs/x.jpg\"");
    let until = Instant::now() + Duration::from_secs(4);
    let taken = loop {
        match paged.picture(number, &[own, named], JPEG) {
            429 if Instant::now() < until => std::thread::sleep(Duration::from_millis(20)),
            other => break other,
        }
    };
    assert_eq!(taken, 202);
    let notes = paged.events(&cookie, |all| all.contains("bound in: "));
    let run = paged.world.journals()[0]
        .file_stem()
        .unwrap()
        .to_string_lossy()
        .into_owned();
    let file = paged.world.path(&format!("photographs/{run}-1.jpg"));
    assert_eq!(paged.pictures(), std::slice::from_ref(&file));
    assert_eq!(std::fs::read(&file).unwrap(), JPEG);
    let sha256 = <sha2::Sha256 as sha2::Digest>::digest(JPEG);
    let sha256: String = sha256.iter().map(|byte| format!("{byte:02x}")).collect();
    assert!(notes.contains(&sha256), "{notes}");
    let said = format!("{{\"prompt\":{number},\"say\":{{\"text\":\"three terminals used\"}}}}");
    assert_eq!(paged.post("/answer", &[own], &said), 202);
    let until = Instant::now() + Duration::from_secs(5);
    while paged.asked(&cookie).0 == number {
        assert!(Instant::now() < until, "the next question never came");
    }
    let journal = std::fs::read_to_string(&paged.world.journals()[0]).unwrap();
    let bound = format!("\"photograph\":{{\"file\":\"{run}-1.jpg\",\"sha256\":\"{sha256}\"}}");
    assert!(journal.contains(&bound), "{journal}");
    // what comes late, and where none is asked for
    assert_eq!(paged.picture(number, &[own], JPEG), 409);
    assert_eq!(paged.picture(number + 1, &[own], JPEG), 422);
    assert_eq!(paged.pictures(), [file]);
}
