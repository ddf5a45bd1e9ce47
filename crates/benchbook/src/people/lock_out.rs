//! Lock-out after wrong passwords: how long, as data.

use serde::{Deserialize, Serialize};

use crate::moment;

/// Wrong passwords in a row, and the seconds for which the account then
/// waits after the last of them.
pub(super) const WAITS: &[(u32, i64)] =
    &[(5, 60), (6, 120), (7, 300), (8, 900), (9, 3_600), (10, 86_400)];

/// From here on only a reset helps, except for the last account that keeps
/// accounts, which nobody could reset.
pub(super) const LOCKED: u32 = 10;

/// Wrong passwords in a row of an account, as they are stored.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Attempts {
    /// Wrong passwords since the last right one or reset.
    pub(super) failed: u32,
    /// Time of the last of them.
    pub(super) at: String,
}

/// Until when an account is locked; `None` where it is not.
pub(super) fn locked_until(attempts: &Attempts, now: &str, is_last: bool) -> Option<String> {
    if attempts.failed >= LOCKED && !is_last {
        return Some("until its password is reset".to_owned());
    }
    let wait = WAITS.iter().rev().find(|row| attempts.failed >= row.0)?.1;
    // A clock that cannot be read locks rather than opens.
    let until = moment::seconds(&attempts.at)?.saturating_add(wait);
    let now = moment::seconds(now).unwrap_or(i64::MIN);
    (now < until).then(|| format!("until {}", moment::utc_of(until)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_wait_grows_and_ends() {
        let at = "2026-11-25T08:00:00Z".to_owned();
        let attempts = |failed| Attempts { failed, at: at.clone() };
        let locked = |failed, now: &str, last| locked_until(&attempts(failed), now, last).is_some();
        assert!(!locked(4, "2026-11-25T08:00:00Z", false));
        assert!(locked(5, "2026-11-25T08:00:59Z", false));
        assert!(!locked(5, "2026-11-25T08:01:00Z", false));
        assert!(locked(9, "2026-11-25T08:59:59Z", false));
        assert!(locked(10, "2027-11-25T08:00:00Z", false), "only a reset helps");
        assert!(locked(10, "2026-11-26T07:59:59Z", true));
        assert!(!locked(99, "2026-11-26T08:00:00Z", true), "the last keeper is never locked out");
        assert!(locked(5, "no time at all", false));
    }
}
