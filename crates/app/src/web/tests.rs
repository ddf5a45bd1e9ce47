//! The workbench from outside: a real listener, raw requests, a real
//! benchbook with hostile names in it.

use std::sync::OnceLock;

use benchbook::{Benchbook, Moment};
use digits::RandomStream;
use study::forecast::ForecastSettings;
use study::plan::PlanSettings;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

/// A name that tries a tag, a quote, an entity and a turn of the line.
const HOSTILE: &str = "<script>alert(1)</script>\"'&amp;\u{202e}\u{7}";

struct Served {
    port: u16,
    _folder: tempfile::TempDir,
}

/// One benchbook for all tests: a worked case done to the end, a case that
/// has only begun, under hostile names.
async fn book(folder: &std::path::Path) -> Benchbook {
    let now =
        Moment { utc: "2026-11-25T01:02:03Z".to_owned(), actor: HOSTILE.replace('\u{7}', "") };
    let book = Benchbook::create(&folder.join("a.benchbook"), &now).await.unwrap();
    let mut begun = study::worked_cases::lyophilised_vial();
    begun.id = "begun".to_owned();
    begun.title = HOSTILE.to_owned();
    begun.question = HOSTILE.to_owned();
    begun.rig.name = HOSTILE.to_owned();
    begun.profile.product.name = HOSTILE.to_owned();
    begun.profile.mall = None;
    book.add_case(&begun, &now).await.unwrap();

    let input = study::worked_cases::syringe();
    book.add_case(&input, &now).await.unwrap();
    let settings = ForecastSettings { seed: 1, n_draws: 16, n_sizes: 31, liquid_side: true };
    let forecast = study::forecast(&input, &settings, &|_, _| {}).unwrap();
    let method = study::design_method(&input, &forecast);
    let plan = study::plan_runs(&input, &forecast, &PlanSettings::default());
    let runs = study::simulate_runs(&input, &method, &plan, 1, &|_, _| {}).unwrap();
    let results = study::evaluate(&input, &method, &runs);
    book.record_forecast(&input.id, &forecast, &now).await.unwrap();
    book.record_method(&input.id, &method, &now).await.unwrap();
    book.record_plan(&input.id, &plan, &now).await.unwrap();
    book.add_runs(&input.id, &runs, &now).await.unwrap();
    book.record_results(&input.id, &results, &now).await.unwrap();
    book
}

/// Serves a benchbook made in a folder of its own, on threads of its own; the
/// port, and the folder that lives as long as it is held.
pub(super) fn serve_for_tests<Making>(
    shown_name: &'static str,
    book: impl FnOnce(std::path::PathBuf) -> Making + Send + 'static,
) -> (u16, tempfile::TempDir)
where
    Making: Future<Output = Benchbook>,
{
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().to_owned();
    let (tell, told) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        tokio::runtime::Runtime::new().unwrap().block_on(async {
            let book = book(path).await;
            let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
            let port = listener.local_addr().unwrap().port();
            tell.send(port).unwrap();
            let front = super::Front::Loopback(port);
            super::serve(book, listener, shown_name.to_owned(), front).await.unwrap();
        });
    });
    (told.recv().unwrap(), folder)
}

/// The workbench runs on its own threads, so that every test reaches it.
fn served() -> &'static Served {
    static SERVED: OnceLock<Served> = OnceLock::new();
    SERVED.get_or_init(|| {
        let (port, folder) = serve_for_tests(HOSTILE, |path| async move { book(&path).await });
        Served { port, _folder: folder }
    })
}

pub(super) struct Reply {
    pub(super) status: u16,
    head: String,
    pub(super) body: String,
}

async fn raw(request: &[u8]) -> Option<Reply> {
    let mut stream = TcpStream::connect(("127.0.0.1", served().port)).await.unwrap();
    // The other side may hang up on what is not HTTP at all.
    let _ = stream.write_all(request).await;
    let mut bytes = Vec::new();
    let patience = std::time::Duration::from_secs(60);
    let _ = tokio::time::timeout(patience, stream.read_to_end(&mut bytes)).await;
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let (head, body) = text.split_once("\r\n\r\n")?;
    let status = head.split(' ').nth(1)?.parse().ok()?;
    Some(Reply { status, head: head.to_lowercase(), body: body.to_owned() })
}

async fn ask(method: &str, path: &str, host: &str) -> Reply {
    let request = format!("{method} {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n");
    raw(request.as_bytes()).await.unwrap()
}

pub(super) async fn get(path: &str) -> Reply {
    ask("GET", path, &format!("127.0.0.1:{}", served().port)).await
}

const STEPS: [&str; 7] = ["profile", "forecast", "method", "runs", "results", "report", "upkeep"];

#[tokio::test]
async fn every_page_and_twin_answers_with_its_headers() {
    for id in ["begun", "syringe-1ml"] {
        for step in STEPS {
            let page = get(&format!("/case/{id}/{step}")).await;
            assert_eq!(page.status, 200, "{id} {step}: {}", page.body);
            for needed in [
                "content-security-policy: default-src 'none'; script-src 'self'",
                "x-content-type-options: nosniff",
                "referrer-policy: same-origin",
                "cross-origin-opener-policy: same-origin",
                "cross-origin-resource-policy: same-origin",
                "cache-control: no-store",
            ] {
                assert!(page.head.contains(needed), "{needed} on {step}");
            }
            let twin = get(&format!("/case/{id}/{step}.json")).await;
            assert_eq!(twin.status, 200);
            assert!(twin.head.contains("content-type: application/json"), "{}", twin.head);
        }
    }
    for path in ["/", "/benchbook.json", "/history", "/history.json", "/history?case=begun"] {
        assert_eq!(get(path).await.status, 200, "{path}");
    }
    assert_eq!(get("/case/begun").await.status, 303);
}

#[tokio::test]
async fn a_benchbook_without_accounts_says_so_on_every_page() {
    for path in ["/", "/people", "/sign-in", "/case/begun/profile"] {
        let reply = get(path).await;
        assert_eq!(reply.status, 200, "{path}");
        assert!(reply.body.contains("Not for regulated use"), "{path}");
    }
    assert!(get("/people.json").await.body.contains("may_do"));
}

#[tokio::test]
async fn hostile_names_stay_words() {
    for path in ["/", "/history", "/case/begun/profile", "/case/begun/runs", "/case/begun/report"] {
        let body = get(path).await.body;
        assert!(!body.contains("<script>alert"), "{path}");
        assert!(body.contains("&lt;script&gt;alert(1)&lt;/script&gt;"), "{path}");
        assert!(!body.contains('\u{202e}') && !body.contains('\u{7}'), "{path}");
        assert!(body.contains("[U+202E]"), "{path}");
    }
}

#[tokio::test]
async fn pages_carry_no_script_or_style_of_their_own() {
    for step in STEPS {
        let body = get(&format!("/case/syringe-1ml/{step}")).await.body;
        assert!(!body.contains(" style=\""), "{step}");
        assert!(!body.contains("<style"), "{step}");
        assert!(!body.contains("<script>"), "{step}");
        for handler in [" onclick=", " onload=", " onerror=", "javascript:"] {
            assert!(!body.contains(handler), "{step} {handler}");
        }
        assert!(!body.contains("src=\"http") && !body.contains("href=\"http"), "{step}");
    }
    // A second class of the same element would be ignored.
    let search = "/case/syringe-1ml/design?up_to_um=20&longest_s=30&share_percent=50";
    let paths = STEPS.map(|step| format!("/case/syringe-1ml/{step}"));
    for path in paths.iter().map(String::as_str).chain(["/", "/register", search]) {
        let reply = get(path).await;
        let twice = reply.body.split('<').find(|tag| {
            tag.split('>').next().is_some_and(|tag| tag.matches(" class=\"").count() > 1)
        });
        assert_eq!(twice, None, "{path}");
    }
}

/// Names under which a foreign page may lead a browser here.
#[tokio::test]
async fn only_the_names_of_this_machine_are_answered() {
    let port = served().port;
    for host in ["127.0.0.1", "localhost", "[::1]"] {
        assert_eq!(ask("GET", "/", &format!("{host}:{port}")).await.status, 200, "{host}");
    }
    let other = if port == 65_000 { 65_001 } else { 65_000 };
    for host in [
        String::new(),
        "localhost".to_owned(),
        "127.0.0.1".to_owned(),
        format!("127.0.0.1:{other}"),
        format!("127.0.0.1.:{port}"),
        format!("localhost.:{port}"),
        format!("LOCALHOST:{port}"),
        format!("user@localhost:{port}"),
        format!("localhost:{port}:80"),
        format!("localhost:{port}/x"),
        format!("localhost:0{port}"),
        format!("127.1:{port}"),
        format!("2130706433:{port}"),
        format!("0.0.0.0:{port}"),
        format!("[::ffff:127.0.0.1]:{port}"),
        format!("attacker.test:{port}"),
        format!("localhost.attacker.test:{port}"),
        format!("localhost:{port}, attacker.test"),
    ] {
        let status = ask("GET", "/", &host).await.status;
        assert!(matches!(status, 421 | 400), "`{host}` was answered with {status}");
    }
    let twice = format!(
        "GET / HTTP/1.1\r\nHost: localhost:{port}\r\nHost: attacker.test\r\nConnection: close\r\n\r\n"
    );
    assert!(matches!(raw(twice.as_bytes()).await.unwrap().status, 421 | 400));
    let none = raw(b"GET / HTTP/1.1\r\nConnection: close\r\n\r\n").await.unwrap();
    assert!(matches!(none.status, 421 | 400));
    let whole = format!(
        "GET http://attacker.test/ HTTP/1.1\r\nHost: localhost:{port}\r\nConnection: close\r\n\r\n"
    );
    assert!(matches!(raw(whole.as_bytes()).await.unwrap().status, 421 | 400));
    let forwarded = format!(
        "GET / HTTP/1.1\r\nHost: attacker.test\r\nX-Forwarded-Host: localhost:{port}\r\n\
         Connection: close\r\n\r\n"
    );
    assert_eq!(raw(forwarded.as_bytes()).await.unwrap().status, 421);
}

#[tokio::test]
async fn nothing_is_written_and_nothing_is_missing_without_a_next_step() {
    let host = format!("127.0.0.1:{}", served().port);
    assert_eq!(ask("POST", "/", &host).await.status, 403);
    for method in ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"] {
        assert_eq!(ask(method, "/", &host).await.status, 405, "{method}");
    }
    for path in [
        "/nothing",
        "/case/none/profile",
        "/case/begun/nothing",
        "/case/begun/figures/forecast-rise.json",
        "/case/syringe-1ml/traces.json?runs=99999",
        "/assets/style.css",
        "/assets/..%2f..%2fetc%2fpasswd",
    ] {
        let reply = get(path).await;
        assert_eq!(reply.status, 404, "{path}");
        assert!(reply.body.contains("Next") || reply.body.contains("hint"), "{path}");
    }
    for query in ["settle_s=-1", "settle_s=NaN", "settle_s=1e300", "free_volume_ml=x"] {
        let reply = get(&format!("/case/syringe-1ml/bench.json?{query}")).await;
        assert_eq!(reply.status, 422, "{query}");
    }
}

#[tokio::test]
async fn assets_are_kept_for_ever_under_the_digest_of_their_content() {
    let page = get("/case/syringe-1ml/forecast").await.body;
    for stem in ["style-", "workbench-", "plotly-", "theme-", "icon-"] {
        let at = page.find(&format!("/assets/{stem}")).unwrap();
        let address = page[at..].split('"').next().unwrap();
        let reply = get(address).await;
        assert_eq!(reply.status, 200, "{address}");
        assert!(reply.head.contains("immutable"), "{}", reply.head);
    }
    assert!(!get("/").await.body.contains("plotly-"), "only pages with plots load the library");
}

#[tokio::test]
async fn the_report_is_a_file_to_keep() {
    let reply = get("/case/syringe-1ml/report.pdf").await;
    assert_eq!(reply.status, 200);
    assert!(reply.head.contains("content-type: application/pdf"));
    assert!(reply.head.contains("attachment; filename=\"syringe-1ml.pdf\""), "{}", reply.head);
    assert!(reply.body.starts_with("%PDF-"));
}

#[tokio::test]
async fn every_document_is_listed_and_is_a_file_to_keep() {
    let page = get("/case/syringe-1ml/report").await.body;
    for name in ["claim", "protocol", "limit", "profile", "method", "fixture"] {
        let address = format!("/case/syringe-1ml/{name}.pdf");
        assert!(page.contains(&address), "{name}");
        let reply = get(&address).await;
        assert_eq!(reply.status, 200, "{name}");
        assert!(reply.head.contains(&format!("syringe-1ml-{name}.pdf")), "{}", reply.head);
    }
    assert_eq!(get("/case/syringe-1ml/memo.pdf").await.status, 404);
    // Letter is 612 by 792 points, A4 595.28 by 841.89.
    for (query, width) in [("", "595.2"), ("?paper=a4", "595.2"), ("?paper=letter", "612 792")] {
        let reply = get(&format!("/case/syringe-1ml/claim.pdf{query}")).await;
        assert!(reply.body.contains(&format!("/MediaBox[0 0 {width}")), "{query}");
    }
    assert_eq!(get("/case/syringe-1ml/claim.pdf?paper=napkin").await.status, 422);
}

#[tokio::test]
async fn reduced_traces_keep_their_extremes() {
    let answer = |columns: u32| async move {
        let path = format!("/case/syringe-1ml/traces.json?runs=1,2&columns={columns}");
        serde_json::from_str::<serde_json::Value>(&get(&path).await.body).unwrap()
    };
    let (few, whole) = (answer(10).await, answer(4000).await);
    for run in 0..2 {
        let highest = |answer: &serde_json::Value| {
            let samples = answer["runs"][run]["pressures_pa"].as_array().unwrap();
            samples.iter().filter_map(serde_json::Value::as_f64).fold(0.0, f64::max)
        };
        assert_eq!(highest(&few), highest(&whole));
        assert!(highest(&whole) > 1.0e4);
    }
}

/// Garbage in paths, queries and headers never ends in a fault of ours. The
/// seed is fixed, so a find stays found.
#[tokio::test]
async fn garbage_is_never_our_fault() {
    let pieces = [
        "/",
        "case",
        "begun",
        "syringe-1ml",
        "forecast",
        "runs",
        "traces.json",
        "bench.json",
        "report.pdf",
        "figures",
        "results-rises.json",
        "history",
        ".json",
        "%",
        "%00",
        "%ff",
        "%2e%2e",
        "..",
        "?",
        "&",
        "=",
        "runs=",
        "run=1",
        "1,2",
        "from=",
        "to=",
        "columns=",
        "-1",
        "1e400",
        "NaN",
        "inf",
        "settle_s=",
        "free_volume_ml=",
        "align=measure",
        "rise=1",
        "case=",
        "before=",
        "#",
        "\\",
        "\u{202e}",
        "é",
        "<x>",
        "'",
        "\"",
        ";",
        "9999999999999999999999",
        "assets",
        "class=",
        "day=",
    ];
    let host = format!("127.0.0.1:{}", served().port);
    let mut chance = RandomStream::new(20_261_125, 1);
    let mut answered = 0;
    for _ in 0..1500 {
        let count = 1 + chance.below(8);
        let mut path = String::from("/");
        for _ in 0..count {
            path.push_str(pieces[chance.below(pieces.len() as u64) as usize]);
        }
        let path = path.replace(' ', "");
        let method = ["GET", "GET", "GET", "HEAD", "POST", "BREW"][chance.below(6) as usize];
        let header =
            ["", "Range: bytes=0-\r\n", "X: \u{1}\r\n", "Content-Length: 99999999999999999999\r\n"]
                [chance.below(4) as usize];
        let request = format!(
            "{method} {path} HTTP/1.1\r\nHost: {host}\r\n{header}Connection: close\r\n\r\n"
        );
        let Some(reply) = raw(request.as_bytes()).await else { continue };
        assert!(reply.status < 500, "{} for {request:?}: {}", reply.status, reply.body);
        answered += 1;
    }
    assert!(answered > 1000, "most requests reach the workbench: {answered}");
}
