//! A key that a stock OpenSSH agent holds: records are sealed with it, and stock `ssh-keygen` verifies them.

use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use crate::world::{World, repo, text};

/// A stock agent with a socket of its own; it ends with this.
struct Agent {
    world: World,
    process: Child,
}

impl Drop for Agent {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

impl Agent {
    fn new() -> Agent {
        let world = World::new();
        let process = Command::new("ssh-agent")
            .args(["-D", "-a"])
            .arg(world.path("socket"))
            .stdout(Stdio::null())
            .spawn()
            .expect("ssh-agent is installed by .ci/run");
        let agent = Agent { world, process };
        while !agent.world.path("socket").exists() {
            std::thread::sleep(Duration::from_millis(10));
        }
        agent
    }

    /// Runs any program with this agent.
    #[track_caller]
    fn with(&self, program: &str, args: &[&str], code: i32) -> String {
        let mut command = match program {
            "coreproof" => self.world.command(args),
            _ => {
                let mut command = Command::new(program);
                command.args(args);
                command
            }
        };
        let command = command
            .env("SSH_AUTH_SOCK", self.world.path("socket"))
            .stdin(Stdio::null());
        let output = command.output().unwrap();
        let seen = text(&output.stdout) + &text(&output.stderr);
        assert_eq!(output.status.code(), Some(code), "{program} {args:?}: {seen}");
        seen
    }

    /// A key made by stock ssh-keygen; its file.
    fn key(&self, name: &str, kind: &str) -> String {
        let path = self.world.path(name).display().to_string();
        self.with("ssh-keygen", &["-q", "-t", kind, "-N", "", "-C", name, "-f", &path], 0);
        path
    }
}

fn put_closed_journal(world: &World) -> String {
    let record = std::fs::read_to_string(repo("fixtures/records/0.1/stat-cable-passed.jsonl")).unwrap();
    let at = record.find("\"run\":\"").unwrap() + 7;
    let run = record[at..at + 36].to_owned();
    std::fs::create_dir_all(world.path("runs")).unwrap();
    std::fs::write(world.path("runs").join(format!("{run}.jsonl")), record).unwrap();
    run
}

#[test]
fn a_key_in_an_agent_seals_records_that_stock_openssh_verifies() {
    let agent = Agent::new();
    let key = agent.key("held", "ed25519");
    let public = format!("{key}.pub");
    let adopt = ["key", "agent", &public, "--name", "Morgan Teal"];
    let seen = agent.with("coreproof", &adopt, 2);
    assert!(seen.contains("the SSH agent does not hold the key SHA256:"), "{seen}");
    agent.with("ssh-add", &["-q", &key], 0);
    agent.with("coreproof", &adopt, 0);
    assert!(
        agent
            .with("coreproof", &adopt, 2)
            .contains("a signing key is already at")
    );
    // the secret is needed nowhere else
    std::fs::remove_file(&key).unwrap();
    let run = put_closed_journal(&agent.world);
    let seen = agent.with("coreproof", &["resume", &run], 0);
    assert!(
        seen.contains(&format!("Sealed as {run}.")) && !seen.contains("Passphrase"),
        "{seen}"
    );
    let out = agent.world.path("out");
    agent.with(
        "coreproof",
        &["records", "export", &run, "-o", out.to_str().unwrap()],
        0,
    );
    verified(&out, &std::fs::read_to_string(&public).unwrap());
    agent.with("coreproof", &["verify", out.join("record.jsonl").to_str().unwrap()], 0);
    agent.with("coreproof", &["audit"], 0);
}

/// What stock ssh-keygen says.
fn verified(out: &Path, public: &str) {
    let line = format!("morgan namespaces=\"record@coreproof\" {public}");
    std::fs::write(out.join("allowed_signers"), line).unwrap();
    let verified = Command::new("ssh-keygen")
        .args(["-Y", "verify", "-f", "allowed_signers", "-I", "morgan"])
        .args(["-n", "record@coreproof", "-s", "record.jsonl.sig"])
        .current_dir(out)
        .stdin(std::fs::File::open(out.join("record.jsonl")).unwrap())
        .output()
        .unwrap();
    assert!(verified.status.success(), "{}", text(&verified.stderr));
}

#[test]
fn an_agent_that_is_locked_gone_or_none_leaves_the_run_to_be_sealed_later() {
    let agent = Agent::new();
    let key = agent.key("held", "ed25519");
    let public = format!("{key}.pub");
    agent.with("ssh-add", &["-q", &key], 0);
    agent.with("coreproof", &["key", "agent", &public, "--name", "Morgan Teal"], 0);
    let run = put_closed_journal(&agent.world);
    agent.with("ssh-add", &["-q", "-D"], 0);
    let seen = agent.with("coreproof", &["resume", &run], 2);
    assert!(seen.contains("the SSH agent does not hold the key"), "{seen}");
    let seen = text(&agent.world.run(&["resume", &run]).stderr);
    assert!(
        seen.contains("the SSH agent cannot be used: SSH_AUTH_SOCK names none"),
        "{seen}"
    );
    assert_eq!(agent.world.journals().len(), 1, "the run is kept");
    agent.with("ssh-add", &["-q", &key], 0);
    agent.with("coreproof", &["resume", &run], 0);
}

#[test]
fn a_key_of_another_kind_is_not_taken_from_an_agent() {
    let agent = Agent::new();
    let key = agent.key("other", "ecdsa");
    agent.with("ssh-add", &["-q", &key], 0);
    let public = format!("{key}.pub");
    let seen = agent.with("coreproof", &["key", "agent", &public, "--name", "Morgan Teal"], 2);
    assert!(
        seen.contains("ssh-ed25519") || seen.contains("not an OpenSSH public key"),
        "{seen}"
    );
}
