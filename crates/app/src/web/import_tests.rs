//! Files sent to be imported: read, asked about, put right, stored as a whole or
//! not at all, and nobody else's.

use super::case_tests::{begin, results_table, value_of};
use super::writing_tests::{Browser, Reply};

const IMPORT: &str = "/case/dirty/import";

/// An invented log whose header says no units: two things are to be asked.
fn dirty() -> String {
    let mut text = "LOGGER 7 (invented)\nt;CH2;CH9\n".to_owned();
    for n in 0..400 {
        let t = f64::from(n) * 0.05;
        let p = if t < 8.0 { 1.2 + 990.0 / (1.0 + t * t * t) } else { 1.2 + 0.004 * (t - 8.0) };
        text.push_str(&format!("{t:.2};{p:.4};7\n").replace('.', ","));
    }
    text
}

async fn send(browser: &mut Browser, files: &[(&str, &str, &[u8])]) -> Reply {
    let reply = browser.post_files(IMPORT, &[("doing", "send")], files).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let location = reply.location().to_owned();
    settled(browser, &location).await
}

/// The page once nothing is under way.
async fn settled(browser: &mut Browser, path: &str) -> Reply {
    for _ in 0..200 {
        let reply = browser.get(path).await;
        if !reply.body.contains("data-working") {
            return reply;
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    panic!("{path} is still read");
}

#[tokio::test]
async fn a_dirty_file_is_asked_about_put_right_and_stored() {
    let mut browser = Browser::signed_in("i.import").await;
    begin(&mut browser, "dirty").await;
    browser.get("/case/dirty/runs").await;
    let text = dirty();
    let page = send(&mut browser, &[("files", "../../log.csv", text.as_bytes())]).await;
    for needed in
        ["1 of 1 file", "refused", "INT-", "semicolon", "before the table", "Put the reading right"]
    {
        assert!(page.body.contains(needed), "{needed}: {}", page.body);
    }
    assert!(!page.body.contains("../../"), "a name is no path");
    let upload = value_of(&page.body, "upload");
    let here = format!("{IMPORT}?upload={upload}");
    let twin = browser.get(&format!("{IMPORT}.json?upload={upload}")).await.body;
    assert!(twin.contains("\"state\":\"read\"") && twin.contains("\"question\""), "{twin}");

    // A unit that is none is refused at once, and what was typed stays.
    let roles = |unit: &'static str| {
        vec![
            ("doing", "correct"),
            ("role_0", "elapsed time"),
            ("unit_0", "s"),
            ("role_1", "chamber pressure"),
            ("unit_1", unit),
            ("role_2", "not read"),
        ]
    };
    let with = |unit: &'static str| [roles(unit), vec![("upload", upload.as_str())]].concat();
    let reply = browser.post_files(IMPORT, &with("furlong"), &[]).await;
    assert_eq!(reply.status, 422);
    assert!(reply.body.contains("furlong"), "{}", reply.body);
    let reply = browser.post_files(IMPORT, &with(""), &[]).await;
    assert_eq!(reply.status, 422, "a pressure has a unit");

    let reply = browser.post_files(IMPORT, &with("mbar"), &[]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let page = settled(&mut browser, &here).await.body;
    assert!(page.contains("It is not known yet what these units are"), "{page}");
    // Stored without a class: refused, and nothing is stored.
    let store = [("doing", "store"), ("upload", upload.as_str())];
    browser.post_files(IMPORT, &store, &[]).await;
    let page = settled(&mut browser, &here).await.body;
    assert!(page.contains("Not done") && page.contains("Nothing was stored"), "{page}");
    assert!(browser.get("/case/dirty/runs.json").await.body.contains("\"runs\":[]"));

    // The form holds by now what was said of the columns.
    assert!(page.contains("CH2=mbar") && page.contains("value=\"t=s\""), "{page}");
    let said = vec![("class", "negative"), ("pressure", "CH2=mbar"), ("time", "t=s")];
    let classed = [with("mbar"), said].concat();
    browser.post_files(IMPORT, &classed, &[]).await;
    let page = settled(&mut browser, &here).await.body;
    assert!(page.contains("Store 1 run<"), "{page}");
    browser.post_files(IMPORT, &store, &[]).await;
    let page = settled(&mut browser, &here).await.body;
    assert!(page.contains("Stored: 1 run "), "{page}");
    assert!(page.contains("unit = &quot;mbar&quot;"), "the reading is kept: {page}");
    let runs = browser.get("/case/dirty/runs.json").await.body;
    assert!(runs.contains("negative control") && runs.contains("\"number\":1"), "{runs}");
    let causes = browser.get("/case/dirty/run/1.json").await;
    assert_eq!(causes.status, 200);

    // The same bytes again: refused, for a copy is no second unit.
    let page = send(&mut browser, &[("files", "copy.csv", text.as_bytes())]).await;
    assert!(page.body.contains("imported before"), "{}", page.body);
    // The reading is there to be chosen again, and reads the next file.
    let page = browser.get(IMPORT).await.body;
    assert!(page.contains("Reading of an earlier import") && page.contains("log.csv, "), "{page}");
    let name = page.split("<option value=\"log.csv, ").nth(1).unwrap().split('"').next().unwrap();
    let name = format!("log.csv, {name}");
    let next = text.replace(";7\n", ";8\n");
    assert_ne!(next, text);
    let files: [(&str, &str, &[u8]); 1] = [("files", "next.csv", next.as_bytes())];
    let chosen = |name| [("doing", "send"), ("earlier", name)];
    let reply = browser.post_files(IMPORT, &chosen(&name), &files).await;
    let page = settled(&mut browser, reply.location()).await.body;
    assert!(page.contains("It is not known yet what these units are"), "{page}");
    assert_eq!(browser.post_files(IMPORT, &chosen("log.csv"), &files).await.status, 422);

    // Nobody else finds these files.
    let mut other = Browser::signed_in("i.import").await;
    assert_eq!(other.get(&here).await.status, 404);
}

#[tokio::test]
async fn one_refused_file_refuses_all_unless_it_is_left_out() {
    let mut browser = Browser::signed_in("i.import").await;
    browser.get("/new").await;
    let path = "/case/syringe-1ml/import";
    let table = results_table();
    let files: [(&str, &str, &[u8]); 2] =
        [("files", "good.csv", table.as_bytes()), ("files", "bad.csv", b"nothing to read")];
    browser.get("/case/syringe-1ml/runs").await;
    let reply = browser.post_files(path, &[("doing", "send")], &files).await;
    let here = reply.location().to_owned();
    let page = settled(&mut browser, &here).await.body;
    assert!(page.contains("1 of 2 files is refused") && !page.contains("id=\"store\""), "{page}");
    let upload = value_of(&page, "upload");
    // Storing is refused as well where somebody asks for it by hand.
    browser.post_files(path, &[("doing", "store"), ("upload", &upload)], &[]).await;
    let page = settled(&mut browser, &here).await.body;
    assert!(page.contains("Nothing is stored yet"), "{page}");
    let skip = [("doing", "correct"), ("upload", upload.as_str()), ("skip_refused", "yes")];
    browser.post_files(path, &skip, &[]).await;
    let page = settled(&mut browser, &here).await.body;
    assert!(page.contains("1 file read, 94 runs"), "{page}");
    // Let go: nothing is left of it.
    let stop = [("doing", "stop"), ("upload", upload.as_str())];
    let reply = browser.post_files(path, &stop, &[]).await;
    assert_eq!(reply.location(), format!("{path}?done=stopped"));
    assert_eq!(browser.get(&here).await.status, 404);
    assert!(browser.get("/case/syringe-1ml/runs.json").await.body.contains("\"runs\":[]"));
    // Nothing chosen, and more than is taken.
    assert_eq!(browser.post_files(path, &[("doing", "send")], &[]).await.status, 422);
}
