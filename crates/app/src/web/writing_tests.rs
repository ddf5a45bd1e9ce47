//! Writing from outside: a benchbook with accounts, a real listener, and forms
//! that come from the right page, from a wrong one, or twice at once.

use std::sync::OnceLock;

use benchbook::{Benchbook, LogKey, Moment, NewAccount, Role};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use super::tests::serve_for_tests;

pub(super) const PASSWORD: &str = "plum basket lantern four";
const FIRST: &str = "given once by somebody else";

fn now() -> Moment {
    Moment { utc: "2026-11-25T01:02:03Z".to_owned(), actor: "the tests".to_owned() }
}

/// A benchbook with one account for each role, all of which have chosen their
/// password, and one who has not.
async fn book(folder: &std::path::Path) -> Benchbook {
    let key = LogKey::begin(folder, None).unwrap();
    let owner = NewAccount {
        id: "o.owner".to_owned(),
        name: "Olga (invented)".to_owned(),
        roles: vec![Role::Owner],
        identity_checked: "invented".to_owned(),
    };
    let path = folder.join("a.benchbook");
    let book =
        Benchbook::create_with_accounts(&path, &owner, PASSWORD, &key, &now()).await.unwrap();
    let owners = book.acting_as("o.owner", PASSWORD, &now()).await.unwrap();
    for (id, role) in [
        ("a.analyst", Role::Analyst),
        ("r.reviewer", Role::Reviewer),
        ("p.approver", Role::Approver),
        ("l.reader", Role::Reader),
        ("n.new", Role::Reader),
        ("w.wrong", Role::Reader),
        ("c.changed", Role::Reader),
        // An account has three sessions at once; these tests run side by side.
        ("f.form", Role::Reader),
        ("s.session", Role::Reader),
        ("k.cookie", Role::Reader),
        ("m.most", Role::Reader),
        ("t.matrix", Role::Reader),
        ("w.worker", Role::Analyst),
        ("i.import", Role::Analyst),
        ("e.editor", Role::Analyst),
        ("z.fuzzer", Role::Analyst),
        ("x.looker", Role::Reader),
    ] {
        let new = NewAccount {
            id: id.to_owned(),
            name: format!("Person {} (invented)", &id[..1]),
            roles: vec![role],
            identity_checked: "invented".to_owned(),
        };
        owners.add_account(&new, FIRST, &now()).await.unwrap();
        if id != "n.new" {
            book.change_password(id, FIRST, PASSWORD, &now()).await.unwrap();
        }
    }
    let analysts = book.acting_as("a.analyst", PASSWORD, &now()).await.unwrap();
    analysts.add_case(&study::worked_cases::syringe(), &now()).await.unwrap();
    book
}

/// The port of the workbench that all of these tests share.
pub(super) fn served() -> u16 {
    static SERVED: OnceLock<(u16, tempfile::TempDir)> = OnceLock::new();
    let served = SERVED
        .get_or_init(|| serve_for_tests("a.benchbook", |path| async move { book(&path).await }));
    served.0
}

pub(super) struct Reply {
    pub(super) status: u16,
    pub(super) head: String,
    pub(super) body: String,
}

impl Reply {
    pub(super) fn location(&self) -> &str {
        let line = self.head.lines().find_map(|line| line.strip_prefix("location: "));
        line.unwrap_or_default()
    }
}

/// A browser: its cookies, and the token of the last page.
#[derive(Default)]
pub(super) struct Browser {
    cookies: Vec<(String, String)>,
    token: String,
}

impl Browser {
    async fn send(&mut self, request: impl Into<Vec<u8>>) -> Reply {
        let mut stream = TcpStream::connect(("127.0.0.1", served())).await.unwrap();
        let _ = stream.write_all(&request.into()).await;
        let mut bytes = Vec::new();
        let patience = std::time::Duration::from_secs(120);
        let _ = tokio::time::timeout(patience, stream.read_to_end(&mut bytes)).await;
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let (head, body) = text.split_once("\r\n\r\n").unwrap();
        for line in head.lines() {
            let Some(cookie) = line.strip_prefix("set-cookie: ") else { continue };
            let (name, value) = cookie.split(';').next().unwrap().split_once('=').unwrap();
            self.cookies.retain(|(known, _)| known != name);
            self.cookies.push((name.to_owned(), value.to_owned()));
        }
        if let Some(at) = body.find("name=\"form_token\" value=\"") {
            self.token = body[at + 25..].split('"').next().unwrap().to_owned();
        }
        let status = head.split(' ').nth(1).unwrap().parse().unwrap();
        Reply { status, head: head.to_owned(), body: body.to_owned() }
    }

    fn head(&self, method: &str, path: &str) -> String {
        let cookies: Vec<String> =
            self.cookies.iter().map(|(name, value)| format!("{name}={value}")).collect();
        format!(
            "{method} {path} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nCookie: {}\r\nConnection: close\r\n",
            served(),
            cookies.join("; ")
        )
    }

    pub(super) async fn get(&mut self, path: &str) -> Reply {
        let request = format!("{}\r\n", self.head("GET", path));
        self.send(request).await
    }

    pub(super) async fn post_from(
        &mut self,
        headers: &str,
        path: &str,
        token: &str,
        fields: &[(&str, &str)],
    ) -> Reply {
        let mut body = format!("form_token={token}");
        for (name, value) in fields {
            body.push_str(&format!("&{name}={}", super::address::encoded(value)));
        }
        let request = format!(
            "{}{headers}Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\
             \r\n{body}",
            self.head("POST", path),
            body.len()
        );
        self.send(request).await
    }

    pub(super) async fn post(&mut self, path: &str, fields: &[(&str, &str)]) -> Reply {
        let headers =
            format!("Origin: http://127.0.0.1:{}\r\nSec-Fetch-Site: same-origin\r\n", served());
        let token = self.token.clone();
        self.post_from(&headers, path, &token, fields).await
    }

    /// A form with files, as browsers send it.
    pub(super) async fn post_files(
        &mut self,
        path: &str,
        fields: &[(&str, &str)],
        files: &[(&str, &str, &[u8])],
    ) -> Reply {
        let mut body: Vec<u8> = Vec::new();
        let token = self.token.clone();
        for (name, value) in [("form_token", token.as_str())].iter().chain(fields) {
            let part = format!(
                "--edge\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n"
            );
            body.extend(part.as_bytes());
        }
        for (field, name, bytes) in files {
            let head = format!(
                "--edge\r\nContent-Disposition: form-data; name=\"{field}\"; \
                 filename=\"{name}\"\r\n\r\n"
            );
            body.extend(head.as_bytes());
            body.extend(*bytes);
            body.extend(b"\r\n");
        }
        body.extend(b"--edge--\r\n");
        let mut request = format!(
            "{}Origin: http://127.0.0.1:{}\r\nContent-Type: multipart/form-data; \
             boundary=edge\r\nContent-Length: {}\r\n\r\n",
            self.head("POST", path),
            served(),
            body.len()
        )
        .into_bytes();
        request.extend(body);
        self.send(request).await
    }

    pub(super) async fn signed_in(account: &str) -> Self {
        let mut browser = Self::default();
        browser.get("/sign-in").await;
        let reply = browser.post("/sign-in", &[("account", account), ("password", PASSWORD)]).await;
        assert_eq!(reply.status, 303, "{account}: {}", reply.body);
        browser
    }
}

#[tokio::test]
async fn nothing_is_shown_before_somebody_signs_in() {
    let mut browser = Browser::default();
    for path in ["/", "/history", "/people", "/case/a/report", "/case/a/report.pdf"] {
        let reply = browser.get(path).await;
        assert_eq!(reply.status, 303, "{path}");
        assert!(reply.location().starts_with("/sign-in?to=%2F"), "{path}: {}", reply.head);
    }
    for path in ["/benchbook.json", "/people.json", "/history.json"] {
        let reply = browser.get(path).await;
        assert_eq!(reply.status, 401, "{path}");
        assert!(reply.body.contains("hint"), "{path}");
    }
}

#[tokio::test]
async fn a_form_from_elsewhere_changes_nothing() {
    let port = served();
    let mut browser = Browser::default();
    browser.get("/sign-in").await;
    let token = browser.token.clone();
    let own = format!("Origin: http://127.0.0.1:{port}\r\n");
    let fields = [("account", "f.form"), ("password", PASSWORD)];
    for (headers, token) in [
        (own.clone(), ""),
        (own.clone(), "0"),
        (own.clone(), &"0".repeat(64)),
        (String::new(), &token),
        ("Origin: null\r\n".to_owned(), &token),
        ("Origin: http://evil.test\r\n".to_owned(), &token),
        (format!("Origin: https://127.0.0.1:{port}\r\n"), &token),
        (format!("Origin: http://localhost:{port}\r\n"), &token),
        (format!("{own}Origin: http://evil.test\r\n"), &token),
        (format!("{own}Sec-Fetch-Site: cross-site\r\n"), &token),
        (format!("{own}Sec-Fetch-Site: same-site\r\n"), &token),
        (format!("{own}Sec-Fetch-Site: none\r\n"), &token),
    ] {
        let reply = browser.post_from(&headers, "/sign-in", token, &fields).await;
        assert_eq!(reply.status, 403, "{headers:?} {token:?}");
    }
    // The control: the same form from its own page is taken.
    let reply = browser.post_from(&own, "/sign-in", &token, &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    // The token of the visit is none of the session.
    let reply = browser.post_from(&own, "/sign-out", &token, &[]).await;
    assert_eq!(reply.status, 403);
    // The token of one session is of no use in another.
    browser.get("/").await;
    let theirs = browser.token.clone();
    let mut other = Browser::signed_in("f.form").await;
    assert_eq!(other.post_from(&own, "/sign-out", &theirs, &[]).await.status, 403);
}

#[tokio::test]
async fn a_session_begins_anew_and_ends() {
    let mut browser = Browser::signed_in("s.session").await;
    let (name, value) = browser.cookies.last().unwrap().clone();
    assert_eq!(name, format!("isobar-{}", served()));
    let reply = browser.get("/people").await;
    assert_eq!(reply.status, 200);
    assert!(reply.body.contains("Person s (invented)") && reply.body.contains("Sign out"));
    // Signed in again, the browser has another token and the old one is dead.
    browser.get("/sign-in").await;
    browser.post("/sign-in", &[("account", "s.session"), ("password", PASSWORD)]).await;
    let mut old = Browser { cookies: vec![(name, value)], token: String::new() };
    assert_eq!(old.get("/people").await.status, 303);
    browser.get("/people").await;
    let kept = browser.cookies.clone();
    assert_eq!(browser.post("/sign-out", &[]).await.location(), "/sign-in");
    let mut after = Browser { cookies: kept, token: String::new() };
    assert_eq!(after.get("/people").await.status, 303, "the session is ended on the server");
}

#[tokio::test]
async fn cookies_are_closed_to_scripts_and_foreign_pages() {
    let mut browser = Browser::default();
    let visit = browser.get("/sign-in").await;
    let fields = [("account", "k.cookie"), ("password", PASSWORD), ("to", "//evil.test")];
    let session = browser.post("/sign-in", &fields).await;
    assert_eq!(session.location(), "/");
    for reply in [visit, session] {
        let line = reply.head.lines().find(|line| line.starts_with("set-cookie")).unwrap();
        assert!(line.ends_with("; Path=/; HttpOnly; SameSite=Strict"), "{line}");
    }
}

#[tokio::test]
async fn wrong_passwords_lock_an_account_and_say_nothing_about_others() {
    let mut browser = Browser::default();
    browser.get("/sign-in").await;
    for _ in 0..5 {
        let wrong = [("account", "w.wrong"), ("password", "not this one at all")];
        let reply = browser.post("/sign-in", &wrong).await;
        assert_eq!(reply.status, 401);
        assert!(reply.body.contains("account or password is not right"));
        assert!(reply.body.contains("value=\"w.wrong\""), "what was typed is kept");
        assert!(!reply.body.contains("not this one"), "but not the password");
    }
    let right = [("account", "w.wrong"), ("password", PASSWORD)];
    let reply = browser.post("/sign-in", &right).await;
    assert_eq!(reply.status, 429, "{}", reply.body);
    assert!(reply.body.contains("locked until"));
    let mut looker = Browser::signed_in("x.looker").await;
    let history = looker.get("/history.json").await.body;
    assert!(history.contains("at the sign-in page, as w.wrong"), "{history}");
    let nobody = [("account", "nobody"), ("password", PASSWORD)];
    let reply = browser.post("/sign-in", &nobody).await;
    assert_eq!(reply.status, 401);
    assert!(reply.body.contains("account or password is not right"));
}

#[tokio::test]
async fn a_first_password_is_changed_before_anything_else() {
    let mut browser = Browser::default();
    browser.get("/sign-in").await;
    let reply = browser.post("/sign-in", &[("account", "n.new"), ("password", FIRST)]).await;
    assert_eq!(reply.location(), "/password");
    browser.get("/password").await;
    let differ = [("old", FIRST), ("new", "four words without sense"), ("again", "x")];
    assert_eq!(browser.post("/password", &differ).await.status, 422);
    let weak = [("old", FIRST), ("new", "short"), ("again", "short")];
    assert_eq!(browser.post("/password", &weak).await.status, 422);
    let new = [("old", FIRST), ("new", PASSWORD), ("again", PASSWORD)];
    let reply = browser.post("/password", &new).await;
    assert_eq!(reply.location(), "/password?done=changed", "{}", reply.body);
    assert_eq!(browser.get("/").await.status, 200, "the new session goes on");
}

#[tokio::test]
async fn only_keepers_of_accounts_keep_accounts() {
    let mut reader = Browser::signed_in("t.matrix").await;
    let page = reader.get("/people").await;
    assert!(!page.body.contains("Add an account"));
    let new = [
        ("id", "x.mallory"),
        ("name", "Typed (invented)"),
        ("role", "reader"),
        ("password", FIRST),
    ];
    let reply = reader.post("/people", &new).await;
    assert_eq!(reply.status, 403);
    assert!(reply.body.contains("may not keep accounts"), "{}", reply.body);
    let mut owner = Browser::signed_in("o.owner").await;
    owner.get("/people").await;
    let bad = [("id", "X"), ("name", "Kept (invented)"), ("role", "reader"), ("password", FIRST)];
    let reply = owner.post("/people", &bad).await;
    assert_eq!(reply.status, 422);
    assert!(reply.body.contains("value=\"Kept (invented)\""), "what was typed is kept");
    let good = [("id", "x.extra"), ("name", "Extra"), ("role", "reader"), ("password", FIRST)];
    assert_eq!(owner.post("/people", &good).await.status, 303);
    assert_eq!(owner.post("/people", &good).await.status, 409, "a name is never used again");
    let list = owner.get("/people.json").await.body;
    assert!(list.contains("x.extra") && !list.contains("x.mallory"), "{list}");
}

#[tokio::test]
async fn two_who_change_the_same_account_both_keep_their_words() {
    let path = "/people/c.changed";
    let made_from = |body: &str| {
        let at = body.find("name=\"made_from\" value=\"").unwrap();
        body[at + 24..].split('"').next().unwrap().to_owned()
    };
    let mut one = Browser::signed_in("o.owner").await;
    let mut two = Browser::signed_in("o.owner").await;
    let first = made_from(&one.get(path).await.body);
    let second = made_from(&two.get(path).await.body);
    let fields = |made_from: &str, role: &'static str| {
        [
            ("doing", "change".to_owned()),
            ("made_from", made_from.to_owned()),
            ("role", role.to_owned()),
            ("state", "active".to_owned()),
            ("reason", format!("because {role}")),
        ]
    };
    let send = |fields: &[(&'static str, String); 5]| {
        fields.iter().map(|(name, value)| (*name, value.clone())).collect::<Vec<_>>()
    };
    let sent = send(&fields(&first, "analyst"));
    let as_text: Vec<(&str, &str)> = sent.iter().map(|(n, v)| (*n, v.as_str())).collect();
    assert_eq!(one.post(path, &as_text).await.status, 303);
    let sent = send(&fields(&second, "reviewer"));
    let as_text: Vec<(&str, &str)> = sent.iter().map(|(n, v)| (*n, v.as_str())).collect();
    let reply = two.post(path, &as_text).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    assert!(reply.body.contains("<td class=\"words\">analyst</td>"), "{}", reply.body);
    assert!(reply.body.contains("<td class=\"words\">reviewer</td>"), "{}", reply.body);
    assert!(reply.body.contains("value=\"because reviewer\""), "the reason is kept");
    // Sent again from there, it goes over what stands.
    let sent = send(&fields(&made_from(&reply.body), "reviewer"));
    let as_text: Vec<(&str, &str)> = sent.iter().map(|(n, v)| (*n, v.as_str())).collect();
    assert_eq!(two.post(path, &as_text).await.status, 303);
    let nothing = [("doing", "change"), ("role", "reader"), ("state", "active"), ("reason", "x")];
    assert_eq!(two.post(path, &nothing).await.status, 409, "a form must say what it was made from");
}

#[tokio::test]
async fn what_is_too_large_is_not_read() {
    let mut browser = Browser::signed_in("m.most").await;
    browser.get("/").await;
    let long = "a".repeat(super::form::FORM_BYTES + 1);
    assert_eq!(browser.post("/people", &[("id", &long)]).await.status, 413);
}

#[tokio::test]
async fn a_benchbook_is_verified_and_copied_from_its_page() {
    let mut analyst = Browser::signed_in("w.worker").await;
    let path = "/safekeeping";
    let page = analyst.get(path).await.body;
    assert!(page.contains("/case/syringe-1ml/archive.zip"), "{page}");
    let checkpoint = page.split("<pre>").nth(1).unwrap().split("</pre>").next().unwrap().to_owned();
    let reply = analyst.post(path, &[("doing", "verify")]).await;
    assert_eq!(reply.status, 200, "{}", reply.body);
    assert!(reply.body.contains("It is as it was written"), "{}", reply.body);
    assert!(reply.body.contains("No checkpoint from elsewhere"), "{}", reply.body);
    // A browser sends its lines with carriage returns.
    let as_sent = checkpoint.replace('\n', "\r\n");
    let fields = [("doing", "verify"), ("checkpoint", as_sent.as_str())];
    let reply = analyst.post(path, &fields).await;
    assert!(reply.body.contains("is one of this log"), "{}", reply.body);
    // Positive control: a checkpoint of another log does not fit.
    let root = checkpoint.lines().nth(2).unwrap();
    let other = checkpoint.replace(root, "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=");
    let reply = analyst.post(path, &[("doing", "verify"), ("checkpoint", &other)]).await;
    assert!(reply.body.contains("It is not as it was written"), "{}", reply.body);
    let reply = analyst.post(path, &[("doing", "verify"), ("checkpoint", "x")]).await;
    assert_eq!(reply.status, 422, "{}", reply.body);

    analyst.get(path).await;
    let backup = analyst.post(path, &[("doing", "backup")]).await;
    assert_eq!(backup.status, 200, "{}", backup.head);
    assert!(backup.head.contains("-backup-"), "{}", backup.head);
    assert!(backup.body.starts_with("SQLite format 3"));
    let archive = analyst.get("/case/syringe-1ml/archive.zip").await;
    assert_eq!(archive.status, 200, "{}", archive.head);
    assert!(archive.body.starts_with("PK"), "{}", archive.head);
    assert!(archive.body.contains("syringe-1ml/manifest-sha256.txt"));

    // A reader may look, and is not offered a backup.
    let mut reader = Browser::signed_in("x.looker").await;
    let page = reader.get(path).await.body;
    assert!(!page.contains("Make a backup and keep it"), "{page}");
    assert_eq!(reader.post(path, &[("doing", "backup")]).await.status, 403);
    assert_eq!(reader.post(path, &[("doing", "verify")]).await.status, 200);
}

/// A benchbook with these worked cases, as the bytes of its file.
async fn benchbook_with(ids: &[&str]) -> Vec<u8> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("other.benchbook");
    let at = crate::clock::moment();
    let other = benchbook::Benchbook::create(&path, &at).await.unwrap();
    for id in ids {
        let mut input = study::worked_cases::liquid_vial();
        input.id = (*id).to_owned();
        other.add_case(&input, &at).await.unwrap();
    }
    other.close().await;
    std::fs::read(&path).unwrap()
}

#[tokio::test]
async fn a_case_is_brought_in_from_another_benchbook() {
    let mut analyst = Browser::signed_in("w.worker").await;
    let path = "/bring-in";
    let page = analyst.get(path).await.body;
    assert!(page.contains("The other benchbook"), "{page}");
    let two = benchbook_with(&["from-afar", "also-there"]).await;
    let sent = [("file", "afar.benchbook", two.as_slice())];
    // With several cases, which one is asked, and nothing is brought in.
    let reply = analyst.post_files(path, &[], &sent).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("from-afar, also-there"), "{}", reply.body);
    assert_eq!(analyst.get("/case/from-afar/profile").await.status, 404);
    let fields = [("case", "from-afar"), ("reason", "moved here")];
    let reply = analyst.post_files(path, &fields, &sent).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(analyst.get("/case/from-afar/profile").await.status, 200);
    // A second time the name is taken; what is no benchbook is named as such,
    // by the name it was sent with.
    analyst.get(path).await;
    let reply = analyst.post_files(path, &fields, &sent).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    let broken = [("file", "holiday.benchbook", b"not a benchbook".as_slice())];
    let reply = analyst.post_files(path, &[], &broken).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("holiday.benchbook"), "{}", reply.body);
    // One byte of a text changed: it does not have its hash, and stays out.
    let mut damaged = benchbook_with(&["damaged"]).await;
    let word = b"Question of nobody";
    let text = study::worked_cases::liquid_vial().question;
    let at = damaged.windows(text.len()).position(|bytes| bytes == text.as_bytes()).unwrap();
    damaged[at..at + word.len()].copy_from_slice(word);
    let sent = [("file", "damaged.benchbook", damaged.as_slice())];
    let reply = analyst.post_files(path, &[], &sent).await;
    assert!((400..500).contains(&reply.status), "{}", reply.head);
    assert_eq!(analyst.get("/case/damaged/profile").await.status, 404);

    // Out again, as a benchbook of its own.
    let alone = analyst.get("/case/from-afar/copy.benchbook").await;
    assert_eq!(alone.status, 200, "{}", alone.head);
    assert!(alone.body.starts_with("SQLite format 3"), "{}", alone.head);
    assert!(alone.body.contains("from-afar"));

    // A reader may not bring cases in.
    let mut reader = Browser::signed_in("x.looker").await;
    assert!(!reader.get(path).await.body.contains("The other benchbook"));
    let sent = [("file", "afar.benchbook", two.as_slice())];
    let reply = reader.post_files(path, &[("case", "also-there")], &sent).await;
    assert_eq!(reply.status, 403, "{}", reply.body);
}
