//! `isobar account`: a benchbook with accounts, and who has one.

use std::path::PathBuf;

use benchbook::{Account as Shown, Benchbook, LogKey, NewAccount, Role};
use clap::{Args, Subcommand};
use serde_json::{Value, json};

use super::super::serve;
use super::acting::{Acting, new_password, password};
use super::keys;
use crate::answer::Answer;
use crate::clock;
use crate::fault::Fault;

/// Accounts and roles of a benchbook.
#[derive(Subcommand)]
pub enum Account {
    /// Begin a benchbook with accounts; the first one is that of its owner.
    Begin(Begin),
    /// Add an account with a first password, which its owner must change.
    Add(Add),
    /// Give an account other roles, disable or enable it.
    Role(ChangeRole),
    /// Change the own password, or reset that of somebody else.
    Password(Password),
    /// The accounts and their roles.
    List(List),
}

/// Begin a benchbook with accounts.
#[derive(Args)]
#[command(after_help = "Example:
  isobar account begin lab.benchbook --id o.owner --name \"Olga Owner (invented)\"")]
pub struct Begin {
    /// File to begin; it must not exist.
    benchbook: PathBuf,
    #[command(flatten)]
    person: Person,
}

/// A person who gets an account.
#[derive(Args)]
struct Person {
    /// Short name: small letters, digits, `.`, `-`, `_`.
    #[arg(long)]
    id: String,
    /// Name as it is printed beside signatures.
    #[arg(long)]
    name: String,
    /// Who saw to it that the person is who it is said to be, and how.
    #[arg(long, default_value = "not stated")]
    identity_checked: String,
}

/// Add an account.
#[derive(Args)]
#[command(after_help = "Example:
  isobar account add lab.benchbook --id a.analyst --name \"Ada Analyst (invented)\" \\
    --role analyst --account o.owner")]
pub struct Add {
    /// The benchbook.
    benchbook: PathBuf,
    #[command(flatten)]
    person: Person,
    /// owner, administrator, analyst, reviewer, approver or reader; may be repeated.
    #[arg(long, required = true, value_parser = role)]
    role: Vec<Role>,
    #[command(flatten)]
    acting: Acting,
}

/// Give an account other roles.
#[derive(Args)]
#[command(after_help = "Example:
  isobar account role lab.benchbook --id a.analyst --role analyst --role reader \\
    --account o.owner --reason \"reads other cases too\"")]
pub struct ChangeRole {
    /// The benchbook.
    benchbook: PathBuf,
    /// The account to change.
    #[arg(long)]
    id: String,
    /// Its roles from now on; may be repeated. Without one they stay.
    #[arg(long, value_parser = role)]
    role: Vec<Role>,
    /// It may do nothing any more; its name is never used again.
    #[arg(long)]
    disable: bool,
    /// It may work again.
    #[arg(long, conflicts_with = "disable")]
    enable: bool,
    #[command(flatten)]
    acting: Acting,
}

/// Change a password.
#[derive(Args)]
#[command(after_help = "Example:
  isobar account password lab.benchbook --account a.analyst")]
pub struct Password {
    /// The benchbook.
    benchbook: PathBuf,
    /// Account whose password is reset by the one that works.
    #[arg(long)]
    reset: Option<String>,
    #[command(flatten)]
    acting: Acting,
}

/// The accounts.
#[derive(Args)]
#[command(after_help = "Example:
  isobar account list lab.benchbook")]
pub struct List {
    /// The benchbook.
    benchbook: PathBuf,
}

fn role(word: &str) -> Result<Role, String> {
    Role::from_word(word).ok_or_else(|| {
        let known: Vec<&str> = Role::ALL.into_iter().map(Role::word).collect();
        format!("roles are {}", known.join(", "))
    })
}

/// Runs the command.
pub fn run(command: &Account) -> Result<Answer, Fault> {
    serve::runtime()?.block_on(async {
        match command {
            Account::Begin(command) => begin(command).await,
            Account::Add(command) => add(command).await,
            Account::Role(command) => change_role(command).await,
            Account::Password(command) => change_password(command).await,
            Account::List(command) => {
                let book = Benchbook::open_read_only(&command.benchbook).await?;
                let answer = shown(&book).await;
                book.close().await;
                answer
            }
        }
    })
}

/// The list of accounts, which every one of these commands answers with.
async fn shown(book: &Benchbook) -> Result<Answer, Fault> {
    let accounts = book.accounts().await?;
    let keys = book.log_keys().await?;
    let mut text = String::new();
    for Shown { id, name, roles, active, must_change_password, .. } in &accounts {
        let roles = words(roles).join(", ");
        let state = match (active, must_change_password) {
            (false, _) => ", disabled",
            (true, true) => ", must change its password",
            _ => "",
        };
        text.push_str(&format!("{id}  {name}  ({roles}{state})\n"));
    }
    if let Some(key) = keys.last() {
        text.push_str(&format!("\nlog key: {}\n", key.text()));
    }
    if let Some(why) = &book.not_for_regulated_use().await? {
        text.push_str(&format!("not for regulated use: {why}\n"));
    }
    Ok(Answer::new(text, as_json(book).await?, Vec::new()))
}

/// The accounts as data, the same for the command line and for the page.
pub async fn as_json(book: &Benchbook) -> Result<Value, benchbook::BenchbookError> {
    let accounts = book.accounts().await?;
    let keys = book.log_keys().await?;
    let list: Vec<Value> = accounts
        .iter()
        .map(|account| {
            json!({
                "id": account.id,
                "name": account.name,
                "roles": words(&account.roles),
                "active": account.active,
                "must_change_password": account.must_change_password,
                "identity_checked": account.identity_checked,
                "public_key": account.public_key,
            })
        })
        .collect();
    Ok(json!({
        "accounts": list,
        "log_key": keys.last().map(benchbook::VerifierKey::text),
        "not_for_regulated_use": book.not_for_regulated_use().await?,
    }))
}

fn words(roles: &[Role]) -> Vec<&'static str> {
    roles.iter().map(|role| role.word()).collect()
}

impl Person {
    fn account(&self, roles: &[Role]) -> NewAccount {
        NewAccount {
            id: self.id.clone(),
            name: self.name.clone(),
            roles: roles.to_vec(),
            identity_checked: self.identity_checked.clone(),
        }
    }
}

async fn begin(command: &Begin) -> Result<Answer, Fault> {
    let owner = command.person.account(&[Role::Owner]);
    if command.benchbook.exists() {
        let path = command.benchbook.clone();
        return Err(benchbook::BenchbookError::Exists { path }.into());
    }
    let password = new_password(&format!("New password of {}", owner.id))?;
    let key = LogKey::begin(&keys::folder()?, None)?;
    let at = clock::moment();
    let book =
        Benchbook::create_with_accounts(&command.benchbook, &owner, &password, &key, &at).await?;
    let answer = shown(&book).await;
    book.close().await;
    answer
}

async fn add(command: &Add) -> Result<Answer, Fault> {
    let book = command.acting.open(&command.benchbook).await?;
    let account = command.person.account(&command.role);
    let first = new_password(&format!("First password of {}", account.id))?;
    book.add_account(&account, &first, &clock::moment()).await?;
    let answer = shown(&book).await;
    book.close().await;
    answer
}

async fn change_role(command: &ChangeRole) -> Result<Answer, Fault> {
    let book = command.acting.open(&command.benchbook).await?;
    let there = book.accounts().await?.into_iter().find(|account| account.id == command.id);
    let (old, active) = there.map_or_else(Default::default, |one| (one.roles, one.active));
    let roles = if command.role.is_empty() { &old } else { &command.role };
    let active = command.enable || (active && !command.disable);
    book.change_account(&command.id, roles, active, &clock::moment()).await?;
    let answer = shown(&book).await;
    book.close().await;
    answer
}

async fn change_password(command: &Password) -> Result<Answer, Fault> {
    let at = clock::moment();
    let book = match &command.reset {
        Some(id) => {
            let book = command.acting.open(&command.benchbook).await?;
            let first = new_password(&format!("First password of {id}"))?;
            book.reset_password(id, &first, &at).await?;
            book
        }
        None => {
            let account = command.acting.named()?;
            let book = Benchbook::open(&command.benchbook).await?;
            let old = password(&format!("Password of {account}"))?;
            let new = new_password(&format!("New password of {account}"))?;
            book.change_password(account, &old, &new, &at).await?;
            book
        }
    };
    let answer = shown(&book).await;
    book.close().await;
    answer
}
