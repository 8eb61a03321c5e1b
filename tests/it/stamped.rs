//! Time stamps by an authority that OpenSSL makes here: asked for, kept, carried and proved offline, and by OpenSSL from what is carried.

use std::path::{Path, PathBuf};
use std::process::Command;

use crate::beside::Shelf;
use crate::forged::Forged;
use crate::world::{World, text};

/// The words that OpenSSL's `ts` wants (openssl-ts(1)); the file names are those that [`Authority::new`] makes.
const CONFIGURATION: &str = "
[ req ]
distinguished_name = name
[ name ]
[ authority ]
basicConstraints = critical, CA:TRUE
keyUsage = critical, keyCertSign
[ stamps ]
basicConstraints = critical, CA:FALSE
extendedKeyUsage = critical, timeStamping
[ stamps_and_more ]
basicConstraints = critical, CA:FALSE
extendedKeyUsage = critical, timeStamping, clientAuth
[ tsa ]
default_tsa = here
[ here ]
serial = serial
signer_digest = sha256
default_policy = 1.2.3.4.1
digests = sha256
accuracy = secs:1, millisecs:500
ess_cert_id_alg = sha256
";

struct Authority {
    world: World,
}

impl Authority {
    /// Key and certificate of an authority, and of whoever stamps for it.
    fn new(kind: &[&str]) -> Authority {
        let authority = Authority { world: World::new() };
        std::fs::write(authority.world.path("c.cnf"), CONFIGURATION).unwrap();
        std::fs::write(authority.world.path("serial"), "01\n").unwrap();
        let key = |to: &str| {
            let mut args = vec!["genpkey", "-out", to];
            args.extend_from_slice(kind);
            authority.openssl(&args);
        };
        key("ca.key");
        key("tsa.key");
        authority.openssl(&[
            "req",
            "-x509",
            "-new",
            "-config",
            "c.cnf",
            "-key",
            "ca.key",
            "-subj",
            "/CN=Saltmarsh Test Authority",
            "-days",
            "3650",
            "-extensions",
            "authority",
            "-out",
            "ca.pem",
        ]);
        authority.openssl(&[
            "req",
            "-new",
            "-config",
            "c.cnf",
            "-key",
            "tsa.key",
            "-subj",
            "/CN=Saltmarsh Test Stamps",
            "-out",
            "tsa.csr",
        ]);
        for (extensions, out) in [("stamps", "tsa.pem"), ("stamps_and_more", "more.pem")] {
            authority.openssl(&[
                "x509",
                "-req",
                "-in",
                "tsa.csr",
                "-CA",
                "ca.pem",
                "-CAkey",
                "ca.key",
                "-CAcreateserial",
                "-days",
                "3650",
                "-extfile",
                "c.cnf",
                "-extensions",
                extensions,
                "-out",
                out,
            ]);
        }
        authority
    }

    fn path(&self, name: &str) -> PathBuf {
        self.world.path(name)
    }

    fn named(&self) -> String {
        self.path("ca.pem").display().to_string()
    }

    fn openssl(&self, args: &[&str]) -> String {
        openssl(self.world.home.path(), args)
    }

    /// The response to a request.
    fn answer(&self, request: &str, more: &[&str]) -> String {
        let response = self.path("answer.tsr").display().to_string();
        let mut args = vec![
            "ts",
            "-reply",
            "-config",
            "c.cnf",
            "-section",
            "here",
            "-queryfile",
            request,
            "-signer",
            "tsa.pem",
            "-inkey",
            "tsa.key",
            "-out",
            &response,
        ];
        args.extend_from_slice(more);
        self.openssl(&args);
        response
    }
}

fn openssl(folder: &Path, args: &[&str]) -> String {
    let output = Command::new("openssl").args(args).current_dir(folder).output();
    let output = output.expect("openssl is installed by .ci/run");
    let seen = text(&output.stdout) + &text(&output.stderr);
    assert!(output.status.success(), "{args:?}: {seen}");
    seen
}

/// A record in an archive, and the request for its stamp.
fn asked() -> (Shelf, String, String) {
    let shelf = Shelf::new();
    let run = shelf.seal(&Forged::earlier("stat-cable-passed.jsonl"));
    let request = shelf.world.path("request.tsq").display().to_string();
    shelf.said(&["records", "timestamp", &run, "--request", &request], 0);
    (shelf, run, request)
}

#[track_caller]
fn goes_round(kind: &[&str], answered: &[&str]) {
    let (shelf, run, request) = asked();
    let authority = Authority::new(kind);
    let response = authority.answer(&request, answered);
    let ca = authority.named();
    let stranger = Authority::new(kind);
    let other = stranger.named();
    let keep = |authority: &str, code: i32| {
        let args = [
            "records",
            "timestamp",
            &run,
            "--token",
            &response,
            "--authority",
            authority,
        ];
        shelf.said(&args, code)
    };
    let seen = keep(&other, 2);
    assert!(seen.contains("is not vouched for by the authority named"), "{seen}");
    let seen = keep(&ca, 0);
    assert!(seen.contains("by the word of CN=Saltmarsh Test Stamps."), "{seen}");
    keep(&ca, 0);
    // the archive, a certificate and plain files carry it
    let pdf = shelf.handed_out(&run, "handed-out");
    let out = shelf.world.path("out");
    shelf.said(&["records", "export", &run, "-o", out.to_str().unwrap()], 0);
    let file = out.join("record.jsonl").display().to_string();
    for carrying in [&pdf, &file] {
        let seen = shelf.said(&["verify", carrying], 0);
        assert!(
            seen.contains("stamped      not after 20") && seen.contains("by the word of whoever made the time stamp"),
            "{seen}"
        );
        assert!(
            seen.contains("times        the signer's word: only a time stamp"),
            "{seen}"
        );
        let seen = shelf.said(&["verify", carrying, "--authority", &ca], 0);
        assert!(seen.contains("proved: CN=Saltmarsh Test Stamps"), "{seen}");
        assert!(
            seen.contains("times        the signer's word, and not after 20"),
            "{seen}"
        );
        shelf.said(&["verify", carrying, "--authority", &other], 2);
    }
    let seen = shelf.said(&["audit", "--json"], 0);
    assert!(seen.contains("1 time stamp was not proved"), "{seen}");
    let seen = shelf.said(&["audit", "--json", "--authority", &ca], 0);
    assert!(!seen.contains("not proved"), "{seen}");
    let seen = shelf.said(&["audit", "--json", "--authority", &other], 1);
    assert!(seen.contains("is not vouched for by the authority named"), "{seen}");
    // OpenSSL agrees on what is carried
    let token_in: &[&str] = if answered.is_empty() { &[] } else { &["-token_in"] };
    let mut args = vec![
        "ts",
        "-verify",
        "-data",
        "record.jsonl",
        "-in",
        "record.jsonl.tsr",
        "-CAfile",
        &ca,
    ];
    args.extend_from_slice(token_in);
    assert!(openssl(&out, &args).contains("Verification: OK"));
    // and all records as one file take it along
    let all = shelf.world.path("all.sqlite").display().to_string();
    shelf.said(&["records", "export", "--all", "-o", &all], 0);
    let to = World::new();
    std::fs::copy(shelf.world.path("trusted"), to.path("trusted")).unwrap();
    assert_eq!(to.run(&["records", "import", &all]).status.code(), Some(0));
    let seen = text(&to.run(&["audit", "--json"]).stdout);
    assert!(seen.contains("1 time stamp was not proved"), "{seen}");
}

#[test]
fn a_stamp_of_an_rsa_authority_goes_round() {
    goes_round(&["-algorithm", "RSA", "-pkeyopt", "rsa_keygen_bits:2048"], &[]);
}

#[test]
fn a_bare_token_of_an_elliptic_authority_goes_round() {
    goes_round(
        &["-algorithm", "EC", "-pkeyopt", "ec_paramgen_curve:P-256"],
        &["-token_out"],
    );
}

#[test]
fn a_stamp_that_does_not_hold_is_refused() {
    let (shelf, run, request) = asked();
    let authority = Authority::new(&["-algorithm", "EC", "-pkeyopt", "ec_paramgen_curve:P-384"]);
    let ca = authority.named();
    let good = authority.answer(&request, &[]);
    let bytes = std::fs::read(&good).unwrap();
    let bad = shelf.world.path("bad.tsr").display().to_string();
    let refused = |what: &str| {
        let seen = shelf.said(&["records", "timestamp", &run, "--token", &bad, "--authority", &ca], 2);
        assert!(seen.contains(what), "{seen}");
    };
    // some bytes are signed by nobody, such as the status in front: a change there may be taken, and changes nothing that is believed
    let out = shelf.world.path("out");
    shelf.said(&["records", "export", &run, "-o", out.to_str().unwrap()], 0);
    let file = out.join("record.jsonl").display().to_string();
    let believed = |token: &[u8]| {
        std::fs::write(format!("{file}.tsr"), token).unwrap();
        let output = shelf.world.run(&["verify", &file, "--authority", &ca]);
        let said = text(&output.stdout);
        let said = said.lines().find(|line| line.starts_with("stamped"));
        said.filter(|_| output.status.code() == Some(0)).map(str::to_owned)
    };
    let honest = believed(&bytes).unwrap();
    let mut refusals = 0;
    for at in (0..bytes.len()).step_by(7) {
        let mut changed = bytes.clone();
        changed[at] ^= 1;
        match believed(&changed) {
            Some(said) => assert_eq!(said, honest, "byte {at}"),
            None => refusals += 1,
        }
    }
    assert!(bytes.len() / 8 < refusals, "{refusals} of {} refused", bytes.len() / 7);
    // over another record
    let other = Shelf::new();
    let other_run = other.seal(&Forged::earlier("zone-valve-failed.jsonl"));
    let seen = other.said(&["records", "timestamp", &other_run, "--token", &good], 2);
    assert!(seen.contains("the time stamp is not over this record"), "{seen}");
    // by a certificate that is for other things as well
    let stamped = Command::new("openssl")
        .args([
            "ts",
            "-reply",
            "-config",
            "c.cnf",
            "-section",
            "here",
            "-queryfile",
            &request,
        ])
        .args(["-signer", "more.pem", "-inkey", "tsa.key", "-out", &bad])
        .current_dir(authority.world.home.path())
        .output()
        .unwrap();
    if stamped.status.success() {
        refused("its signer's certificate is not for time stamps alone");
    }
    std::fs::write(&bad, "nothing").unwrap();
    refused("it is neither a response nor a token of RFC 3161");
    // what names no authority is no file of certificates
    let seen = shelf.said(&["verify", &good, "--authority", &good], 2);
    assert!(seen.contains("holds no certificate of an authority"), "{seen}");
}

#[test]
fn a_response_without_the_certificate_proves_nothing_and_is_said() {
    let (shelf, run, request) = asked();
    let authority = Authority::new(&["-algorithm", "EC", "-pkeyopt", "ec_paramgen_curve:P-256"]);
    // asked without the flag by which the certificate comes along
    let record = shelf.world.path("record.jsonl");
    std::fs::write(&record, Forged::earlier("stat-cable-passed.jsonl").bytes()).unwrap();
    std::fs::remove_file(&request).unwrap();
    openssl(
        shelf.world.home.path(),
        &[
            "ts",
            "-query",
            "-data",
            "record.jsonl",
            "-sha256",
            "-out",
            "request.tsq",
        ],
    );
    let response = authority.answer(&request, &[]);
    let args = [
        "records",
        "timestamp",
        &run,
        "--token",
        &response,
        "--authority",
        &authority.named(),
    ];
    let seen = shelf.said(&args, 2);
    assert!(seen.contains("it does not carry its signer's certificate"), "{seen}");
}
