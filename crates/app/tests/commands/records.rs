//! A benchbook with accounts from its beginning to three signatures, on the
//! command line; with the keys of every answer.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use serde_json::Value;
use sha2::{Digest, Sha256};

use super::isobar_with;
use super::json_keys::{documented, printed};

const OWNER: &str = "harbour lantern seven\n";
const FIRST: &str = "a first word of passage\n";
const ANALYST: &str = "copper kettle morning\n";
const REVIEWER: &str = "thistle window nine\n";
const APPROVER: &str = "gravel orchard evening\n";

struct Laboratory {
    folder: tempfile::TempDir,
    seen: BTreeSet<&'static str>,
}

impl Laboratory {
    fn path(&self, name: &str) -> String {
        self.folder.path().join(name).display().to_string()
    }

    /// Runs a command; names with a known ending stand for scratch files.
    fn run(&self, line: &[&str], lines: &str) -> std::process::Output {
        let arguments: Vec<String> = line
            .iter()
            .map(|word| {
                let scratch = [".benchbook", ".pdf", ".checkpoint", ".bag"];
                match scratch.iter().any(|end| word.ends_with(end)) {
                    true => self.path(word),
                    false => (*word).to_owned(),
                }
            })
            .collect();
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        isobar_with(&arguments, lines, &self.folder.path().join("keys"))
    }

    /// The answer of a command that must succeed, its keys compared with the
    /// section of `docs/json.md`.
    fn json(&mut self, heading: &'static str, line: &[&str], lines: &str) -> Value {
        let mut line = line.to_vec();
        line.push("--json");
        let output = self.run(&line, lines);
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "isobar {line:?}\n{said}");
        let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
        let mut keys = BTreeSet::new();
        printed(&answer, &mut keys);
        let mut known = documented(heading);
        for value in ["null", "name+id+base64"] {
            known.remove(value);
        }
        let unknown: Vec<&String> = keys.difference(&known).collect();
        assert!(unknown.is_empty(), "{heading}: not documented: {unknown:?}");
        self.seen.insert(heading);
        answer
    }

    fn refused(&self, line: &[&str], lines: &str, code: i32, words: &str) {
        let output = self.run(line, lines);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(code), "isobar {line:?}\n{said}");
        assert!(said.contains(words), "isobar {line:?} said\n{said}");
        assert!(said.contains("hint:"), "{said}");
    }
}

#[test]
fn from_the_first_account_to_the_last_signature() {
    let mut lab = Laboratory { folder: tempfile::tempdir().unwrap(), seen: BTreeSet::new() };
    let demo = lab.path("demo");
    super::demo_into(std::path::Path::new(&demo));
    let source = format!("{demo}/demo.benchbook");
    std::fs::copy(&source, lab.path("source.benchbook")).unwrap();

    let book = "lab.benchbook";
    let begin = ["account", "begin", book, "--id", "o.owner", "--name", "Olga Owner (invented)"];
    lab.refused(&begin, "password1234\n", 2, "the password is not taken");
    lab.json("account", &begin, OWNER);
    lab.refused(&begin, OWNER, 2, "exists already");
    for (id, role, password) in [
        ("a.analyst", "analyst", ANALYST),
        ("r.reviewer", "reviewer", REVIEWER),
        ("p.approver", "approver", APPROVER),
    ] {
        let add = [
            "account",
            "add",
            book,
            "--id",
            id,
            "--name",
            id,
            "--role",
            role,
            "--account",
            "o.owner",
        ];
        lab.json("account", &add, &format!("{OWNER}{FIRST}"));
        let change = ["account", "password", book, "--account", id];
        lab.json("account", &change, &format!("{FIRST}{password}"));
    }
    let list = lab.json("account", &["account", "list", book], "");
    assert_eq!(list["accounts"].as_array().unwrap().len(), 4);
    assert!(list["not_for_regulated_use"].is_null());
    let odd = ["account", "role", book, "--id", "a.analyst", "--disable", "--account", "o.owner"];
    lab.refused(&odd, OWNER, 2, "needs a reason");

    let (case, analyst) = ("lyo-2r", "a.analyst");
    let copy = ["copy", "source.benchbook", "--case", case, "--into", book];
    lab.refused(&copy, "", 2, "no account was given");
    let copy: Vec<&str> = copy.into_iter().chain(["--account", analyst]).collect();
    let proof = lab.json("copy", &copy, ANALYST);
    assert_eq!(proof["content_sha256"].as_str().unwrap().len(), 64);
    let unit = [
        "unit",
        book,
        "--case",
        case,
        "--about",
        "receipt",
        "--text",
        "all there",
        "--account",
        analyst,
    ];
    lab.json("unit", &unit, ANALYST);
    let attach = ["attach", book, "--case", case, "--file", "README.md", "--account", analyst];
    lab.json("attach", &attach, ANALYST);
    let register = [
        "register",
        "add",
        book,
        "--id",
        "FS-1",
        "--kind",
        "flow-standard",
        "--description",
        "capillary",
        "--certificate",
        "INV-1",
        "--valid-until",
        "2099-01-01",
        "--account",
        analyst,
    ];
    lab.json("register", &register, ANALYST);
    let check = [
        "register",
        "check",
        book,
        "--id",
        "FS-1",
        "--arrival",
        "--passed",
        "--reading",
        "2",
        "--account",
        analyst,
    ];
    let register = lab.json("register", &check, ANALYST);
    assert_eq!(register["items"][0]["may_be_used"], true);

    let report = ["report", book, "--case", case, "-o", "lyo.pdf"];
    assert!(lab.run(&report, "").status.success());
    let sign = |meaning: &'static str, account: &'static str| {
        vec![
            "sign",
            book,
            "--case",
            case,
            "--meaning",
            meaning,
            "--report",
            "lyo.pdf",
            "--account",
            account,
        ]
    };
    let note = ["items", book, "--case", case, "--note", "label missing", "--account", analyst];
    lab.json("items", &note, ANALYST);
    lab.refused(&sign("authored", analyst), ANALYST, 2, "items are open: 1: label missing");
    let settle =
        ["items", book, "--case", case, "--settle", "1", "--how", "found", "--account", analyst];
    lab.json("items", &settle, ANALYST);
    lab.refused(&sign("authored", analyst), REVIEWER, 2, "account or password is not right");
    lab.refused(&sign("approved", analyst), ANALYST, 2, "may not sign as the approver");
    lab.json("sign", &sign("authored", analyst), ANALYST);
    lab.json("sign", &sign("reviewed", "r.reviewer"), REVIEWER);
    lab.refused(&sign("approved", "p.approver"), APPROVER, 2, "audit trail was not reviewed");
    let changes = lab.json("review", &["review", book, "--case", case], "");
    let last = changes["changes"].as_array().unwrap().last().unwrap()["event"].to_string();
    let review = [
        "review",
        book,
        "--case",
        case,
        "--finding",
        "nothing unusual",
        "--up-to",
        &last,
        "--account",
        "r.reviewer",
    ];
    let left = lab.json("review", &review, REVIEWER);
    assert_eq!(left["changes"], serde_json::json!([]));
    let signed = lab.json("sign", &sign("approved", "p.approver"), APPROVER);
    let signatures = signed["signatures"].as_array().unwrap();
    assert_eq!(signatures.len(), 3);
    assert!(signatures.iter().all(|one| one["stands"] == true));

    let checkpoint = ["checkpoint", book, "-o", "kept.checkpoint", "--account", "o.owner"];
    lab.json("checkpoint", &checkpoint, OWNER);
    let against = ["verify", book, "--against", "kept.checkpoint"];
    let verified = lab.json("verify", &against, "");
    assert_eq!(
        (verified["intact"].clone(), verified["signatures"].clone()),
        (true.into(), 3.into())
    );
    assert!(verified["checkpoint_signed_by"].is_string());
    let backup = ["backup", book, "-o", "copy.benchbook", "--account", analyst];
    assert!(lab.run(&backup, ANALYST).status.success());
    let restore =
        ["restore", "copy.benchbook", "-o", "again.benchbook", "--against", "kept.checkpoint"];
    lab.json("restore", &restore, "");

    let export = ["export", book, "--case", case, "-o", "lyo.bag"];
    lab.json("export", &export, "");
    lab.refused(&export, "", 2, "exists already");
    let bag = PathBuf::from(lab.path("lyo.bag"));
    for manifest in ["manifest-sha256.txt", "tagmanifest-sha256.txt"] {
        // An independent program checks the bag (GNU coreutils).
        let check = ["--check", "--strict", "--quiet", manifest];
        match std::process::Command::new("sha256sum").args(check).current_dir(&bag).status() {
            Ok(status) => assert!(status.success(), "{manifest}"),
            Err(_) => println!("skipped: no sha256sum here"),
        }
    }
    // Each event of the archive is proven by its own proof alone, and every
    // record of the case is the one that its event names.
    let read = |name: &str| std::fs::read_to_string(bag.join(name)).unwrap();
    let trail = read("data/audit-trail.jsonl");
    let mut hashes: BTreeSet<String> = BTreeSet::new();
    for event in trail.lines() {
        let parsed: Value = serde_json::from_str(event).unwrap();
        hashes.extend(parsed["new_sha256"].as_str().map(str::to_owned));
        let name = format!("data/proofs/{}.tlog-proof", parsed["number"]);
        let proof = benchbook::EventProof::from_text(&read(&name)).unwrap();
        assert!(proof.holds_for(event), "{event}");
        assert!(!proof.holds_for(&event.replacen("lyo-2r", "lyo-3r", 1)));
    }
    for folder in ["data/records", "data/entries"] {
        for file in std::fs::read_dir(bag.join(folder)).unwrap() {
            let path = file.unwrap().path();
            let bytes = std::fs::read(&path).unwrap();
            let hash: String =
                Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
            assert!(hashes.contains(&hash), "no event names {}", path.display());
        }
    }

    // Whoever holds the file and changes one word of it is found.
    let path = lab.path(book);
    flip_a_letter(Path::new(&path), b"nothing unusual");
    lab.refused(&["verify", book], "", 3, "is not as it was written");
    let all = [
        "account",
        "attach",
        "checkpoint",
        "copy",
        "export",
        "items",
        "register",
        "restore",
        "review",
        "sign",
        "unit",
        "verify",
    ];
    assert_eq!(lab.seen.iter().copied().collect::<Vec<_>>(), all);
}

fn flip_a_letter(path: &Path, word: &[u8]) {
    let mut bytes = std::fs::read(path).unwrap();
    let at = bytes.windows(word.len()).position(|window| window == word).unwrap();
    bytes[at] ^= 1;
    std::fs::write(path, bytes).unwrap();
}
