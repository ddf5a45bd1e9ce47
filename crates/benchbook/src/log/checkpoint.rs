//! Checkpoint: size and root of the log in the text form of the C2SP note
//! `tlog-checkpoint`. Printed in a report it leaves the machine, and from then
//! on nobody can change what came before without being seen.

use super::base64;
use super::merkle::Hash;

/// Longest text that is read as a checkpoint.
const LONGEST_TEXT: usize = 64 * 1024;

/// State of the log of one benchbook at one moment.
///
/// It is not signed yet: it shows that a file is the one that was printed,
/// not who printed it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Checkpoint {
    /// Which log: `isobar/benchbook/` and the identity of the benchbook.
    pub origin: String,
    /// Number of events.
    pub size: u64,
    /// Root of the Merkle tree over them (RFC 6962).
    pub root: [u8; 32],
}

/// Why a text is no checkpoint.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("this is no checkpoint: {reason}")]
pub struct CheckpointError {
    /// What is wrong with it.
    pub reason: String,
}

impl Checkpoint {
    /// Origin of the log of the benchbook with this identity.
    pub(crate) fn origin_of(identity: &str) -> String {
        format!("isobar/benchbook/{identity}")
    }

    pub(crate) fn new(identity: &str, size: u64, root: Hash) -> Self {
        Self { origin: Self::origin_of(identity), size, root }
    }

    /// The text: three lines, each with a line feed: origin, size in decimal,
    /// root in base64.
    ///
    /// ```
    /// let checkpoint = benchbook::Checkpoint {
    ///     origin: "isobar/benchbook/00".to_owned(), size: 7, root: [0; 32],
    /// };
    /// let text = checkpoint.text();
    /// assert_eq!(text.lines().nth(1), Some("7"));
    /// assert_eq!(benchbook::Checkpoint::from_text(&text), Ok(checkpoint));
    /// ```
    #[must_use]
    pub fn text(&self) -> String {
        format!("{}\n{}\n{}\n", self.origin, self.size, base64::encode(&self.root))
    }

    /// The root in base64, as it stands on the third line.
    #[must_use]
    pub fn root_base64(&self) -> String {
        base64::encode(&self.root)
    }

    /// Reads a checkpoint. Further lines of the body and signatures after an
    /// empty line are passed over; they are not checked here.
    ///
    /// # Errors
    /// Where one of the three lines is missing or is not of its form.
    pub fn from_text(text: &str) -> Result<Self, CheckpointError> {
        let wrong = |reason: &str| CheckpointError { reason: reason.to_owned() };
        if text.len() > LONGEST_TEXT {
            return Err(wrong("it is longer than 64 KiB"));
        }
        let mut lines = text.split('\n');
        let mut line = |what: &str| {
            lines
                .next()
                .filter(|line| !line.is_empty())
                .ok_or_else(|| wrong(&format!("the {what} is missing")))
        };
        let origin = line("origin on its first line")?;
        let size = line("size on its second line")?;
        let root = line("root on its third line")?;
        if lines.next().is_none() {
            return Err(wrong("its last line does not end with a line feed"));
        }
        if origin.chars().any(|c| c.is_whitespace() || c == '+') {
            return Err(wrong("the origin holds a space or a `+`"));
        }
        let canonical = size == "0" || !size.starts_with('0');
        if !canonical || !size.bytes().all(|byte| byte.is_ascii_digit()) {
            return Err(wrong("the size is not a decimal number"));
        }
        let size = size.parse().map_err(|_| wrong("the size is not a decimal number"))?;
        let root = base64::decode(root)
            .and_then(|bytes| bytes.try_into().ok())
            .ok_or_else(|| wrong("the root is not 32 bytes in base64"))?;
        Ok(Self { origin: origin.to_owned(), size, root })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_published_example_is_read() {
        // Body of the example in the C2SP note tlog-checkpoint (c2sp.org); its
        // signature lines, shortened here, are passed over.
        let text = "example.com/behind-the-sofa\n20852163\n\
                    CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n\n\
                    \u{2014} example.com/behind-the-sofa Az3grlgtzPICa5OS\n";
        let checkpoint = Checkpoint::from_text(text).unwrap();
        assert_eq!(checkpoint.origin, "example.com/behind-the-sofa");
        assert_eq!(checkpoint.size, 20_852_163);
        assert_eq!(checkpoint.root[..3], [0x0a, 0xc5, 0x18]);
        assert!(text.starts_with(&checkpoint.text()));
    }

    #[test]
    fn what_is_no_checkpoint_is_refused() {
        let root = base64::encode(&[7; 32]);
        for (text, words) in [
            (String::new(), "origin"),
            ("a\n".to_owned(), "size"),
            ("a\n1\n".to_owned(), "root"),
            (format!("a\n1\n{root}"), "line feed"),
            (format!("a b\n1\n{root}\n"), "space"),
            (format!("a\n01\n{root}\n"), "decimal"),
            (format!("a\n-1\n{root}\n"), "decimal"),
            (format!("a\n99999999999999999999999\n{root}\n"), "decimal"),
            ("a\n1\nAAAA\n".to_owned(), "32 bytes"),
        ] {
            let error = Checkpoint::from_text(&text).unwrap_err();
            assert!(error.reason.contains(words), "{text:?}: {error}");
        }
    }

    proptest! {
        #[test]
        fn checkpoints_come_back(size: u64, root: [u8; 32]) {
            let checkpoint = Checkpoint::new("0f", size, root);
            prop_assert_eq!(Checkpoint::from_text(&checkpoint.text()), Ok(checkpoint));
        }

        #[test]
        fn hostile_text_never_panics(text in "\\PC*") {
            let _ = Checkpoint::from_text(&text);
        }
    }
}
