//! The page attacked with plain sockets: whatever is not the browser of this run gets nothing, keeps nothing shut and reads no file.
//!
//! The rule inside: one run is shared by all of an attack, since what is refused must leave it where it was; what is tried on the loopback is
//! tried on a network as well.

use std::io::{Read, Write};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::paged::{Paged, Wire};
use crate::world::{Walk, World, text};

#[test]
fn nobody_but_the_browser_of_this_run_gets_anything() {
    Paged::both(World::sequence).iter().for_each(attack);
}

fn attack(paged: &Paged) {
    let (host, port) = (paged.host(), paged.at.port());
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
                &[(
                    "Cookie",
                    &format!("{}=00000000000000000000000000000000", paged.cookie_name()),
                )],
            )
            .status,
        paged.post("/answer", &[], "{\"prompt\":1,\"say\":\"back\"}"),
        paged.post("/seen", &[], "{\"danger\":1}"),
        paged.post("/here", &[], "{}"),
    ];
    assert_eq!(unknown, [401; 5]);
    // a code is guessed slowly
    let began = Instant::now();
    assert_eq!(paged.pair("0123456789abcdef0123456789abcdef").status, 403);
    assert!(Duration::from_millis(200) < began.elapsed());
    let cookie = paged.paired();
    assert_eq!(paged.pair(&paged.code).status, 410, "a code pairs once");

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
        (with(&[("Host", "127.0.0.1")]), 421),
        (with(&[("Host", &host), ("Host", &host)]), 421),
        (
            with(&[(
                "Origin",
                &paged.origin().replace(&port.to_string(), &(port ^ 1).to_string()),
            )]),
            403,
        ),
        (
            with(&[(
                "Origin",
                &format!("{}://{host}", if paged.is_tls() { "http" } else { "https" }),
            )]),
            403,
        ),
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
    paged.asked_after(&cookie, number);
    assert_eq!(paged.post("/answer", &own, &answer), 409, "a replay");
    assert_eq!(paged.answers(), 1);
    assert_eq!(
        paged.journal().matches(&turned_to(paged)).count(),
        1,
        "the record says by which face"
    );
}

/// What the record says of the face of its first browser.
fn turned_to(paged: &Paged) -> String {
    let face = if paged.is_tls() { "{\"device\":1}" } else { "\"page\"" };
    format!("{{\"turned_to\":{{\"face\":{face}}}}}")
}

#[test]
fn silence_keeps_nothing_shut() {
    Paged::both(World::sequence).iter().for_each(silence);
}

fn silence(paged: &Paged) {
    let cookie = paged.paired();
    // a paired page listens, strangers take every seat and say nothing
    let mut listening = paged.listen(&cookie);
    assert_ne!(listening.read(&mut [0; 64]).unwrap(), 0);
    let mut silent: Vec<_> = (0..40).map(|_| paged.silent()).collect();
    let many: Vec<_> = (2..60).map(|last| paged.silent_from(last)).collect();
    let began = Instant::now();
    assert_eq!(paged.get("/", &[]).status, 200);
    let mut other = paged.over(paged.silent_from(200));
    write!(
        other,
        "GET / HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n",
        paged.host()
    )
    .unwrap();
    let mut first = [0; 12];
    other.read_exact(&mut first).unwrap();
    assert_eq!(&first, b"HTTP/1.1 200", "one from another address");
    assert!(began.elapsed() < Duration::from_secs(2), "{:?}", began.elapsed());
    drop(many);
    // half a head, half a body and nothing at all are given up after their time
    let host = paged.host();
    let mut half = paged.connect();
    write!(half, "GET / HTTP/1.1\r\nHost: {host}\r\n").unwrap();
    let mut body = paged.connect();
    write!(
        body,
        "POST /answer HTTP/1.1\r\nHost: {host}\r\nOrigin: {}\r\nCookie: {cookie}\r\nContent-Type: application/json\r\n\
         Content-Length: 100\r\n\r\n{{",
        paged.origin()
    )
    .unwrap();
    let last: Box<dyn Wire> = Box::new(silent.pop().unwrap());
    for mut stream in [half, last, body] {
        let mut all = Vec::new();
        let _ = stream.read_to_end(&mut all);
        let took = began.elapsed();
        assert!(took < Duration::from_secs(6), "{took:?}");
        let all = text(&all);
        assert!(all.is_empty() || all.contains(" 408 "), "{all}");
    }
    // a head without end is cut
    let endless = format!("GET / HTTP/1.1\r\nHost: {host}\r\nX: {}\r\n\r\n", "x".repeat(100_000));
    assert!([0, 431].contains(&paged.raw(endless.as_bytes()).status));
    // and whoever was paired still listens
    let mut part = [0; 65536];
    for _ in 0..3 {
        assert_ne!(listening.read(&mut part).unwrap(), 0);
    }
}

#[test]
fn a_spent_address_brings_the_next_to_the_terminal_alone() {
    let paged = Paged::new(&["--page", "127.0.0.1"]);
    let first = paged.paired();
    paged.terminal().until("The page was opened by 127.0.0.1: device 1.");
    let reply = paged.pair(&paged.code);
    assert_eq!((reply.status, reply.body.as_str()), (410, "Gone"));
    paged
        .terminal()
        .until(&format!("for one browser: {}/#", paged.origin()));
    let said = paged.terminal().seen.clone();
    let next = said.trim_end().rsplit_once("/#").unwrap().1;
    assert_ne!(next, paged.code);
    let second = paged.pair(next);
    assert_eq!(second.status, 204);
    let cookie = second.head.lines().find_map(|line| line.strip_prefix("set-cookie: "));
    let second = cookie.unwrap().split(';').next().unwrap().to_owned();
    // the newest answers, and nothing stands proved where nobody knows who looks at it
    let answers = |cookie: &str| paged.state(cookie)["answers"].as_bool().unwrap();
    assert_eq!((answers(&first), answers(&second)), (false, true));
    let (number, _) = paged.asked(&first);
    let answer = format!("{{\"prompt\":{number},\"say\":{{\"choice\":0}}}}");
    assert_eq!(paged.post("/answer", &[("Cookie", &first)], &answer), 423);
    assert_eq!(paged.post("/here", &[("Cookie", &first)], "{}"), 202);
    assert_eq!((answers(&first), answers(&second)), (true, false));
    assert_eq!(paged.post("/answer", &[("Cookie", &second)], &answer), 423);
    assert_eq!(paged.post("/answer", &[("Cookie", &first)], &answer), 202);
}

#[test]
fn what_makes_dead_is_said_at_the_laptop_and_not_on_a_network() {
    let paged = Paged::new(&["--page", "127.0.0.1"]);
    let cookie = paged.paired();
    let own = [("Cookie", cookie.as_str())];
    for _ in 0..40 {
        let state = paged.state(&cookie);
        assert_eq!(state["at_laptop"], false);
        let (prompt, number) = (&state["prompt"], state["prompt"]["number"].as_u64().unwrap());
        let say = |say: Value| json!({"prompt": number, "say": say}).to_string();
        let choices = prompt["choices"].as_array().unwrap();
        let grave = choices.iter().position(|choice| choice["weight"] == "laptop_only");
        let Some(grave) = grave else {
            let good = Walk::good(prompt["step"].as_str().unwrap());
            let at = choices
                .iter()
                .position(|choice| choice["word"] == good || choice["means"] == good);
            assert_eq!(
                paged.post("/answer", &own, &say(json!({"choice": at.unwrap()}))),
                202,
                "{prompt}"
            );
            paged.asked_after(&cookie, number);
            continue;
        };
        assert_eq!(prompt["step"], "switch-off");
        let before = paged.answers();
        assert_eq!(paged.post("/answer", &own, &say(json!({"choice": grave}))), 403);
        assert_eq!(paged.post("/answer", &own, &say(json!({"text": "done"}))), 422);
        assert_eq!(
            (paged.answers(), paged.asked(&cookie).0),
            (before, number),
            "nothing of it was taken"
        );
        paged.terminal().answer("done");
        paged.asked_after(&cookie, number);
        assert_eq!(paged.answers(), before + 1);
        return;
    }
    panic!("nothing was to be switched off");
}

#[test]
fn what_is_no_tls_gets_no_answer() {
    let paged = Paged::new(&["--page", "127.0.0.1"]);
    let mut plain = paged.silent();
    write!(plain, "GET / HTTP/1.1\r\nHost: {}\r\n\r\n", paged.host()).unwrap();
    let mut all = Vec::new();
    let _ = plain.read_to_end(&mut all);
    assert!(!text(&all).contains("HTTP"), "{}", text(&all));
    // and whoever has another certificate is not believed
    let again = Paged::new(&["--page", "127.0.0.1"]);
    let mut stream = paged.over(again.silent());
    let error = stream
        .write_all(b"GET / HTTP/1.1\r\n\r\n")
        .and_then(|()| stream.read_exact(&mut [0; 1]));
    assert!(error.unwrap_err().to_string().contains("certificate"));
}

#[test]
fn the_certificate_is_kept_and_told() {
    let world = World::with_key();
    let told = |args: &[&str]| {
        let mut walk = world.talk(args);
        walk.until("Use the phone's own hotspot or a cable, not the Wi-Fi of the site.");
        walk.until("for one browser: https://127.0.0.1:");
        let seen = walk.seen.clone();
        walk.kill();
        let made = seen
            .lines()
            .find(|line| line.starts_with("A certificate was made"))
            .map(str::to_owned);
        let prints = seen
            .lines()
            .filter(|line| line.trim().split(':').count() == 16 + usize::from(line.ends_with(':')));
        (made, prints.map(str::trim).collect::<String>())
    };
    let (made, first) = told(&[
        "run",
        &world.sequence(),
        "--job",
        "fixtures/saltmarsh.ron",
        "--page",
        "127.0.0.1",
    ]);
    assert_eq!(
        made.as_deref(),
        Some("A certificate was made for the page: there was none.")
    );
    assert_eq!(first.len(), 95, "{first}");
    assert_eq!(told(&["resume", "--page", "127.0.0.1"]), (None, first.clone()));
    std::fs::write(world.path("page.pem"), "x").unwrap();
    let (made, second) = told(&["resume", "--page", "127.0.0.1"]);
    assert_eq!(
        made.as_deref(),
        Some("A certificate was made for the page: the file of the last one is damaged.")
    );
    assert_ne!(second, first);
}

#[test]
fn a_page_that_cannot_be_served_leaves_no_run_begun() {
    let world = World::with_key();
    let sequence = world.sequence();
    let check = |at: &str, code: i32, expected: &str| {
        let output = world.run(&["run", &sequence, "--job", "fixtures/saltmarsh.ron", "--page", at]);
        let errors = text(&output.stderr);
        assert_eq!(output.status.code(), Some(code), "{errors}");
        assert!(errors.contains(expected), "{errors}");
        assert!(world.journals().is_empty());
    };
    check("192.0.2.9", 2, "`192.0.2.9` is no address of this machine");
    check("0.0.0.0", 2, "`0.0.0.0` is no address that another machine can open");
    check("hall", 2, "a run's name stands before `--page`");
}

const JPEG: &[u8] = b"\xff\xd8\xff\xe0\0\x10JFIF\0 of both ends, as found";

#[test]
fn a_picture_is_named_by_the_program_and_whatever_is_none_leaves_nothing() {
    Paged::both(World::looked_at).iter().for_each(pictures);
}

fn pictures(paged: &Paged) {
    let cookie = paged.paired();
    let (number, step) = paged.asked(&cookie);
    assert_eq!(step, "picture");
    let own = ("Cookie", cookie.as_str());
    let stranger = format!("{}=00000000000000000000000000000000", paged.cookie_name());
    let (host, origin, port) = (paged.host(), paged.origin(), paged.at.port());
    let other = origin.replace(&port.to_string(), &(port ^ 1).to_string());
    let refused = [
        (paged.picture(number, &[], JPEG), 401),
        (paged.picture(number, &[("Cookie", &stranger)], JPEG), 401),
        (paged.picture(number, &[own, ("Host", "example.org")], JPEG), 421),
        (paged.picture(number, &[own, ("Origin", "null")], JPEG), 403),
        (paged.picture(number, &[own, ("Origin", &other)], JPEG), 403),
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
    let head = format!(
        "POST /photograph HTTP/1.1\r\nHost: {host}\r\nOrigin: {origin}\r\nCookie: {cookie}\r\nContent-Type: image/jpeg\r\n\
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
    let until = Instant::now() + Duration::from_secs(5);
    let notes = loop {
        let notes = paged.state(&cookie)["notes"].to_string();
        if notes.contains("bound in: ") {
            break notes;
        }
        assert!(Instant::now() < until, "it was never bound in: {notes}");
    };
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
    paged.asked_after(&cookie, number);
    let journal = paged.journal();
    let bound = format!("\"photograph\":{{\"file\":\"{run}-1.jpg\",\"sha256\":\"{sha256}\"}}");
    assert!(journal.contains(&bound), "{journal}");
    assert_eq!(journal.matches(&turned_to(paged)).count(), 1, "{journal}");
    // what comes late, and where none is asked for
    assert_eq!(paged.picture(number, &[own], JPEG), 409);
    assert_eq!(paged.picture(number + 1, &[own], JPEG), 422);
    assert_eq!(paged.pictures(), [file]);
}
