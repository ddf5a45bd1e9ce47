//! What the requests share, and what one request has before it: the benchbook
//! in the hands of its visitor.

use std::collections::BTreeMap;
use std::sync::Arc;

use axum::http::HeaderMap;
use benchbook::{Account, Action, Benchbook, BenchbookError, SessionLimits, Sessions};
use study::Case;
use tokio::sync::{Mutex, Semaphore};

use super::assets::Assets;
use super::cookies;
use super::front::Front;
use super::shown_reports::ShownReports;
use super::uploads::Uploads;
use crate::clock;
use crate::digest::sha256;

/// Cases that are kept after they were read.
const MOST_KEPT: usize = 50;

/// Passwords that are worked out at once: each takes 64 MiB.
const PASSWORDS_AT_ONCE: usize = 2;

/// Shared by all requests.
pub struct Server {
    /// The cases, in nobody's hands.
    pub benchbook: Benchbook,
    /// Name of the benchbook as people know it.
    pub shown_name: String,
    /// Style, scripts and pictures.
    pub assets: Arc<Assets>,
    /// Whoever has signed in.
    pub sessions: Sessions,
    /// How people reach it.
    pub front: Arc<Front>,
    /// Whether whoever comes must have an account.
    pub with_accounts: bool,
    /// Why it is not for regulated use; none where it was begun with accounts.
    pub not_for_regulated_use: Option<String>,
    /// Held while something is compared with what stands and then changed.
    pub one_change: Mutex<()>,
    /// Reports that were shown to be signed.
    pub shown_reports: ShownReports,
    /// Held by a simulation: they use every core by themselves.
    pub long_work: Semaphore,
    /// Files that wait to be imported.
    pub uploads: Uploads,
    /// Cases as they were last read, without samples, each with the number of
    /// its newest event then.
    cases_read: std::sync::Mutex<BTreeMap<String, (i64, Arc<Case>)>>,
    passwords: Semaphore,
    secret: String,
}

impl Server {
    /// A server of a benchbook.
    ///
    /// # Errors
    /// Where the benchbook cannot be read or the system gives no random
    /// numbers.
    pub async fn new(
        benchbook: Benchbook,
        shown_name: String,
        front: Front,
    ) -> Result<Self, BenchbookError> {
        Ok(Self {
            with_accounts: benchbook.has_accounts().await?,
            not_for_regulated_use: benchbook.not_for_regulated_use().await?,
            benchbook,
            shown_name,
            assets: Arc::new(Assets::load()),
            sessions: Sessions::new(SessionLimits::default()),
            front: Arc::new(front),
            one_change: Mutex::new(()),
            shown_reports: ShownReports::default(),
            long_work: Semaphore::new(1),
            uploads: Uploads::default(),
            cases_read: std::sync::Mutex::default(),
            passwords: Semaphore::new(PASSWORDS_AT_ONCE),
            secret: Sessions::draw_token()?,
        })
    }

    /// Does something that works out a password, apart from the threads that
    /// answer and never more than two at once.
    ///
    /// # Errors
    /// As the work.
    pub async fn with_password<T>(
        &self,
        work: impl Future<Output = Result<T, BenchbookError>>,
    ) -> Result<T, BenchbookError> {
        let _turn = self.passwords.acquire().await;
        tokio::task::block_in_place(|| tokio::runtime::Handle::current().block_on(work))
    }

    /// What a form of a page must carry: nobody else knows it, and it is of
    /// no use in another session.
    fn form_token(&self, kind: &str, of: &str) -> String {
        sha256(format!("isobar form {} {kind} {of}", self.secret).as_bytes())
    }
}

/// Whoever asks.
pub struct Visitor {
    /// The account, where somebody has signed in.
    pub account: Option<Account>,
    /// What the forms on the page carry.
    pub form_token: String,
    /// A cookie that the answer sets.
    pub new_cookie: Option<String>,
    /// Token of the session.
    pub session: Option<String>,
}

/// The workbench as one visitor has it.
pub struct Workbench {
    /// The cases, in the hands of the visitor.
    pub benchbook: Benchbook,
    /// Name of the benchbook as people know it.
    pub shown_name: String,
    /// Style, scripts and pictures.
    pub assets: Arc<Assets>,
    /// Whoever asks.
    pub visitor: Visitor,
    /// Shared by all requests.
    pub server: Arc<Server>,
}

impl Workbench {
    /// The workbench of whoever sent these headers.
    ///
    /// # Errors
    /// Where the benchbook cannot be read or the system gives no random
    /// numbers.
    pub async fn of(server: Arc<Server>, headers: &HeaderMap) -> Result<Self, BenchbookError> {
        let name = server.front.cookie();
        let mut benchbook = server.benchbook.clone();
        let mut signed_in = None;
        let session = cookies::token(headers, &name);
        if let Some(token) = &session
            && let Some(book) = server.sessions.book_of(token, &clock::moment().utc)
        {
            let id = book.account().map(str::to_owned);
            let accounts = book.accounts().await?;
            signed_in = accounts.into_iter().find(|one| Some(&one.id) == id.as_ref() && one.active);
            match &signed_in {
                Some(_) => benchbook = book,
                // Disabled meanwhile, perhaps on the command line.
                None => server.sessions.end(token),
            }
        }
        let session = session.filter(|_| signed_in.is_some());
        let form_cookie = format!("{name}-form");
        let mut new_cookie = None;
        let form_token = match (&session, cookies::token(headers, &form_cookie)) {
            (Some(session), _) => server.form_token("session", session),
            (None, Some(visit)) => server.form_token("visit", &visit),
            (None, None) => {
                let visit = Sessions::draw_token()?;
                new_cookie = Some(cookies::set(&server.front, &form_cookie, &visit));
                server.form_token("visit", &visit)
            }
        };
        Ok(Self {
            benchbook,
            shown_name: server.shown_name.clone(),
            assets: Arc::clone(&server.assets),
            visitor: Visitor { account: signed_in, form_token, new_cookie, session },
            server,
        })
    }

    /// A case whose runs carry no samples: read once, and again after a change.
    ///
    /// # Errors
    /// As the benchbook.
    pub async fn case_without_traces(&self, id: &str) -> Result<Arc<Case>, BenchbookError> {
        // Asked first: a change meanwhile makes what is kept look old, never new.
        let newest = self.benchbook.newest_event(id).await?;
        let kept = self.server.cases_read.lock().ok().and_then(|kept| kept.get(id).cloned());
        if let Some((_, case)) = kept.filter(|(event, _)| *event == newest) {
            return Ok(case);
        }
        let case = Arc::new(self.benchbook.case_without_traces(id).await?);
        if let Ok(mut kept) = self.server.cases_read.lock() {
            if kept.len() >= MOST_KEPT {
                kept.clear();
            }
            kept.insert(id.to_owned(), (newest, Arc::clone(&case)));
        }
        Ok(case)
    }

    /// True where nothing is shown before somebody signs in.
    pub fn must_sign_in(&self) -> bool {
        self.server.with_accounts && self.visitor.account.is_none()
    }

    /// True where the visitor will be let do something: forms that would only
    /// be refused are not shown. The benchbook decides.
    pub fn may(&self, action: Action) -> bool {
        match &self.visitor.account {
            Some(account) => action.is_for(&account.roles),
            None => !self.server.with_accounts && !NEEDS_ACCOUNTS.contains(&action),
        }
    }
}

/// What has no meaning where nobody has an account.
const NEEDS_ACCOUNTS: [Action; 7] = [
    Action::KeepAccounts,
    Action::GiveKeepingRoles,
    Action::ReviewAuditTrail,
    Action::SignAuthored,
    Action::SignReviewed,
    Action::SignApproved,
    Action::ChangeOwnPassword,
];
