//! Stock programs on what we leave behind: OpenSSH on the signature, PDF tools on the certificate.

use std::process::Command;

use crate::world::{World, repo, text};

/// A rehearsal's files in a folder of their own.
fn rehearsed(world: &World) -> String {
    let out = world.path("out").to_str().unwrap().to_owned();
    assert_eq!(world.run(&["rehearse", "--out", &out]).status.code(), Some(0));
    out
}

/// The commands of README's section on checking a record with nothing but OpenSSH.
fn readme_commands() -> String {
    let readme = std::fs::read_to_string(repo("README.md")).unwrap();
    let section = readme.split("## Checking a record without coreproof").nth(1).unwrap();
    section
        .split("```sh\n")
        .nth(1)
        .unwrap()
        .split("```")
        .next()
        .unwrap()
        .to_owned()
}

#[test]
fn the_lines_in_the_readme_check_a_record_and_find_a_changed_one() {
    let world = World::new();
    let out = rehearsed(&world);
    let shell = || {
        Command::new("sh")
            .arg("-ec")
            .arg(readme_commands())
            .current_dir(&out)
            .output()
            .unwrap()
    };
    let good = shell();
    assert!(good.status.success(), "{}", text(&good.stderr));
    assert!(
        text(&good.stdout).starts_with("Good \"record@coreproof\" signature for engineer"),
        "{}",
        text(&good.stdout)
    );
    let path = format!("{out}/record.jsonl");
    let mut record = std::fs::read(&path).unwrap();
    let middle = record.len() / 2;
    record[middle] ^= 1;
    std::fs::write(&path, record).unwrap();
    assert!(!shell().status.success());
}

#[test]
fn the_trusted_list_works_with_stock_openssh() {
    let world = World::new();
    let out = rehearsed(&world);
    let key = format!("{out}/signer.pub");
    assert_eq!(
        world.run(&["key", "trust", &key, "--as", "Wren"]).status.code(),
        Some(0)
    );
    let found = Command::new("ssh-keygen")
        .args(["-Y", "verify", "-n", "record@coreproof", "-I", "Wren", "-f"])
        .arg(world.path("trusted"))
        .args(["-s", &format!("{out}/record.jsonl.sig")])
        .stdin(std::fs::File::open(format!("{out}/record.jsonl")).unwrap())
        .output()
        .unwrap();
    assert!(found.status.success(), "{}", text(&found.stderr));
}

#[cfg(feature = "certificate")]
#[test]
fn stock_pdf_tools_open_the_certificate_and_give_the_record_back() {
    let world = World::new();
    let out = rehearsed(&world);
    let pdf = format!("{out}/certificate.pdf");
    let checked = Command::new("qpdf").args(["--check", &pdf]).output().unwrap();
    assert!(checked.status.success(), "{}", text(&checked.stdout));
    let detached = format!("{out}/detached");
    std::fs::create_dir(&detached).unwrap();
    let saved = Command::new("pdfdetach")
        .args(["-saveall", "-o", &detached, &pdf])
        .output()
        .unwrap();
    assert!(saved.status.success(), "{}", text(&saved.stderr));
    for name in ["record.jsonl", "record.jsonl.sig"] {
        let inside = std::fs::read(format!("{detached}/{name}")).unwrap();
        assert!(
            inside == std::fs::read(format!("{out}/{name}")).unwrap(),
            "{name} differs"
        );
    }
    let printed = text(
        &Command::new("pdftotext")
            .args(["-layout", &pdf, "-"])
            .output()
            .unwrap()
            .stdout,
    );
    for page in printed.trim_end_matches('\u{c}').split('\u{c}') {
        assert!(page.contains("REHEARSAL"), "{page}");
        assert!(page.contains("not a certificate under the wiring rules"), "{page}");
    }
    assert!(
        printed.contains("Every step of this proof passed") && printed.contains("Saltmarsh Sailing Club"),
        "{printed}"
    );
}
