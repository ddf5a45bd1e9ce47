//! Reports that were shown to somebody who is about to sign: the very bytes,
//! kept for a while, so that a signature is bound to what was read.

use std::sync::{Arc, Mutex, PoisonError};

/// Reports that are kept; the oldest gives way.
const KEPT: usize = 16;

/// A report that was shown.
#[derive(Debug, Clone)]
pub struct ShownReport {
    /// The case.
    pub case_id: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
    /// The file.
    pub bytes: Arc<[u8]>,
}

/// The last reports that were shown.
#[derive(Default)]
pub struct ShownReports(Mutex<Vec<ShownReport>>);

impl ShownReports {
    /// Keeps a report.
    pub fn keep(&self, report: ShownReport) {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        kept.retain(|one| one.sha256 != report.sha256 || one.case_id != report.case_id);
        kept.push(report);
        let surplus = kept.len().saturating_sub(KEPT);
        kept.drain(..surplus);
    }

    /// The report of a case with this digest; `None` where it was not shown
    /// or has given way to later ones.
    pub fn find(&self, case_id: &str, sha256: &str) -> Option<ShownReport> {
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        kept.iter().find(|one| one.case_id == case_id && one.sha256 == sha256).cloned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn old_reports_give_way() {
        let reports = ShownReports::default();
        for number in 0..=KEPT {
            reports.keep(ShownReport {
                case_id: "a".to_owned(),
                sha256: number.to_string(),
                bytes: Arc::from([]),
            });
        }
        assert!(reports.find("a", "0").is_none());
        assert!(reports.find("b", "1").is_none());
        assert!(reports.find("a", "1").is_some());
    }
}
