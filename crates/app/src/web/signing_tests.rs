//! Signing from outside: an author, a reviewer and an approver at their own
//! browsers, with what stands in the way and what makes a signature fall.

use super::writing_tests::{Browser, PASSWORD, served};

const PAGE: &str = "/case/syringe-1ml/sign";

fn hidden(body: &str, name: &str) -> String {
    let mark = format!("name=\"{name}\" value=\"");
    let at = body.find(&mark).unwrap_or_else(|| panic!("no field {name} in {body}"));
    body[at + mark.len()..].split('"').next().unwrap().to_owned()
}

/// Signs what the page shows, as whoever is named.
async fn sign(
    browser: &mut Browser,
    account: &str,
    password: &str,
    meaning: &str,
) -> (u16, String) {
    let page = browser.get(PAGE).await.body;
    let (state, report) = (hidden(&page, "state_sha256"), hidden(&page, "report_sha256"));
    let fields = [
        ("state_sha256", state.as_str()),
        ("report_sha256", report.as_str()),
        ("meaning", meaning),
        ("account", account),
        ("password", password),
    ];
    let reply = browser.post(PAGE, &fields).await;
    (reply.status, reply.body)
}

#[tokio::test]
async fn a_case_is_authored_reviewed_approved_and_falls_visibly() {
    served();
    let mut author = Browser::signed_in("a.analyst").await;
    let page = author.get(PAGE).await;
    assert_eq!(page.status, 200, "{}", page.body);
    for shown in ["What is signed", "Claim", "State", "Read the exact file"] {
        assert!(page.body.contains(shown), "{shown}");
    }
    let file = author
        .get(&format!("/case/syringe-1ml/shown/{}.pdf", hidden(&page.body, "report_sha256")))
        .await;
    assert_eq!(file.status, 200);
    assert!(file.head.contains("application/pdf"));
    assert_eq!(author.get("/case/syringe-1ml/shown/00.pdf").await.status, 404);

    // An open item stands in the way, and the page says so.
    let items = "/case/syringe-1ml/items";
    let noted = author.post(items, &[("doing", "note"), ("text", "unit 3 is unlabelled")]).await;
    assert_eq!(noted.location(), "/case/syringe-1ml/sign?done=noted");
    let blocked = author.get(PAGE).await.body;
    assert!(blocked.contains("unit 3 is unlabelled") && blocked.contains("nothing can be signed"));
    let stale = [
        ("state_sha256", hidden(&page.body, "state_sha256")),
        ("report_sha256", hidden(&page.body, "report_sha256")),
        ("meaning", "authored".to_owned()),
        ("account", "a.analyst".to_owned()),
        ("password", PASSWORD.to_owned()),
    ];
    let stale: Vec<(&str, &str)> = stale.iter().map(|(n, v)| (*n, v.as_str())).collect();
    let refused = author.post(PAGE, &stale).await;
    assert_eq!(refused.status, 422);
    assert!(refused.body.contains("items are open"), "{}", refused.body);
    let settle = [("doing", "settle"), ("number", "1"), ("how", "label found")];
    assert_eq!(author.post(items, &settle).await.status, 303);

    // Both components each time, and the role decides.
    let (status, body) =
        sign(&mut author, "a.analyst", "not the password at all", "authored").await;
    assert_eq!(status, 401);
    assert!(body.contains("account or password is not right"), "{body}");
    let mut reader = Browser::signed_in("l.reader").await;
    for meaning in ["authored", "reviewed", "approved"] {
        let (status, body) = sign(&mut reader, "l.reader", PASSWORD, meaning).await;
        assert_eq!(status, 403, "{meaning}");
        assert!(body.contains("may not sign as"), "{body}");
    }
    assert_eq!(sign(&mut author, "a.analyst", PASSWORD, "authored").await.0, 303);
    let (status, body) = sign(&mut author, "a.analyst", PASSWORD, "authored").await;
    assert_eq!(status, 422, "no second time: {body}");

    let mut reviewer = Browser::signed_in("r.reviewer").await;
    assert_eq!(sign(&mut reviewer, "r.reviewer", PASSWORD, "reviewed").await.0, 303);

    // Approval needs a recorded review of the audit trail.
    let mut approver = Browser::signed_in("p.approver").await;
    let (status, body) = sign(&mut approver, "p.approver", PASSWORD, "approved").await;
    assert_eq!(status, 422);
    assert!(body.contains("the audit trail was not reviewed"), "{body}");
    let review = "/case/syringe-1ml/review";
    let changes = reviewer.get(review).await.body;
    let up_to = hidden(&changes, "up_to");
    assert_eq!(reviewer.post(review, &[("up_to", &up_to)]).await.status, 422, "words are needed");
    let found = [("up_to", up_to.as_str()), ("finding", "every change has its reason")];
    assert_eq!(reviewer.post(review, &found).await.status, 303);
    assert_eq!(sign(&mut approver, "p.approver", PASSWORD, "approved").await.0, 303);

    let report = approver.get("/case/syringe-1ml/report").await.body;
    assert_eq!(report.matches("<strong>stands</strong>").count(), 3, "{report}");
    let twin = approver.get("/case/syringe-1ml/sign.json").await.body;
    let twin: serde_json::Value = serde_json::from_str(&twin).unwrap();
    assert_eq!(twin["signatures"].as_array().unwrap().len(), 3);

    // A later change needs a reason and makes them fall, with the reason shown.
    let units = "/case/syringe-1ml/units";
    author.get(units).await;
    let record = [("unit", "*"), ("about", "receipt"), ("text", "12 units, undamaged")];
    let refused = author.post(units, &record).await;
    assert_eq!(refused.status, 422);
    assert!(refused.body.contains("12 units, undamaged"), "what was typed is kept");
    assert!(refused.body.contains("needs a reason"), "{}", refused.body);
    let with_reason = [
        ("unit", "*"),
        ("about", "receipt"),
        ("text", "12 units, undamaged"),
        ("reason", "forgotten"),
    ];
    assert_eq!(author.post(units, &with_reason).await.status, 303);
    let report = approver.get("/case/syringe-1ml/report").await.body;
    assert_eq!(report.matches("<strong>no longer stands</strong>").count(), 3);
    assert!(report.contains("because of event"), "{report}");
    assert!(report.contains("(forgotten)"));

    // What was shown before the change is not signed after it.
    let late = author.post(PAGE, &stale).await;
    assert_eq!(late.status, 422);
    assert!(late.body.contains("has changed since it was shown"), "{}", late.body);

    // The audit trail tells all of it, filtered and as a table to keep.
    let trail = author.get("/history?case=syringe-1ml&what=signed").await.body;
    assert_eq!(trail.matches("<strong>Signed</strong>").count(), 3, "{trail}");
    let table = author.get("/history.csv?actor=a.analyst").await;
    assert!(table.head.contains("audit-trail.csv"), "{}", table.head);
    assert!(table.body.contains("unit recorded") && !table.body.contains("p.approver (approver)"));
}

#[tokio::test]
async fn an_item_of_the_register_lives_its_life() {
    let mut analyst = Browser::signed_in("a.analyst").await;
    analyst.get("/register").await;
    let half = [("id", "FS-1"), ("description", "<b>capillary</b>"), ("certificate", "INV-1")];
    let refused = analyst.post("/register", &half).await;
    assert_eq!(refused.status, 422);
    assert!(refused.body.contains("number and its last day"), "{}", refused.body);
    assert!(refused.body.contains("value=\"&lt;b&gt;capillary&lt;/b&gt;\""), "{}", refused.body);
    let whole = [
        ("id", "FS-1"),
        ("kind", "flow_standard"),
        ("description", "glass capillary"),
        ("certificate", "INV-1"),
        ("valid_until", "2999-12-31"),
        ("value", "2.0e-3 std cm3/s@0C"),
    ];
    assert_eq!(analyst.post("/register", &whole).await.location(), "/register/FS-1?done=added");
    let page = analyst.get("/register/FS-1").await.body;
    assert!(page.contains("No: it is arrived, not checked"), "{page}");
    let first = hidden(&page, "made_from");
    let check = [
        ("doing", "check"),
        ("made_from", first.as_str()),
        ("reading", "2.02e-3 std cm3/s@0C"),
        ("passed", "yes"),
    ];
    assert_eq!(analyst.post("/register/FS-1", &check).await.status, 303);
    // From a page that is no longer true.
    let again = analyst.post("/register/FS-1", &check).await;
    assert_eq!(again.status, 409);
    assert!(again.body.contains("2.02e-3 std cm3/s@0C"), "both texts are shown");
    let now = hidden(&analyst.get("/register/FS-1").await.body, "made_from");
    let uses = [("doing", "use"), ("made_from", now.as_str()), ("times", "3")];
    assert_eq!(analyst.post("/register/FS-1", &uses).await.status, 303);
    let now = hidden(&analyst.get("/register/FS-1").await.body, "made_from");
    let bare = [("doing", "withdraw"), ("made_from", now.as_str()), ("to", "suspected")];
    assert_eq!(analyst.post("/register/FS-1", &bare).await.status, 422, "a reason is needed");
    let twin: serde_json::Value =
        serde_json::from_str(&analyst.get("/register/FS-1.json").await.body).unwrap();
    assert_eq!((&twin["uses"], &twin["may_be_used"]), (&3.into(), &true.into()));
    assert_eq!(twin["events"].as_array().unwrap().len(), 3);

    let mut reader = Browser::signed_in("l.reader").await;
    let seen = reader.get("/register/FS-1").await.body;
    assert!(!seen.contains("Record what happened"));
    let tried = reader.post("/register/FS-1", &uses).await.status;
    assert!(tried == 409 || tried == 403, "{tried}");
    assert_eq!(reader.post("/register", &[("id", "X"), ("description", "x")]).await.status, 403);
}
