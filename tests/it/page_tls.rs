//! The page's certificate and its TLS against OpenSSL.
//!
//! The rule inside: OpenSSL's word stands beside the program's own for each of them.

use std::process::{Command, Stdio};

use crate::paged::Paged;
use crate::world::text;

/// What OpenSSL says, and whether it was content.
fn openssl(args: &[&str]) -> (bool, String) {
    let output = Command::new("openssl")
        .args(args)
        .stdin(Stdio::null())
        .output()
        .unwrap();
    let said = text(&output.stdout) + &text(&output.stderr);
    (output.status.success(), said)
}

#[test]
fn openssl_sees_one_certificate_for_this_address_and_tls_1_3_alone() {
    let paged = Paged::new(&["--page", "127.0.0.1"]);
    let kept = paged.world.path("page.pem");
    let kept = kept.to_str().unwrap();
    let (_, said) = openssl(&["x509", "-in", kept, "-noout", "-fingerprint", "-sha256"]);
    let fingerprint = said.trim().rsplit_once('=').unwrap().1;
    let seen: String = paged.terminal().seen.lines().map(str::trim).collect();
    assert!(seen.contains(fingerprint), "{fingerprint}");
    let (_, said) = openssl(&["x509", "-in", kept, "-noout", "-text"]);
    for words in [
        "IP Address:127.0.0.1",
        "TLS Web Server Authentication",
        "ASN1 OID: prime256v1",
        "coreproof page",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    let day = 24 * 3600;
    for (days, expected) in [(395, true), (397, false)] {
        let (good, said) = openssl(&["x509", "-in", kept, "-noout", "-checkend", &(days * day).to_string()]);
        assert_eq!(good, expected, "{days}: {said}");
    }
    let host = paged.host();
    let connect = |more: &[&str]| {
        let common = [
            "s_client",
            "-connect",
            &host,
            "-CAfile",
            kept,
            "-verify_return_error",
            "-purpose",
            "sslserver",
        ];
        openssl(&[&common, more].concat())
    };
    let (good, said) = connect(&["-tls1_3", "-verify_ip", "127.0.0.1"]);
    assert!(good && said.contains("Verify return code: 0 (ok)"), "{said}");
    let (good, said) = connect(&["-tls1_3", "-verify_ip", "127.0.0.2"]);
    assert!(!good && said.contains("IP address mismatch"), "{said}");
    let (good, said) = connect(&["-tls1_2"]);
    assert!(!good && said.contains("protocol version"), "{said}");
}
