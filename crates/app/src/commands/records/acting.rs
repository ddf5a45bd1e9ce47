//! Who works: the account, its password, and the reason of a change.

use std::io::{BufRead, IsTerminal};
use std::path::Path;

use benchbook::{Benchbook, Refusal};
use clap::Args;

use crate::clock;
use crate::fault::Fault;

/// Who changes a benchbook, and why.
#[derive(Args)]
pub struct Acting {
    /// Account that works; its password is asked for, or read from standard input.
    #[arg(long)]
    account: Option<String>,
    /// Why, where a rule asks for a reason.
    #[arg(long)]
    reason: Option<String>,
}

impl Acting {
    /// Opens a benchbook to change it, in the hands of the account where it
    /// has accounts.
    pub async fn open(&self, path: &Path) -> Result<Benchbook, Fault> {
        let book = Benchbook::open(path).await?;
        let book = match &self.reason {
            Some(reason) => book.because(reason),
            None => book,
        };
        if !book.has_accounts().await? {
            if let Some(account) = &self.account {
                return Err(Fault::users(
                    format!("`{}` has no accounts, so `{account}` is none", path.display()),
                    "leave out --account",
                ));
            }
            return Ok(book);
        }
        let Some(account) = &self.account else { return Err(refused(Refusal::NeedsAccount)) };
        let password = password(&format!("Password of {account}"))?;
        Ok(book.acting_as(account, &password, &clock::moment()).await?)
    }

    /// The account that was named.
    pub fn named(&self) -> Result<&str, Fault> {
        self.account.as_deref().ok_or_else(|| refused(Refusal::NeedsAccount))
    }
}

/// A refusal as a fault.
pub fn refused(refusal: Refusal) -> Fault {
    benchbook::BenchbookError::from(refusal).into()
}

/// A password from the terminal, without showing it, or a line of standard
/// input. Never an argument: arguments are seen by every user of the machine.
pub fn password(prompt: &str) -> Result<String, Fault> {
    let failed = |error: std::io::Error| {
        Fault::users(
            format!("the password cannot be read: {error}"),
            "type it at the terminal, or give it as a line of standard input",
        )
    };
    if std::io::stdin().is_terminal() {
        return rpassword::prompt_password(format!("{prompt}: ")).map_err(failed);
    }
    let mut line = String::new();
    std::io::stdin().lock().read_line(&mut line).map_err(failed)?;
    let line = line.trim_end_matches(['\n', '\r']).to_owned();
    if line.is_empty() {
        return Err(Fault::users(
            format!("standard input ended before: {prompt}"),
            "type it at the terminal, or give each password as a line of standard input",
        ));
    }
    Ok(line)
}

/// A new password: at the terminal it is typed twice.
pub fn new_password(prompt: &str) -> Result<String, Fault> {
    let first = password(prompt)?;
    if std::io::stdin().is_terminal() && password(&format!("{prompt}, again"))? != first {
        return Err(Fault::users("the two passwords differ", "type the same one twice"));
    }
    Ok(first)
}
