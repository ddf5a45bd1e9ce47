//! The text of an event, as a verifier reads it.
//!
//! Any JSON object with these keys is read. The texts that the program itself
//! writes, with their keys in one order and nothing escaped, are read without
//! a general parser: a history has millions of them.

use std::borrow::Cow;

use serde::Deserialize;

/// What a verifier wants of an event. Other keys are covered by its hash.
#[derive(Debug, PartialEq, Deserialize)]
pub(super) struct Event<'t> {
    pub(super) number: i64,
    #[serde(borrow)]
    pub(super) at: Cow<'t, str>,
    #[serde(borrow)]
    pub(super) what: Cow<'t, str>,
    #[serde(borrow)]
    pub(super) case: Option<Cow<'t, str>>,
    #[serde(borrow)]
    pub(super) record: Option<Cow<'t, str>>,
    pub(super) version: Option<i64>,
    #[serde(borrow)]
    pub(super) old_sha256: Option<Cow<'t, str>>,
    #[serde(borrow)]
    pub(super) new_sha256: Option<Cow<'t, str>>,
    #[serde(borrow, default)]
    pub(super) subject: Option<Cow<'t, str>>,
    #[serde(borrow, default)]
    pub(super) account: Option<Cow<'t, str>>,
}

/// Reads an event.
pub(super) fn read(text: &str) -> Result<Event<'_>, String> {
    match plain(text) {
        Some(event) => Ok(event),
        None => serde_json::from_str(text).map_err(|error| error.to_string()),
    }
}

/// Reads a text of the usual form; `None` where it is of another.
fn plain(text: &str) -> Option<Event<'_>> {
    // Without a backslash and control characters, every string ends at the
    // next quotation mark.
    let odd = |byte: u8| (byte < b' ') | (byte == b'\\');
    if text.bytes().fold(false, |found, byte| found | odd(byte)) {
        return None;
    }
    let mut rest = Rest(text);
    rest.pass("{\"schema\":")?;
    rest.number()?;
    rest.pass(",\"number\":")?;
    let number = rest.number()?;
    rest.pass(",\"at\":")?;
    let at = rest.string()?.into();
    rest.pass(",\"actor\":")?;
    rest.string()?;
    rest.pass(",\"what\":")?;
    let what = rest.string()?.into();
    rest.pass(",\"case\":")?;
    let case = rest.string_or_null()?;
    rest.pass(",\"record\":")?;
    let record = rest.string_or_null()?;
    rest.pass(",\"version\":")?;
    let version = rest.number_or_null()?;
    rest.pass(",\"old_sha256\":")?;
    let old_sha256 = rest.string_or_null()?;
    rest.pass(",\"new_sha256\":")?;
    let new_sha256 = rest.string_or_null()?;
    rest.pass(",\"detail\":")?;
    rest.string()?;
    let subject = rest.string_where(",\"subject\":")?;
    let account = rest.string_where(",\"account\":")?;
    rest.string_where(",\"reason\":")?;
    if rest.0 != "}" {
        return None;
    }
    Some(Event {
        number,
        at,
        what,
        case,
        record,
        version,
        old_sha256,
        new_sha256,
        subject,
        account,
    })
}

/// What is still to be read.
struct Rest<'t>(&'t str);

impl<'t> Rest<'t> {
    fn pass(&mut self, expected: &str) -> Option<()> {
        self.0 = self.0.strip_prefix(expected)?;
        Some(())
    }

    /// A whole number of at most 18 digits, written as JSON has it.
    fn number(&mut self) -> Option<i64> {
        let n = self.0.bytes().take_while(u8::is_ascii_digit).count();
        let (digits, rest) = self.0.split_at(n);
        if !(1..=18).contains(&n) || (n > 1 && digits.starts_with('0')) {
            return None;
        }
        self.0 = rest;
        digits.parse().ok()
    }

    fn string(&mut self) -> Option<&'t str> {
        let (text, rest) = self.0.strip_prefix('"')?.split_once('"')?;
        self.0 = rest;
        Some(text)
    }

    fn string_or_null(&mut self) -> Option<Option<Cow<'t, str>>> {
        match self.pass("null") {
            Some(()) => Some(None),
            None => self.string().map(|text| Some(text.into())),
        }
    }

    fn number_or_null(&mut self) -> Option<Option<i64>> {
        match self.pass("null") {
            Some(()) => Some(None),
            None => self.number().map(Some),
        }
    }

    /// A string behind a key that may be left out.
    fn string_where(&mut self, key: &str) -> Option<Option<Cow<'t, str>>> {
        match self.pass(key) {
            Some(()) => self.string().map(|text| Some(text.into())),
            None => Some(None),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const USUAL: &str = "{\"schema\":1,\"number\":12,\"at\":\"2026-11-25T08:00:00Z\",\"actor\":\"Ä. \
                         Analyst\",\"what\":\"signed\",\"case\":\"a\",\"record\":\"signature\",\
                         \"version\":3,\"old_sha256\":null,\"new_sha256\":\"00\",\"detail\":\"\",\
                         \"subject\":\"a 1\",\"account\":\"a.analyst\",\"reason\":\"asked\"}";

    fn general(text: &str) -> Option<Event<'_>> {
        serde_json::from_str(text).ok()
    }

    #[test]
    fn the_usual_form_is_read_without_the_parser() {
        assert!(plain(USUAL).is_some());
        assert_eq!(plain(USUAL), general(USUAL));
        let short = USUAL.replace(",\"subject\":\"a 1\",\"account\":\"a.analyst\"", "");
        assert!(plain(&short).is_some());
        assert_eq!(plain(&short), general(&short));
    }

    #[test]
    fn what_is_not_of_the_usual_form_is_left_to_the_parser() {
        for (from, to) in [
            ("signed", "si\\u0067ned"),
            ("\"number\":12", "\"number\":012"),
            ("\"number\":12", "\"number\":-12"),
            ("\"number\":12", "\"number\":1234567890123456789"),
            ("\"number\":12", "\"number\": 12"),
            ("\"case\":\"a\"", "\"case\":\"a\",\"case\":\"b\""),
            ("signed", "sig\u{1}ned"),
        ] {
            let text = USUAL.replacen(from, to, 1);
            assert_eq!(plain(&text), None, "{text}");
            assert_eq!(read(&text).ok(), general(&text), "{text}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2_000))]

        /// Whatever stands in place of one byte, or is cut off, or is put in
        /// again elsewhere: both readers say the same.
        #[test]
        fn both_readers_agree(place in 0..USUAL.len(), byte in 0x0a_u8..0x7f, cut in 0..30_usize) {
            let mut bytes = USUAL.as_bytes().to_vec();
            bytes[place] = byte;
            bytes.drain(place..(place + cut / 10).min(bytes.len()));
            if let Ok(text) = std::str::from_utf8(&bytes)
                && let Some(event) = plain(text)
            {
                prop_assert_eq!(Some(event), general(text));
            }
        }
    }
}
