//! Accounts, roles, passwords, sessions and signatures: what is allowed, and
//! that everything else is refused with its reason.
#![allow(clippy::unwrap_used)] // a test fails by panicking

use crate::invented;

use benchbook::{
    Benchbook, BenchbookError, Meaning, Refusal, Role, SessionLimits, Sessions, verify,
};
use invented::{
    ANALYST, APPROVER, OWNER, REVIEWER, book_with_people, moment, person, sign, small_case,
    store_at,
};

fn refusal<T: std::fmt::Debug>(result: Result<T, BenchbookError>) -> Refusal {
    match result.unwrap_err() {
        BenchbookError::Refused(refusal) => refusal,
        other => panic!("{other}"),
    }
}

async fn acting(book: &Benchbook, (id, password): (&str, &str), at: u32) -> Benchbook {
    book.acting_as(id, password, &moment(at)).await.unwrap()
}

#[tokio::test]
async fn nothing_is_changed_without_an_account() {
    let (_folder, path, book, _key) = book_with_people().await;
    let input = study::worked_cases::syringe();
    assert_eq!(refusal(book.add_case(&input, &moment(5)).await), Refusal::NeedsAccount);
    assert_eq!(book.not_for_regulated_use().await.unwrap(), None);
    let analyst = acting(&book, ANALYST, 5).await;
    analyst.add_case(&input, &moment(6)).await.unwrap();
    // Who did it stands in the event, whatever name the moment carries.
    let events = book.history(None).await.unwrap();
    let added = events.iter().find(|event| event.what == "case added").unwrap();
    assert_eq!(added.account.as_deref(), Some("a.analyst"));
    assert_eq!(added.actor, "A.ANALYST (invented)");
    book.close().await;
    assert!(verify(&path, None).await.unwrap().is_valid());
}

#[tokio::test]
async fn each_role_may_do_its_own_and_no_more() {
    let (_folder, _path, book, _key) = book_with_people().await;
    let input = study::worked_cases::syringe();
    for who in [OWNER, REVIEWER, APPROVER] {
        let hands = acting(&book, who, 5).await;
        let refused = refusal(hands.add_case(&input, &moment(6)).await);
        assert!(matches!(refused, Refusal::NotAllowed { .. }), "{}: {refused}", who.0);
        assert!(refused.next_step().contains("analyst"));
    }
    let analyst = acting(&book, ANALYST, 5).await;
    let added = analyst.add_account(&person("x.new", &[Role::Reader]), OWNER.1, &moment(6)).await;
    assert!(matches!(refusal(added), Refusal::NotAllowed { .. }));
    analyst.add_case(&input, &moment(6)).await.unwrap();
    let review = analyst.record_audit_review("syringe-1ml", 99, "fine", &moment(7)).await;
    assert!(matches!(refusal(review), Refusal::NotAllowed { .. }));
}

#[tokio::test]
async fn accounts_are_added_changed_and_never_used_again() {
    let (_folder, path, book, _key) = book_with_people().await;
    let owner = acting(&book, OWNER, 5).await;
    let first = "a first word of passage";
    let admin = person("k.keeper", &[Role::Administrator]);
    owner.add_account(&admin, first, &moment(5)).await.unwrap();
    let again = owner.add_account(&admin, first, &moment(5)).await;
    assert!(matches!(refusal(again), Refusal::AccountExists { .. }));
    // The first password opens nothing but its own change.
    let keeper = acting(&book, ("k.keeper", first), 6).await;
    let added = keeper.add_account(&person("n.new", &[Role::Reader]), first, &moment(6)).await;
    assert!(matches!(refusal(added), Refusal::PasswordMustChange { .. }));
    let own = ("k.keeper", "pepper mill on sunday");
    book.change_password(own.0, first, own.1, &moment(7)).await.unwrap();
    let keeper = acting(&book, own, 8).await;
    keeper.add_account(&person("n.new", &[Role::Reader]), first, &moment(8)).await.unwrap();
    // Only an owner makes keepers.
    let other = person("k.other", &[Role::Administrator]);
    let made = keeper.add_account(&other, first, &moment(8)).await;
    assert!(matches!(refusal(made), Refusal::NotAllowed { .. }));
    // Whoever keeps accounts touches no data.
    let both = person("b.both", &[Role::Administrator, Role::Analyst]);
    assert!(matches!(
        refusal(owner.add_account(&both, first, &moment(8)).await),
        Refusal::BadAccount { .. }
    ));
    // A change needs its reason; a disabled account does nothing.
    let changed = keeper.change_account("n.new", &[Role::Reader], false, &moment(9)).await;
    assert!(matches!(refusal(changed), Refusal::NeedsReason { .. }));
    let keeper = keeper.because("left the laboratory");
    keeper.change_account("n.new", &[Role::Reader], false, &moment(9)).await.unwrap();
    let come = book.acting_as("n.new", first, &moment(10)).await;
    assert!(matches!(refusal(come), Refusal::Disabled { .. }));
    // Somebody must stay who keeps accounts.
    let owner = owner.because("trying");
    owner.change_account("k.keeper", &[Role::Administrator], false, &moment(10)).await.unwrap();
    let last = owner.change_account("o.owner", &[Role::Owner], false, &moment(10)).await;
    assert!(matches!(refusal(last), Refusal::BadAccount { .. }));
    let events = book.history(None).await.unwrap();
    let change = events.iter().rfind(|event| event.what == "account changed").unwrap();
    assert_eq!(change.reason.as_deref(), Some("trying"));
    assert!(change.detail.contains("(disabled)"), "{}", change.detail);
    book.close().await;
    assert!(verify(&path, None).await.unwrap().is_valid());
}

#[tokio::test]
async fn wrong_passwords_lock_and_are_written_down() {
    let (_folder, path, book, _key) = book_with_people().await;
    for _ in 0..5 {
        let wrong = book.acting_as(ANALYST.0, "copper kettle evening", &moment(20)).await;
        assert_eq!(refusal(wrong), Refusal::NotRecognised);
    }
    // Locked now, even for the right password; a minute later it opens.
    let right = book.acting_as(ANALYST.0, ANALYST.1, &moment(30)).await;
    assert!(matches!(refusal(right), Refusal::LockedOut { failed: 5, .. }));
    acting(&book, ANALYST, 80).await;
    // Right once, the count begins anew.
    let wrong = book.acting_as(ANALYST.0, "copper kettle evening", &moment(81)).await;
    assert_eq!(refusal(wrong), Refusal::NotRecognised);
    acting(&book, ANALYST, 82).await;
    // A name that nobody has is refused in the same words.
    let nobody = book.acting_as("n.nobody", "copper kettle evening", &moment(83)).await;
    assert_eq!(refusal(nobody), Refusal::NotRecognised);
    let events = book.history(None).await.unwrap();
    assert_eq!(events.iter().filter(|event| event.what == "password refused").count(), 7);
    assert!(!events.iter().any(|event| event.detail.contains("evening")));
    book.close().await;
    assert!(verify(&path, None).await.unwrap().is_valid());
}

#[tokio::test]
async fn a_reset_gives_a_new_key_and_signs_nothing_until_changed() {
    let (_folder, path, book, _key) = book_with_people().await;
    let analyst = acting(&book, ANALYST, 2).await;
    store_at(&analyst, &small_case(), 3).await;
    let signed = sign(&book, "syringe-1ml", Meaning::Authored, ANALYST, None, 10).await.unwrap();
    let before = book.accounts().await.unwrap();
    let owner = acting(&book, OWNER, 11).await.because("password lost");
    let given = "three lost buttons again";
    owner.reset_password(ANALYST.0, given, &moment(11)).await.unwrap();
    let old = book.acting_as(ANALYST.0, ANALYST.1, &moment(12)).await;
    assert_eq!(refusal(old), Refusal::NotRecognised);
    let again = sign(&book, "syringe-1ml", Meaning::Authored, (ANALYST.0, given), None, 13).await;
    assert!(matches!(refusal(again), Refusal::PasswordMustChange { .. }));
    book.change_password(ANALYST.0, given, ANALYST.1, &moment(14)).await.unwrap();
    let after = book.accounts().await.unwrap();
    assert_ne!(before[1].public_key, after[1].public_key);
    // What was signed with the old key stands and verifies.
    assert!(book.signatures("syringe-1ml").await.unwrap()[0].stands && signed.stands);
    book.close().await;
    let found = verify(&path, None).await.unwrap();
    assert!(found.is_valid(), "{:?}", found.findings);
    assert_eq!(found.n_signatures, 1);
}

#[tokio::test]
async fn signing_goes_in_order_and_needs_what_comes_before() {
    let (_folder, path, book, key) = book_with_people().await;
    let id = "syringe-1ml";
    let analyst = acting(&book, ANALYST, 2).await;
    store_at(&analyst, &small_case(), 3).await;
    let cannot = |result| match refusal(result) {
        Refusal::CannotSign { reason, .. } => reason,
        other => panic!("{other}"),
    };
    // Not before its author, not by a role that may not, not without password.
    let early = sign(&book, id, Meaning::Reviewed, REVIEWER, None, 9).await;
    assert!(cannot(early).contains("no signature as authored stands"));
    let role = sign(&book, id, Meaning::Authored, REVIEWER, None, 9).await;
    assert!(matches!(refusal(role), Refusal::NotAllowed { .. }));
    let wrong = sign(&analyst, id, Meaning::Authored, (ANALYST.0, "no password"), None, 9).await;
    assert_eq!(refusal(wrong), Refusal::NotRecognised);
    // Not while something is open.
    let item = analyst.note_open_item(id, "counter of the rig jumps by two", &moment(9)).await;
    let open = sign(&book, id, Meaning::Authored, ANALYST, None, 9).await;
    assert!(cannot(open).contains("counter of the rig"));
    let no_words = analyst.settle_open_item(id, 1, " ", &moment(9)).await;
    assert!(matches!(refusal(no_words), Refusal::NeedsReason { .. }));
    analyst
        .settle_open_item(id, item.unwrap(), "a blank was run by hand", &moment(9))
        .await
        .unwrap();
    // Not a state that was not shown.
    let stale = benchbook::ToSign {
        case_id: id,
        meaning: Meaning::Authored,
        report_sha256: [7; 32],
        state_sha256: "00",
        software: "test",
    };
    let stale = book.sign(&stale, ANALYST.0, ANALYST.1, None, &moment(10)).await;
    assert!(cannot(stale).contains("has changed"));
    sign(&book, id, Meaning::Authored, ANALYST, Some(&key), 10).await.unwrap();
    let twice = sign(&book, id, Meaning::Authored, ANALYST, None, 10).await;
    assert!(cannot(twice).contains("already"));
    sign(&book, id, Meaning::Reviewed, REVIEWER, Some(&key), 11).await.unwrap();
    // Approval needs a review of the audit trail.
    let blind = sign(&book, id, Meaning::Approved, APPROVER, None, 12).await;
    assert!(cannot(blind).contains("audit trail was not reviewed"));
    let reviewer = acting(&book, REVIEWER, 12).await;
    let changes = reviewer.changes_to_review(id).await.unwrap();
    let last = changes.last().unwrap().event.number;
    reviewer.record_audit_review(id, last, "no unusual change", &moment(12)).await.unwrap();
    sign(&book, id, Meaning::Approved, APPROVER, Some(&key), 13).await.unwrap();
    assert!(reviewer.changes_to_review(id).await.unwrap().is_empty());
    assert!(book.signatures(id).await.unwrap().iter().all(|signature| signature.stands));

    // A change of a signed case needs a reason and says what falls.
    let mut plan = small_case().plan.unwrap();
    plan.seed += 1;
    let silent = analyst.record_plan(id, &plan, &moment(14)).await;
    assert!(matches!(refusal(silent), Refusal::NeedsReason { .. }));
    let analyst = analyst.because("wrong seed in the plan");
    analyst.record_plan(id, &plan, &moment(14)).await.unwrap();
    let signatures = book.signatures(id).await.unwrap();
    assert_eq!(signatures.len(), 3);
    assert!(signatures.iter().all(|signature| !signature.stands));
    let events = book.history(Some(id)).await.unwrap();
    let event = events.last().unwrap();
    assert_eq!(event.reason.as_deref(), Some("wrong seed in the plan"));
    assert!(event.detail.contains("no longer standing"), "{}", event.detail);
    // The new version is signed from the beginning.
    let late = sign(&book, id, Meaning::Approved, APPROVER, None, 15).await;
    assert!(cannot(late).contains("no signature as reviewed stands"));
    sign(&book, id, Meaning::Authored, ANALYST, Some(&key), 16).await.unwrap();
    book.close().await;
    let found = verify(&path, None).await.unwrap();
    assert!(found.is_valid(), "{:?}", found.findings);
    assert_eq!((found.n_signatures, found.n_checkpoints), (4, 4));
}

#[tokio::test]
async fn nobody_approves_his_own_work() {
    let (_folder, _path, book, _key) = book_with_people().await;
    let owner = acting(&book, OWNER, 2).await;
    let first = "a first word of passage";
    let all = ("m.many", "seven grey stones here");
    let roles = [Role::Analyst, Role::Reviewer, Role::Approver];
    owner.add_account(&person(all.0, &roles), first, &moment(2)).await.unwrap();
    book.change_password(all.0, first, all.1, &moment(2)).await.unwrap();
    let many = acting(&book, all, 2).await;
    store_at(&many, &small_case(), 3).await;
    let id = "syringe-1ml";
    sign(&book, id, Meaning::Authored, all, None, 10).await.unwrap();
    let own = refusal(sign(&book, id, Meaning::Reviewed, all, None, 11).await);
    assert!(own.to_string().contains("is its author"), "{own}");
    sign(&book, id, Meaning::Reviewed, REVIEWER, None, 12).await.unwrap();
    // A review of the audit trail by the author is none.
    many.record_audit_review(id, u64::MAX, "all fine", &moment(13)).await.unwrap();
    let blind = refusal(sign(&book, id, Meaning::Approved, APPROVER, None, 14).await);
    assert!(blind.to_string().contains("audit trail was not reviewed"), "{blind}");
}

#[tokio::test]
async fn a_benchbook_without_accounts_is_never_signed() {
    let (_folder, _path, book, _case) = invented::book_with_syringe().await;
    assert!(book.not_for_regulated_use().await.unwrap().is_some());
    let signed = sign(&book, "syringe-1ml", Meaning::Authored, ANALYST, None, 9).await;
    assert_eq!(refusal(signed), Refusal::WithoutAccounts);
    let added = book.add_account(&person("a.first", &[Role::Owner]), OWNER.1, &moment(9)).await;
    // Without accounts nobody may add one either: the mark is for ever.
    assert_eq!(refusal(added), Refusal::WithoutAccounts);
}

#[tokio::test]
async fn sessions_end_by_themselves() {
    let (_folder, _path, book, _key) = book_with_people().await;
    let limits = SessionLimits { idle_s: 60, longest_s: 150, per_account: 2 };
    let sessions = Sessions::new(limits);
    let begin = async |at| sessions.begin(&book, ANALYST.0, ANALYST.1, &moment(at)).await.unwrap();
    let at = |second: u32| moment(second).utc;
    let token = begin(0).await;
    assert_eq!(token.len(), 32);
    assert_eq!(sessions.book_of(&token, &at(60)).unwrap().account(), Some("a.analyst"));
    assert!(sessions.book_of(&token, &at(121)).is_none(), "idle for 61 s");
    assert!(sessions.book_of(&token, &at(60)).is_none(), "ended for good");
    let token = begin(0).await;
    for second in [50, 100, 150] {
        assert!(sessions.book_of(&token, &at(second)).is_some());
    }
    assert!(sessions.book_of(&token, &at(151)).is_none(), "longer than allowed");
    let (first, second) = (begin(0).await, begin(1).await);
    let third = begin(2).await;
    assert!(sessions.book_of(&first, &at(3)).is_none(), "the oldest of three gives way");
    assert!(sessions.book_of(&second, &at(3)).is_some());
    sessions.end(&second);
    assert!(sessions.book_of(&second, &at(3)).is_none());
    sessions.end_all_of(ANALYST.0);
    assert!(sessions.book_of(&third, &at(3)).is_none());
    assert!(sessions.book_of("no token", &at(3)).is_none());
    let wrong = sessions.begin(&book, ANALYST.0, "no password", &moment(3)).await;
    assert_eq!(refusal(wrong), Refusal::NotRecognised);
}

#[tokio::test]
async fn a_disabled_account_loses_what_it_holds() {
    let (_folder, _path, book, _key) = book_with_people().await;
    let analyst = acting(&book, ANALYST, 2).await;
    let owner = acting(&book, OWNER, 2).await.because("on leave");
    owner.change_account(ANALYST.0, &[Role::Analyst], false, &moment(3)).await.unwrap();
    let added = analyst.add_case(&study::worked_cases::syringe(), &moment(4)).await;
    assert!(matches!(refusal(added), Refusal::Disabled { .. }));
}
