//! A case from its container to its results through the pages, two who change it
//! at once, and requests that nobody would send.

use digits::RandomStream;

use super::case_fields;
use super::writing_tests::Browser;

/// The value of the first field of this name on a page.
pub(super) fn value_of(body: &str, name: &str) -> String {
    let start = format!("name=\"{name}\" value=\"");
    let at = body.find(&start).unwrap_or_else(|| panic!("no field {name}")) + start.len();
    body[at..].split('"').next().unwrap().to_owned()
}

pub(super) const CONTAINER: [(&str, &str); 9] = [
    ("from", "container"),
    ("start", "vial-2r"),
    ("product", "invented powder"),
    ("filling", "dry"),
    ("fill", "0.4mL"),
    ("gas", "nitrogen"),
    ("headspace_pressure", "300mbar"),
    ("leak", "5um"),
    ("use", "development"),
];

pub(super) async fn begin(browser: &mut Browser, id: &str) {
    browser.get("/new").await;
    let mut fields = CONTAINER.to_vec();
    fields.push(("id", id));
    let reply = browser.post("/new", &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(reply.location(), format!("/case/{id}/profile?done=begun"));
}

/// Invented results: thirty tight units and sixty-four leaks around 5 µm.
pub(super) fn results_table() -> String {
    let mut text = "unit,class,defect [um],operator,day,reading [Pa],ended\n".to_owned();
    for n in 0..30_u32 {
        let reading = 10.0 + 0.3 * f64::from((n * 7) % 11);
        text.push_str(&format!(
            "N-{n},negative,,A. Analyst,{},{reading:.2},completed\n",
            n % 3 + 1
        ));
    }
    let hits = [0, 1, 2, 4, 6, 7, 8, 8];
    for n in 0..64_u32 {
        let (size, unit) = ((n / 8) as usize, n % 8);
        let reading = if unit < hits[size] { 60.0 } else { 11.0 };
        let um = 2.0 + 0.5 * size as f64;
        text.push_str(&format!(
            "P-{n},positive,{um},A. Analyst,{},{reading},completed\n",
            n % 3 + 1
        ));
    }
    text
}

/// The first question is what the test is for; what is answered stands in the case,
/// and what is no answer is refused with everything that was typed.
#[tokio::test]
async fn a_new_case_asks_for_its_purpose_first_and_keeps_every_answer() {
    let mut browser = Browser::signed_in("w.worker").await;
    let page = browser.get("/new").await.body;
    let place = |words: &str| page.find(words).unwrap_or_else(|| panic!("{words}"));
    let order = [
        "What the test is for",
        "Container and closure",
        "Can it plug a leak?",
        "Age: time from sealing to the test",
        "The leak that matters",
        "Time from sealing to expiry",
    ];
    assert!(order.windows(2).all(|pair| place(pair[0]) < place(pair[1])));
    let mut fields = CONTAINER.to_vec();
    fields.extend([
        ("id", "answered"),
        ("population", "units of lot 7"),
        ("detection", "99%"),
        ("pressure_uncertainty", "15mbar"),
        ("headspace_age", "14d"),
        ("headspace_known", "measured"),
        ("plug_aged", "yes"),
        ("shelf_life", "730d"),
        ("oxygen", "2%"),
    ]);
    let reply = browser.post("/new", &fields).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let text = browser.get("/case/answered/case.toml").await.body;
    for words in [
        "required_detection = 0.99",
        "units of lot 7",
        "14 d after sealing",
        "\"measured\"",
        "may_plug = true",
        "oxygen_fraction = 0.02",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }
    let mut wrong = CONTAINER.to_vec();
    wrong.extend([("id", "certain"), ("detection", "100%"), ("population", "units of lot 8")]);
    let reply = browser.post("/new", &wrong).await;
    assert_eq!(reply.status, 422);
    assert!(reply.body.contains("no room for chance") && reply.body.contains("units of lot 8"));
}

#[tokio::test]
async fn a_case_goes_from_its_container_to_its_results() {
    let mut browser = Browser::signed_in("w.worker").await;
    begin(&mut browser, "walked").await;
    let page = browser.get("/case/walked/profile").await.body;
    assert!(page.contains("What is missing") && page.contains("5 µm flow-equivalent"));
    // Again under the same name: refused, and what was typed stands there.
    let mut again = CONTAINER.to_vec();
    again.push(("id", "walked"));
    let reply = browser.post("/new", &again).await;
    assert_eq!(reply.status, 409);
    assert!(reply.body.contains("value=\"invented powder\""), "what was typed is kept");

    let forecast = [("seed", "1"), ("draws", "16")];
    assert_eq!(
        browser.post("/case/walked/method", &[]).await.status,
        422,
        "a forecast comes first"
    );
    let reply = browser.post("/case/walked/forecast", &forecast).await;
    assert_eq!(reply.location(), "/case/walked/forecast?done=recorded", "{}", reply.body);
    for draws in ["", "15", "2001", "-1", "many"] {
        let reply = browser.post("/case/walked/forecast", &[("seed", "1"), ("draws", draws)]).await;
        assert_eq!(reply.status, 422, "{draws}");
    }
    for version in [1, 2] {
        assert_eq!(browser.post("/case/walked/method", &[]).await.status, 303);
        let twin = browser.get("/case/walked/method.json").await.body;
        assert!(twin.contains(&format!("\"version\":{version}")), "{twin}");
    }
    let plan = [
        ("days", "2"),
        ("operators", "2"),
        ("rigs", "2"),
        ("lots", "3"),
        ("units_per_liquid_size", "2"),
        ("defects", "laser hole, capillary"),
        ("blanks_per_day", "1"),
        ("negative_controls", "10"),
        ("sizes", "2"),
        ("units_per_size", "2"),
        ("units_per_large_size", "1"),
        ("flow_levels", "0"),
        ("challenges_per_flow", "1"),
        ("seed", "7"),
        ("times", "100"),
    ];
    let with = |doing: &'static str| [&plan[..], &[("doing", doing)]].concat();
    let rehearsed = browser.post("/case/walked/plan", &with("rehearse")).await;
    assert_eq!(rehearsed.status, 200);
    assert!(rehearsed.body.contains("Every criterion met in"), "{}", rehearsed.body);
    assert!(browser.get("/case/walked/plan.json").await.body.contains("\"runs\":[]"));
    assert_eq!(browser.post("/case/walked/plan", &with("record")).await.status, 303);
    let sheet = browser.get("/case/walked/run_sheet.csv").await;
    assert!(sheet.body.starts_with("number,day,code,what,rig,operator,lot"), "{}", sheet.body);
    assert!(sheet.body.contains(",R2,O2,") || sheet.body.contains(",R2,O1,"), "{}", sheet.body);
    assert!(!sheet.body.contains("capillary"), "{}", sheet.body);
    assert!(browser.get("/case/walked/criteria.txt").await.body.contains("walked"));
    // Whoever tests must not know what is tested.
    assert_eq!(browser.get("/case/walked/key.csv").await.status, 403);
    assert!(!browser.get("/case/walked/plan.json").await.body.contains("\"class\""));
    let mut owner = Browser::signed_in("o.owner").await;
    let key = owner.get("/case/walked/key.csv").await.body;
    assert!(key.contains("negative control") && key.contains("laser hole"), "{key}");
    assert_eq!(owner.post("/case/walked/method", &[]).await.status, 403);
    // Aged controls, and a plan that is fixed before the first run.
    let aged = |ages: &'static str, units: &'static str| {
        [&with("fix")[..], &[("ages_days", ages), ("aged_units", units)]].concat()
    };
    for (ages, units) in [("soon", "4"), ("0, 30", "many"), ("-1", "4"), ("0, 30", "0")] {
        let reply = browser.post("/case/walked/plan", &aged(ages, units)).await;
        assert_eq!(reply.status, 422, "{ages}, {units}");
    }
    let reply = browser.post("/case/walked/plan", &aged("0, 30", "4")).await;
    assert_eq!(reply.location(), "/case/walked/plan?done=fixed", "{}", reply.body);
    let page = browser.get("/case/walked/plan").await.body;
    assert!(page.contains("aged control"), "{page}");
    let kept = browser.get("/case/walked/files.json").await.body;
    for name in ["run_sheet.csv", "labels.html", "criteria.txt", "fixed with the plan"] {
        assert!(kept.contains(name), "{name}: {kept}");
    }
    assert!(!kept.contains("key.csv"), "{kept}");
    let labels = browser.get("/case/walked/labels.html").await;
    assert!(labels.head.contains("attachment") && labels.body.contains("class=\"label\""));

    browser.get("/case/walked/runs").await;
    let table = results_table();
    let reply = browser
        .post_files(
            "/case/walked/import",
            &[("doing", "send")],
            &[("files", "results.csv", table.as_bytes())],
        )
        .await;
    assert_eq!(reply.status, 303, "{}", reply.body);
    let seen = browser.get(reply.location()).await.body;
    assert!(seen.contains("Store 94 runs"), "{seen}");
    let upload = value_of(&seen, "upload");
    let stored = browser
        .post_files("/case/walked/import", &[("doing", "store"), ("upload", &upload)], &[])
        .await;
    let stored = browser.get(stored.location()).await.body;
    assert!(stored.contains("Stored: 94 runs"), "{stored}");
    // Criteria that are written after a run are no criteria.
    let late = [&plan[..], &[("doing", "fix")]].concat();
    let reply = browser.post("/case/walked/plan", &late).await;
    assert_eq!(reply.status, 422);
    assert!(reply.body.contains("has 94 runs already"), "{}", reply.body);
    let reply = browser.post("/case/walked/results", &[]).await;
    assert_eq!(reply.location(), "/case/walked/results?done=recorded", "{}", reply.body);

    // Another setting is shown first, and recorded with its reason.
    let other = [("rejected_percent", "1"), ("confidence_percent", "90"), ("link", "probit")];
    let with = |doing: &'static str, reason: &'static str| {
        [&other[..], &[("doing", doing), ("reason", reason)]].concat()
    };
    let before = browser.get("/case/walked/results.json").await.body;
    let tried = browser.post("/case/walked/results", &with("try", "")).await;
    assert_eq!(tried.status, 200);
    assert!(tried.body.contains("differs") && tried.body.contains("probit"), "{}", tried.body);
    assert_eq!(browser.get("/case/walked/results.json").await.body, before, "nothing is recorded");
    assert_eq!(browser.post("/case/walked/results", &with("record", "")).await.status, 422);
    assert_eq!(
        browser.post("/case/walked/results", &with("record", "asked for")).await.status,
        303
    );
    let after = browser.get("/case/walked/results.json").await.body;
    assert!(after.contains("\"link\":\"probit\"") && after.contains("\"content\":0.99"), "{after}");
    // The profile changed with it, and the forecast says that it is behind.
    let forecast = browser.get("/case/walked/forecast").await.body;
    assert!(forecast.contains("Behind."), "{forecast}");
    let history = browser.get("/history.json?case=walked").await.body;
    assert!(history.contains("asked for"), "{history}");
}

#[tokio::test]
async fn two_who_change_a_case_both_keep_their_words() {
    let mut one = Browser::signed_in("e.editor").await;
    let mut two = Browser::signed_in("e.editor").await;
    begin(&mut one, "shared").await;
    let page = one.get("/case/shared/edit").await.body;
    two.get("/case/shared/edit").await;
    let made_from = value_of(&page, "made_from");
    let twin = one.get("/case/shared/edit.json").await.body;
    let twin: serde_json::Value = serde_json::from_str(&twin).unwrap();
    let fields = |changes: &[(&str, &str)]| -> Vec<(String, String)> {
        let mut fields: Vec<(String, String)> = twin["fields"]
            .as_object()
            .unwrap()
            .iter()
            .map(|(name, value)| (name.clone(), value.as_str().unwrap().to_owned()))
            .collect();
        for (name, value) in changes {
            fields.retain(|(known, _)| known != name);
            fields.push(((*name).to_owned(), (*value).to_owned()));
        }
        fields
    };
    async fn send(
        browser: &mut Browser,
        fields: &[(String, String)],
    ) -> super::writing_tests::Reply {
        let fields: Vec<(&str, &str)> =
            fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
        browser.post("/case/shared/edit", &fields).await
    }
    let from = ("made_from", made_from.as_str());
    // A refusal names the field, and what was typed stays.
    let wrong = fields(&[from, ("reason", "x"), ("container.wall.value", "1 mbar")]);
    let reply = send(&mut one, &wrong).await;
    assert_eq!(reply.status, 422);
    assert!(reply.body.contains("href=\"#container.wall.value\""), "{}", reply.body);
    assert!(reply.body.contains("value=\"1 mbar\""));
    // A change needs its reason, and has to be one.
    let unsaid = fields(&[from, ("title", "New title")]);
    assert_eq!(send(&mut one, &unsaid).await.status, 422);
    assert_eq!(send(&mut one, &fields(&[from, ("reason", "x")])).await.status, 422);
    let first = fields(&[from, ("reason", "measured"), ("headspace.volume.value", "2.9 mL")]);
    let reply = send(&mut one, &first).await;
    assert_eq!(reply.location(), "/case/shared/profile?done=changed", "{}", reply.body);
    let second = fields(&[from, ("reason", "drawing"), ("headspace.volume.value", "3.3 mL")]);
    let reply = send(&mut two, &second).await;
    assert_eq!(reply.status, 409, "{}", reply.body);
    for text in ["2.9 mL", "3.3 mL", "Headspace: Volume", "value=\"drawing\""] {
        assert!(reply.body.contains(text), "{text}: {}", reply.body);
    }
    // Sent again from there, it goes over what stands.
    let now = value_of(&reply.body, "made_from");
    let text = reply.body.split("name=\"text\"").nth(1).unwrap();
    let text = text.split('>').nth(1).unwrap().split("</textarea").next().unwrap();
    let text = text.replace("&quot;", "\"").replace("&amp;", "&");
    let again = [("made_from", now.as_str()), ("reason", "drawing"), ("text", text.trim())];
    assert_eq!(two.post("/case/shared/edit", &again).await.status, 303);
    let stands = two.get("/case/shared/edit.json").await.body;
    assert!(stands.contains("0.0033 m3") || stands.contains("3.3"), "{stands}");
    let history = two.get("/history.json?case=shared").await.body;
    assert!(history.contains("\"version\":3") && history.contains("drawing"), "{history}");
}

#[tokio::test]
async fn who_only_reads_changes_nothing() {
    let mut browser = Browser::signed_in("x.looker").await;
    let page = browser.get("/case/syringe-1ml/runs").await;
    assert!(!page.body.contains("Import runs</h2>"));
    for path in ["forecast", "method", "results", "edit", "plan", "design"] {
        let reply = browser.post(&format!("/case/syringe-1ml/{path}"), &[("text", "")]).await;
        assert!(matches!(reply.status, 403 | 422), "{path}: {}", reply.status);
    }
    let reply = browser
        .post_files("/case/syringe-1ml/import", &[("doing", "send")], &[("files", "a.csv", b"1")])
        .await;
    assert_eq!(reply.status, 403);
    let mut fields = CONTAINER.to_vec();
    fields.push(("id", "not-mine"));
    assert_eq!(browser.post("/new", &fields).await.status, 403);
}

/// Texts that nobody would send.
const ODD: [&str; 12] = [
    "",
    " ",
    "\u{0}",
    "\u{202e}",
    "-1",
    "1e309",
    "NaN",
    "\"'<>&",
    "a=b=c",
    "[[cycle.tier]]",
    "999999999999999999999",
    "../../etc/passwd",
];

#[tokio::test]
async fn odd_requests_are_answered_in_words() {
    let mut browser = Browser::signed_in("z.fuzzer").await;
    begin(&mut browser, "odd").await;
    let names: Vec<String> = case_fields::values(&study::worked_cases::syringe())
        .into_iter()
        .map(|(name, _)| name)
        .chain(
            [
                "doing",
                "upload",
                "reason",
                "text",
                "made_from",
                "seed",
                "draws",
                "from",
                "start",
                "id",
                "days",
                "times",
                "up_to_um",
                "longest_s",
                "link",
                "rejected_percent",
                "confidence_percent",
                "pressure",
                "role_0",
                "unit_0",
                "answer_0",
                "rate",
                "class",
            ]
            .map(str::to_owned),
        )
        .collect();
    let paths = [
        "/new",
        "/case/odd/edit",
        "/case/odd/plan",
        "/case/odd/design",
        "/case/odd/forecast",
        "/case/odd/method",
        "/case/odd/results",
        "/case/odd/import",
        "/case/none/edit",
    ];
    let mut stream = RandomStream::new(20_261_130, 1);
    let mut draw = |n: usize| (stream.uniform() * n as f64) as usize % n;
    for turn in 0..160 {
        let path = paths[turn % paths.len()];
        let fields: Vec<(&str, &str)> = (0..draw(30))
            .map(|_| (names[draw(names.len())].as_str(), ODD[draw(ODD.len())]))
            .collect();
        let reply = if turn % 3 == 0 {
            let bytes = ODD[draw(ODD.len())].as_bytes();
            browser.post_files(path, &fields, &[("files", "a.csv", bytes)]).await
        } else {
            browser.post(path, &fields).await
        };
        assert!(reply.status < 500, "{path} {fields:?}: {} {}", reply.status, reply.body);
    }
    for path in [
        "/case/odd/run/1",
        "/case/odd/run/x",
        "/case/odd/run/-1",
        "/case/odd/run/1.json",
        "/case/odd/import?upload=x",
        "/case/odd/import.json?upload=%00",
        "/case/odd/key.csv",
        "/case/odd/edit?as=text",
        "/case/odd/case.toml",
        "/case/odd/design",
        "/new.json",
    ] {
        assert!(browser.get(path).await.status < 500, "{path}");
    }
}
