//! Files that are made to fill the memory, to hang, or to lead elsewhere: `check` and `verify` refuse them and stay small.
//!
//! The rule inside: a command may take twenty times the bytes it is given and 64 MB, as the system counts them (`ulimit -d`: what a
//! program writes to, without its own code). A file that needs more ends the command, and the test with it.

use std::path::{Path, PathBuf};
use std::process::{Output, Stdio};

use crate::world::{World, repo, text};

/// No file of a megabyte takes more processor time, in seconds, on a slow machine and without the compiler's pains; one whose cost grew
/// with the square of its length would take hours. Time on the wall says how busy the machine is.
const SECONDS_MAX: u64 = 60;

/// Runs a command that may take as much as the files it is given allow.
pub fn bounded(world: &World, args: &[&str], given: &[PathBuf]) -> Output {
    let bytes: u64 = given.iter().map(|path| std::fs::metadata(path).unwrap().len()).sum();
    let kilobytes = (20 * bytes + 64_000_000) / 1024;
    let limit = format!("ulimit -d {kilobytes} && ulimit -t {SECONDS_MAX} && exec \"$@\"");
    let mut command = world.command_of("/bin/sh", &["-c", &limit, "sh", env!("CARGO_BIN_EXE_coreproof")]);
    let output = command.args(args).stdin(Stdio::null()).output().unwrap();
    let took = "took more memory or processor time than it may";
    assert!(output.status.code().is_some(), "{args:?} {took}: {:?}", output.status);
    output
}

/// Checks a file of this content, alone; what is said on each line.
fn check_alone(content: &str) -> (Option<i32>, String) {
    let world = World::new();
    let path = world.path("file.ron");
    std::fs::write(&path, content).unwrap();
    let output = bounded(&world, &["check", path.to_str().unwrap()], std::slice::from_ref(&path));
    (output.status.code(), text(&output.stderr))
}

#[track_caller]
fn refused(content: &str, expected: &str) {
    let (code, errors) = check_alone(content);
    assert_eq!(code, Some(2), "{}", &errors[..errors.len().min(2000)]);
    assert!(
        errors.contains(expected),
        "{expected}\nis not in\n{}",
        &errors[..errors.len().min(2000)]
    );
}

const MEBIBYTE: usize = 1 << 20;

/// As many of a piece as a file holds with this around them.
fn filled(before: &str, piece: &str, after: &str) -> String {
    let pieces = (MEBIBYTE - before.len() - after.len()) / piece.len();
    format!("{before}{}{after}", piece.repeat(pieces))
}

const SEQUENCE: &str = "(format: \"1.1\", name: \"x\", title: \"x\", ";

#[test]
fn a_file_of_many_mistakes_tells_fifty_and_how_many_more() {
    let steps = filled(&format!("{SEQUENCE}steps: ["), "Gate(id:\"A\",say:\"{q}\"),", "])");
    // three of each step but the first, and one that there are more than ten thousand
    refused(
        &steps,
        "error: 30000 errors found, the first 50 are shown; nothing was run\n",
    );
    let promises = filled(&format!("{SEQUENCE}steps: [], promises: ["), "\"q\",", "])");
    refused(&promises, "errors found, the first 50 are shown; nothing was run\n");
    let job = std::fs::read_to_string(repo("fixtures/saltmarsh.ron")).unwrap();
    let put = |place: &str, piece: &str, expected: &str| {
        let (before, after) = job.split_once(place).unwrap();
        refused(&filled(&format!("{before}{place}"), piece, after), expected);
    };
    put(
        "cores: [",
        "(name:\"\",size:\"1 V\",carries:Earth,near:\"q\",far:\"q\"),",
        " cores, at most 200 are read\n",
    );
    let (before, after) = job.split_once("    cable: (").unwrap();
    let before = format!("{before}    cables: [");
    refused(
        &filled(&before, "(cable: (name: \"a\")),", &format!("],\n    spare: ({after}")),
        " cables, at most 200 are read\n",
    );
    put(
        "terminals: [",
        "(name:\"\",takes:Earth),",
        " terminals at one end, at most 200 are read\n",
    );
    put(
        "equipment: [",
        "(name:\"a\",is:Load(between:(Line,Line),ohms:\"1 V\")),",
        " pieces of equipment, at most 200 are read\n",
    );
    put(
        "    instruments: [",
        "(name:\"\",kind:\"\",serial:\"\",calibrated:\"\",due:\"\",category:\"\",can:[]),",
        " instruments, at most 200 are read\n",
    );
}

#[test]
fn deep_nesting_is_refused_in_one_pass() {
    let deep = "error: more than 40 brackets are open here\n";
    let next = "help: close those before it; no file needs as many inside each other\n";
    for piece in ["[", "(", "{\"a\":", "Some(", "{", "EachCore([", "[(", "Not("] {
        refused(&filled("", piece, ""), deep);
        refused(&filled(&format!("{SEQUENCE}steps: [If("), piece, ""), next);
    }
    // brackets in strings and comments are none
    for piece in ["\"[\",", "/* [ */", "'[',"] {
        let (_, errors) = check_alone(&filled("", piece, ""));
        assert!(!errors.contains(deep), "{piece}: {}", &errors[..errors.len().min(2000)]);
    }
    // as deep as is read, around as much as a file holds
    let groups = |levels: usize| {
        let before = format!("{SEQUENCE}steps: [{}", "If(HasZones, [".repeat(levels));
        filled(
            &before,
            "Gate(id:\"a\",say:\"x\"),",
            &format!("{}])", "])".repeat(levels)),
        )
    };
    refused(&groups(18), "errors found, the first 50 are shown; nothing was run\n");
    refused(&groups(19), deep);
}

/// Checks a sequence with a job; the sequence is the shipped underfloor one with more among its dead tests.
fn check_plan(more: &str, cores: usize) -> (Option<i32>, String) {
    let world = World::new();
    let job = std::fs::read_to_string(repo("fixtures/loft-underfloor.ron")).unwrap();
    let core =
        |n: usize| format!("(name: \"c{n}\", size: \"0.75 mm2\", carries: SwitchedLive, near: \"Z1\", far: \"Z1\"), ");
    let more_cores: String = (5..cores).map(core).collect();
    let job = job.replace("cores: [", &format!("cores: [{more_cores}"));
    let before = "Do(id: \"discharge\"";
    let tests = std::fs::read_to_string(repo("sequences/parts/dead-tests.ron")).unwrap();
    let tests = tests.replace(before, &format!("{more}{before}"));
    let put = |name: &str, content: &str| {
        std::fs::write(world.path(name), content).unwrap();
        world.path(name)
    };
    std::fs::create_dir(world.path("parts")).unwrap();
    let sequence = std::fs::read_to_string(repo("sequences/underfloor-zones.ron")).unwrap();
    let files = [
        put("job.ron", &job),
        put("sequence.ron", &sequence),
        put("parts/dead-tests.ron", &tests),
    ];
    let args = ["check", files[1].to_str().unwrap(), files[0].to_str().unwrap()];
    let output = bounded(&world, &args, &files);
    (output.status.code(), text(&output.stdout) + &text(&output.stderr))
}

#[test]
fn a_small_file_makes_no_large_plan() {
    let check = |more: &str, cores: usize, code: i32, expected: &str| {
        let (exit, said) = check_plan(more, cores);
        let shown = &said[..said.len().min(2000)];
        assert_eq!(exit, Some(code), "{shown}");
        assert!(said.contains(expected), "{expected}\nis not in\n{shown}");
    };
    // the most cores that are proved at once
    check("", 36, 0, "order proved: 1237 steps");
    check("", 37, 2, "the cable has 37 cores, at most 36 are proved at once");
    let many = "EachZone([EachPair([EachZone([Note(id: \"n\", stage: Test, say: \"x\")])])]),";
    check(many, 20, 2, "`EachZone` stands inside `EachZone`");
    let pairs = (0..200).map(|n| format!("EachPair([Note(id: \"n{n}\", stage: Test, say: \"x\")]),"));
    let pairs: String = pairs.collect();
    check(
        &pairs,
        16,
        2,
        "error: the plan has more than 9825 steps, the most that are walked with 16 cores\n",
    );
    let tests = (0..560).map(|n| {
        format!("EachZone([Insulation(id: \"i{n}\", between: EachPair, window: InsulationMinimum, say: \"x\")]),")
    });
    let tests: String = tests.collect();
    check(
        &tests,
        5,
        2,
        "error: the plan has more than 10000 steps, the most that are walked with 5 cores\n",
    );
    let words = "word ".repeat(20_000);
    let full = "error: the steps of the plan hold more than 16777216 bytes with this one\n";
    for step in [
        format!("EachPair([Note(id: \"n\", stage: Test, say: \"{words}\")]),"),
        format!("EachPair([Note(id: \"n\", stage: Test, say: \"x\", caution: \"{words}\")]),"),
        format!("EachPair([Inspect(id: \"n\", stage: Test, thing: \"{words}\", say: \"x\")]),"),
        format!("If(Saw(\"guard\", \"{words}\"), [EachPair([Note(id: \"n\", stage: Test, say: \"x\")])]),"),
        format!(
            "Insulation(id: \"n\", between: EachPair, window: Stated(low: \"1 Mohm\", source: \"{words}\"), say: \"x\"),"
        ),
    ] {
        check(&step, 30, 2, full);
    }
}

/// Every command that takes a path, with a path that is no file.
#[test]
fn only_files_are_read() {
    let world = World::new();
    let pipe = world.path("pipe");
    rustix::fs::mknodat(
        rustix::fs::CWD,
        &pipe,
        rustix::fs::FileType::Fifo,
        rustix::fs::Mode::RWXU,
        0,
    )
    .unwrap();
    let large = world.path("large");
    std::fs::File::create(&large).unwrap().set_len(200 << 30).unwrap();
    let record = world.path("record.jsonl");
    std::fs::write(&record, "{}\n").unwrap();
    std::fs::write(world.path("record.jsonl.sig"), "x").unwrap();
    let record = record.to_str().unwrap();
    let job = "fixtures/saltmarsh.ron";
    for (path, is) in [
        ("/dev/zero", "it is a device, not a file"),
        (pipe.to_str().unwrap(), "it is a pipe, not a file"),
        (world.home.path().to_str().unwrap(), "it is a folder, not a file"),
        (large.to_str().unwrap(), "more than "),
    ] {
        let replay = format!("replay-fast:{path},line-stream");
        for args in [
            vec!["check", path],
            vec!["plan", path, "--job", job],
            vec!["plan", "stat-cable", "--job", path],
            vec!["rehearse", path],
            vec!["rehearse", "--job", path],
            vec!["coverage", path, "--job", job],
            vec!["coverage", "stat-cable", "--job", path],
            vec!["run", path, "--job", job],
            vec!["verify", path],
            vec!["verify", record, "--key", path],
            vec!["key", "trust", path, "--as", "A"],
            vec!["limits", "--job", path],
            vec!["locate", "--readings", path],
            vec!["meter", "watch", "--meter", &replay],
        ] {
            let output = bounded(&world, &args, &[]);
            let errors = text(&output.stderr);
            assert!(matches!(output.status.code(), Some(2 | 3)), "{args:?}: {errors}");
            assert!(errors.contains(is), "{args:?}: {is}\nis not in\n{errors}");
        }
    }
}

/// A sequence in a folder of its own that includes `name`, checked; what is said.
fn including(name: &str, put: impl Fn(&Path)) -> (Option<i32>, String) {
    let world = World::new();
    let folder = world.path("mine");
    std::fs::create_dir(&folder).unwrap();
    std::fs::write(
        world.path("outside.ron"),
        format!("{SEQUENCE}steps: [Gate(id: \"a\", say: \"x\")])"),
    )
    .unwrap();
    put(&folder);
    let sequence = folder.join("sequence.ron");
    std::fs::write(&sequence, format!("{SEQUENCE}steps: [\n    Include(\"{name}\"),\n])")).unwrap();
    let output = world.run(&["check", sequence.to_str().unwrap()]);
    let errors = text(&output.stderr).replace(world.home.path().to_str().unwrap(), "");
    (output.status.code(), errors)
}

#[test]
fn what_is_included_lies_in_the_folder_of_the_sequence() {
    let nothing = |_: &Path| {};
    let out = |name: &str| {
        let expected = format!(
            "error: `{name}` leads out of the sequence's folder
 --> /mine/sequence.ron:2:13
  |
2 |     Include(\"{name}\"),
  |             {}
  |
  = help: put the file beside the sequence, and name it as it lies from there

error: 1 error found; nothing was run
",
            "^".repeat(name.len() + 2)
        );
        assert_eq!(including(name, nothing), (Some(2), expected));
    };
    for name in [
        "../outside.ron",
        "/etc/hostname",
        "parts/../../outside.ron",
        "/dev/zero",
    ] {
        out(name);
    }
    let says = |name: &str, put: &dyn Fn(&Path), expected: &str| {
        let (code, errors) = including(name, put);
        assert_eq!(code, Some(2), "{errors}");
        let place = format!("error: {expected}\n --> /mine/sequence.ron:2:13\n");
        assert!(errors.starts_with(&place), "{place}\nis not in\n{errors}");
    };
    use std::os::unix::fs::symlink;
    says(
        "a.ron",
        &|folder| symlink("../outside.ron", folder.join("a.ron")).unwrap(),
        "`a.ron` is a link out of the sequence's folder",
    );
    says(
        "there/outside.ron",
        &|folder| symlink("..", folder.join("there")).unwrap(),
        "`there/outside.ron` is a link out of the sequence's folder",
    );
    says(
        "a.ron",
        &|folder| symlink("/dev/zero", folder.join("a.ron")).unwrap(),
        "`a.ron` is a link out of the sequence's folder",
    );
    says(
        "a.ron",
        &|folder| std::fs::create_dir(folder.join("a.ron")).unwrap(),
        "`/mine/a.ron` cannot be read: it is a folder, not a file",
    );
    says("a.ron", &nothing, "there is no file `a.ron` to include");
    // a link within the folder is as good as the file
    let within = |folder: &Path| {
        std::fs::write(
            folder.join("b.ron"),
            format!("{SEQUENCE}steps: [Gate(id: \"a\", say: \"x\")])"),
        )
        .unwrap();
        symlink("b.ron", folder.join("a.ron")).unwrap();
    };
    assert_eq!(including("a.ron", within).0, Some(0));
}

#[cfg(feature = "certificate")]
mod packed {
    use super::*;
    use std::io::Write;

    /// A PDF of these objects in the shape of a certificate.
    fn pdf(objects: &[Vec<u8>]) -> Vec<u8> {
        let mut bytes = b"%PDF-1.7\n".to_vec();
        let mut table = format!("xref\n0 {}\n0000000000 65535 f \n", objects.len() + 1);
        for (number, object) in (1..).zip(objects) {
            table.push_str(&format!("{:010} 00000 n \n", bytes.len()));
            writeln!(bytes, "{number} 0 obj").unwrap();
            bytes.extend(object);
            bytes.extend(b"\nendobj\n");
        }
        let start = bytes.len();
        write!(
            bytes,
            "{table}trailer\n<</Size {}/Root 1 0 R>>\nstartxref\n{start}\n%%EOF",
            objects.len() + 1
        )
        .unwrap();
        bytes
    }

    fn stream(dict: &str, data: &[u8]) -> Vec<u8> {
        let head = format!("<<{dict}/Length {}>>\nstream\n", data.len());
        [head.as_bytes(), data, b"\nendstream"].concat()
    }

    fn spec(name: &str, stream: u32) -> Vec<u8> {
        format!("<</Type/Filespec/F({name})/UF({name})/EF<</F {stream} 0 R/UF {stream} 0 R>>>>").into_bytes()
    }

    /// One megabyte of zlib that unpacks to a gigabyte of zeros: one piece of it again and again.
    fn gigabyte() -> Vec<u8> {
        let zeros = vec![0; 4 * MEBIBYTE];
        let mut piece = Vec::with_capacity(MEBIBYTE);
        let mut packer = flate2::Compress::new(flate2::Compression::best(), false);
        packer
            .compress_vec(&zeros, &mut piece, flate2::FlushCompress::Full)
            .unwrap();
        assert_eq!(packer.total_in(), zeros.len() as u64);
        // header, pieces, an empty last block, a check sum that is never come to
        [b"\x78\xda".as_slice(), &piece.repeat(256), b"\x03\x00", &[0; 4]].concat()
    }

    #[test]
    fn a_certificate_unpacks_to_no_more_than_it_may() {
        let bomb = gigabyte();
        assert!(bomb.len() < 1_200_000);
        let list = "(record.jsonl)2 0 R(record.jsonl.sig)4 0 R(signer.pub)6 0 R";
        let certificate = |record: Vec<u8>, more: Option<Vec<u8>>| {
            let mut objects = vec![
                format!("<</Type/Catalog/Names<</EmbeddedFiles<</Names[{list}]>>>>>>").into_bytes(),
                spec("record.jsonl", 3),
                record,
                spec("record.jsonl.sig", 5),
                stream("/Params<</Size 6>>", b"signed"),
                spec("signer.pub", 7),
                stream("/Params<</Size 3>>", b"key"),
            ];
            objects.extend(more);
            pdf(&objects)
        };
        let check = |content: Vec<u8>, expected: &str| {
            let world = World::new();
            let path = world.path("certificate.pdf");
            std::fs::write(&path, content).unwrap();
            let output = bounded(&world, &["verify", path.to_str().unwrap()], std::slice::from_ref(&path));
            let errors = text(&output.stderr);
            assert_eq!(output.status.code(), Some(2), "{errors}");
            assert!(errors.contains(expected), "{expected}\nis not in\n{errors}");
        };
        let record = |dict: &str| certificate(stream(dict, &bomb), None);
        let large = "error: the attached `record.jsonl` is larger than 67108864 bytes\n";
        check(record("/Filter/FlateDecode/Params<</Size 1073741824>>"), large);
        check(record("/Filter/FlateDecode/Params<</Size 60000000>>"), large);
        let length = "error: the attached `record.jsonl` is damaged: its length is not the stated one\n";
        check(record("/Filter/FlateDecode/Params<</Size 16000000>>"), length);
        check(record("/Filter/FlateDecode/Params<</Size 3>>"), length);
        let packing = "error: the attached `record.jsonl` is damaged: it is packed in an unknown way\n";
        check(record("/Filter[/FlateDecode/FlateDecode]/Params<</Size 3>>"), packing);
        check(
            record("/Filter/FlateDecode/DecodeParms<</Predictor 12/Columns 4>>/Params<</Size 3>>"),
            packing,
        );
        let small = || stream("/Params<</Size 3>>", b"abc");
        let other = |dict: &str| certificate(small(), Some(stream(dict, &bomb)));
        let shape = "error: the PDF is not as this program writes one: it has an object of another shape\n";
        check(other("/Type/ObjStm/N 9/First 99/Filter/FlateDecode"), shape);
        check(other("/Type/XRef/Size 9/W[1 4 2]/Root 1 0 R/Filter/FlateDecode"), shape);
        // what nobody unpacks does no harm
        check(
            other("/Filter/FlateDecode"),
            "the signature file is not in canonical form",
        );
        // its table in a stream
        let head = b"%PDF-1.7\n1 0 obj\n".to_vec();
        let table = stream("/Type/XRef/Size 2/W[1 4 2]/Root 1 0 R/Filter/FlateDecode", &bomb);
        let end = b"\nendobj\nstartxref\n9\n%%EOF".to_vec();
        check([head, table, end].concat(), "error: the file is not a whole PDF\n");
    }
}

#[test]
fn a_record_of_deep_json_is_refused_in_one_pass() {
    for piece in ["{\"a\":", "[", "\"", "\\u0041", "("] {
        let world = World::new();
        let head = "{\"n\":0,\"prev\":\"\",\"at\":\"\",\"event\":{\"opened\":{\"format\":\"1.0\",\"x\":";
        for content in [filled("", piece, "\n"), filled(head, piece, "\n")] {
            let path = world.path("record.jsonl");
            std::fs::write(&path, content).unwrap();
            std::fs::write(world.path("record.jsonl.sig"), "x").unwrap();
            let name = path.to_str().unwrap();
            let output = bounded(&world, &["verify", name], std::slice::from_ref(&path));
            assert_eq!(output.status.code(), Some(2), "{}", text(&output.stderr));
            let output = bounded(&world, &["locate", name], std::slice::from_ref(&path));
            let errors = text(&output.stderr);
            assert_eq!(output.status.code(), Some(2), "{errors}");
            assert!(errors.contains("line 1 is damaged: "), "{errors}");
        }
    }
}
