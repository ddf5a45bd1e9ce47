//! People: the accounts with their roles, and what each role may do.

use benchbook::{Account, Action, MATRIX, NewAccount, Role};
use maud::{Markup, html};
use serde_json::{Value, json};

use crate::clock;
use crate::commands::records::account;
use crate::web::address;
use crate::web::collision::{self, Both};
use crate::web::form::Form;
use crate::web::form_view::{self, Field};
use crate::web::frame::{self, Page};
use crate::web::refusals::Trouble;
use crate::web::reply::{Answer, Reply};
use crate::web::sheet::headings_row;
use crate::web::wording::shown;
use crate::web::workbench::Workbench;

const ID: Field<'_> = Field::needed(
    "id",
    "Account",
    "2 to 40 small letters, digits, dots, dashes; it is never given to anybody else.",
);
const NAME: Field<'_> = Field::needed("name", "Name", "As it is printed beside signatures.");
const IDENTITY: Field<'_> = Field::optional(
    "identity_checked",
    "Identity checked by",
    "Who saw to it that the person is who it is said to be, and how.",
);
const FIRST: Field<'_> = Field::needed(
    "password",
    "First password",
    "At least 12 characters. Its owner must change it before doing anything else.",
)
.filled_as("new-password");
const REASON: Field<'_> =
    Field::needed("reason", "Reason", "It stands in the audit trail with the change.");

const DONE: [(&str, &str); 3] = [
    (
        "added",
        "The account was added. Its owner signs in with the first password and must change it.",
    ),
    ("changed", "The account was changed, and its sessions have ended."),
    ("reset", "The password was reset and the account unlocked; its sessions have ended."),
];

/// The page of all accounts or of one, or its twin.
pub async fn reply(
    workbench: &Workbench,
    is_json: bool,
    id: Option<&str>,
    query: &[(String, String)],
) -> Answer {
    let done = address::value(query, "done");
    let accounts = accounts(workbench).await?;
    let Some(id) = id else {
        return Ok(match is_json {
            true => Reply::Json(twin(workbench).await?),
            false => Reply::Page(list_page(workbench, &accounts, &Form::default(), None, done)),
        });
    };
    let Some(account) = accounts.iter().find(|account| account.id == id) else {
        let what = format!("there is no account `{id}`");
        return Err(Reply::missing(what, "look at the list of accounts", "/people"));
    };
    if is_json {
        let list = twin(workbench).await?;
        let one =
            list["accounts"].as_array().and_then(|all| all.iter().find(|one| one["id"] == id));
        return Ok(Reply::Json(one.cloned().unwrap_or(Value::Null)));
    }
    Ok(Reply::Page(one_page(workbench, account, &Form::default(), None, done)))
}

async fn accounts(workbench: &Workbench) -> Result<Vec<Account>, Reply> {
    workbench.benchbook.accounts().await.map_err(|error| Reply::failed(&error))
}

async fn twin(workbench: &Workbench) -> Result<Value, Reply> {
    let mut value =
        account::as_json(&workbench.benchbook).await.map_err(|error| Reply::failed(&error))?;
    value["may_do"] = MATRIX
        .iter()
        .map(|(action, roles)| json!({ "action": action.words(), "roles": words(roles) }))
        .collect();
    Ok(value)
}

fn words(roles: &[Role]) -> Vec<&'static str> {
    roles.iter().map(|role| role.word()).collect()
}

/// What an account is now, for its owner and for the mark of a form.
fn state(account: &Account) -> &'static str {
    match (account.active, account.must_change_password) {
        (false, _) => "disabled",
        (true, true) => "must choose a password",
        (true, false) => "active",
    }
}

fn list_page(
    workbench: &Workbench,
    accounts: &[Account],
    form: &Form,
    trouble: Option<&Trouble>,
    done: Option<&str>,
) -> Markup {
    let facts =
        Page { title: "People", twin: "/people.json".to_owned(), has_plots: false, open: "People" };
    let body = html! {
        (frame::page_head(
            "People",
            "Who has an account in this benchbook, and what each role may do. Every change is \
             made by one of them and says so in the audit trail.",
        ))
        (form_view::done(done, &DONE))
        (form_view::trouble(trouble))
        @if accounts.is_empty() { (without_accounts()) } @else { (list(workbench, accounts)) }
        @if workbench.may(Action::KeepAccounts) { (add_form(workbench, form)) }
        (matrix(workbench))
    };
    frame::page(workbench, &facts, body)
}

fn without_accounts() -> Markup {
    html! {
        div.empty {
            h2 { "No accounts" }
            p {
                "This benchbook was begun without accounts. Everybody at this machine may use it, \
                 nothing in it can be signed, and it stays marked 'not for regulated use'."
            }
            p.next { span { "Next" } " begin one with accounts, and copy cases into it" }
            pre tabindex="0" { code { "isobar account begin lab.benchbook --id o.owner --name \"Olga Owner\"" } }
        }
    }
}

fn list(workbench: &Workbench, accounts: &[Account]) -> Markup {
    let keeps = workbench.may(Action::KeepAccounts);
    form_view::wide_table(
        "Accounts",
        html! {
            (headings_row(&["Account", "Name", "Roles", "State", "Identity checked"]))
            tbody {
                @for account in accounts {
                    tr {
                        th scope="row" {
                            @if keeps { a href={ "/people/" (address::encoded(&account.id)) } { (account.id) } }
                            @else { (account.id) }
                        }
                        td { (shown(&account.name)) }
                        td { (words(&account.roles).join(", ")) }
                        td { (state(account)) }
                        td { (shown(&account.identity_checked)) }
                    }
                }
            }
        },
    )
}

/// Boxes of the roles, ticked as in the form.
fn role_boxes(group: &str, form: &Form, hint: &str) -> Markup {
    html! {
        fieldset.field aria-describedby={ (group) "-roles-hint" } {
            legend { "Roles" }
            p.quiet.hint id={ (group) "-roles-hint" } { (hint) }
            div.boxes {
                @for role in Role::ALL {
                    label {
                        input type="checkbox" name="role" value=(role.word())
                            checked[form.all("role").any(|word| word == role.word())];
                        (role.word())
                    }
                }
            }
        }
    }
}

const ROLES_HINT: &str = "At least one. Whoever keeps accounts (owner, administrator) does not make, \
    review or approve data.";

fn add_form(workbench: &Workbench, form: &Form) -> Markup {
    html! {
        section aria-labelledby="add" {
            h2 #add { "Add an account" }
            (form_view::form(workbench, "/people", "Add the account", html! {
                (ID.line("add", form))
                (NAME.line("add", form))
                (IDENTITY.line("add", form))
                (role_boxes("add", form, ROLES_HINT))
                (FIRST.password("add"))
            }))
        }
    }
}

/// Who may do what, a row for each action.
fn matrix(workbench: &Workbench) -> Markup {
    let own: &[Role] = workbench.visitor.account.as_ref().map_or(&[], |account| &account.roles);
    html! {
        section aria-labelledby="matrix" {
            h2 #matrix { "What each role may do" }
            @if !own.is_empty() { p.quiet { "Your roles are " (words(own).join(", ")) "." } }
            (form_view::wide_table("Roles and what they may do", html! {
                thead { tr {
                    th scope="col" { "May" }
                    @for role in Role::ALL {
                        th.own[own.contains(&role)] scope="col" { (role.word()) }
                    }
                } }
                tbody {
                    @for (action, roles) in MATRIX {
                        tr {
                            th scope="row" { (action.words()) }
                            @for role in Role::ALL {
                                td.own[own.contains(&role)] {
                                    @if roles.contains(&role) { "yes" } @else { span.quiet aria-label="no" { "–" } }
                                }
                            }
                        }
                    }
                }
            }))
        }
    }
}

/// The form of an account as it stands.
fn as_it_stands(account: &Account) -> Form {
    let mut fields: Vec<(&str, &str)> =
        account.roles.iter().map(|role| ("role", role.word())).collect();
    fields.push(("state", if account.active { "active" } else { "disabled" }));
    Form::of(&fields)
}

/// From which state a form was made.
fn mark(account: &Account) -> String {
    format!("{} {} {}", account.id, words(&account.roles).join(","), account.active)
}

fn one_page(
    workbench: &Workbench,
    account: &Account,
    form: &Form,
    trouble: Option<&Trouble>,
    done: Option<&str>,
) -> Markup {
    let here = format!("/people/{}", address::encoded(&account.id));
    let facts =
        Page { title: &account.id, twin: format!("{here}.json"), has_plots: false, open: "People" };
    let form = if form.is_empty() { &as_it_stands(account) } else { form };
    let body = html! {
        div.page-head {
            p.case-id { a href="/people" { "People" } }
            h1 { (shown(&account.name)) }
            p.lead { (account.id) ": " (words(&account.roles).join(", ")) "; " (state(account)) "." }
        }
        (form_view::done(done, &DONE))
        (form_view::trouble(trouble))
        p.quiet { "Identity checked: " (shown(&account.identity_checked)) ". Public key of its \
                   signatures (Ed25519): " code { (account.public_key) } }
        p { a href={ "/history?actor=" (address::encoded(&account.id)) } { "What this account has done" } }
        @if workbench.may(Action::KeepAccounts) {
            section aria-labelledby="change" {
                h2 #change { "Roles and state" }
                (change_form(workbench, account, form))
            }
            section aria-labelledby="reset" {
                h2 #reset { "Reset the password" }
                p.quiet {
                    "Gives the account a new first password and a new key, and unlocks it. \
                     Signatures made with the old key stand."
                }
                (form_view::form(workbench, &here, "Reset the password", html! {
                    (form_view::hidden("doing", "reset"))
                    (FIRST.password("reset"))
                    (REASON.line("reset", &Form::default()))
                }))
            }
        }
    };
    frame::page(workbench, &facts, body)
}

fn change_form(workbench: &Workbench, account: &Account, form: &Form) -> Markup {
    let here = format!("/people/{}", address::encoded(&account.id));
    const STATE: Field<'_> =
        Field::needed("state", "State", "A disabled account can do nothing; its name stays taken.");
    form_view::form(
        workbench,
        &here,
        "Change the account",
        html! {
            (form_view::hidden("doing", "change"))
            (form_view::hidden(collision::MADE_FROM, &collision::mark(&mark(account))))
            (role_boxes("change", form, ROLES_HINT))
            (STATE.choice("change", form, &[("active", "active"), ("disabled", "disabled")]))
            (REASON.line("change", form))
        },
    )
}

fn sent_roles(form: &Form) -> Vec<Role> {
    Role::ALL.into_iter().filter(|role| form.all("role").any(|word| word == role.word())).collect()
}

/// Adds an account.
pub async fn add(workbench: &Workbench, form: &Form) -> Answer {
    let new = NewAccount {
        id: form.text("id"),
        name: form.text("name"),
        roles: sent_roles(form),
        identity_checked: form.given("identity_checked").unwrap_or_else(|| "not stated".to_owned()),
    };
    let at = clock::moment();
    let adding = workbench.benchbook.add_account(&new, form.raw("password"), &at);
    match workbench.server.with_password(adding).await {
        Ok(()) => Ok(Reply::Elsewhere("/people?done=added".to_owned())),
        Err(error) => {
            let trouble = Trouble::from(error);
            let accounts = accounts(workbench).await?;
            Err(Reply::PageWith {
                page: list_page(workbench, &accounts, form, Some(&trouble), None),
                status: trouble.status,
                error: trouble.what,
                hint: trouble.next_step,
            })
        }
    }
}

/// Changes an account, or resets its password.
pub async fn change(workbench: &Workbench, id: &str, form: &Form) -> Answer {
    let server = &workbench.server;
    let _alone = server.one_change.lock().await;
    let accounts = accounts(workbench).await?;
    let Some(account) = accounts.iter().find(|account| account.id == id) else {
        let what = format!("there is no account `{id}`");
        return Err(Reply::missing(what, "look at the list of accounts", "/people"));
    };
    let book = workbench.benchbook.because(&form.text("reason"));
    let at = clock::moment();
    let is_reset = form.raw("doing") == "reset";
    let changed = if is_reset {
        server.with_password(book.reset_password(id, form.raw("password"), &at)).await
    } else {
        if collision::has_changed(form, &mark(account)) {
            return Err(collided(workbench, account, form));
        }
        let active = form.raw("state") != "disabled";
        book.change_account(id, &sent_roles(form), active, &at).await
    };
    match changed {
        Ok(()) => {
            server.sessions.end_all_of(id);
            let done = if is_reset { "reset" } else { "changed" };
            Ok(Reply::Elsewhere(format!("/people/{}?done={done}", address::encoded(id))))
        }
        Err(error) => {
            let trouble = Trouble::from(error);
            let kept = if is_reset { &Form::default() } else { form };
            Err(Reply::PageWith {
                page: one_page(workbench, account, kept, Some(&trouble), None),
                status: trouble.status,
                error: trouble.what,
                hint: trouble.next_step,
            })
        }
    }
}

fn collided(workbench: &Workbench, account: &Account, form: &Form) -> Reply {
    let both = [
        Both {
            what: "Roles".to_owned(),
            now: words(&account.roles).join(", "),
            yours: words(&sent_roles(form)).join(", "),
        },
        Both {
            what: "State".to_owned(),
            now: if account.active { "active" } else { "disabled" }.to_owned(),
            yours: form.text("state"),
        },
    ];
    let what = format!("Account {}", account.id);
    collision::reply(workbench, &what, &both, change_form(workbench, account, form))
}
