//! A TOML text that people write by hand: every fault is collected with its
//! line, and no key is passed over.

use std::cell::RefCell;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::codes;
use crate::message::{Message, quoted};
use crate::written_quantity::{QuantityError, nearest_of, read_plain_number};

type Span = core::ops::Range<usize>;

/// The text with the faults found so far.
pub(crate) struct Document<'t> {
    text: &'t str,
    messages: RefCell<Vec<Message>>,
}

impl<'t> Document<'t> {
    /// Parses a text; syntax faults are collected, and the table is `None`
    /// where so much is broken that reading on would mislead.
    pub(crate) fn parse(text: &'t str) -> (Self, Option<Spanned<DeTable<'t>>>) {
        let document = Self { text, messages: RefCell::new(Vec::new()) };
        let (table, errors) = DeTable::parse_recoverable(text);
        let mut is_broken = false;
        for error in errors {
            let span = error.span().unwrap_or(0..0);
            let first_line = error.message().lines().next().unwrap_or("").to_owned();
            if first_line.contains("duplicate key") {
                let key = text.get(span.clone()).unwrap_or("");
                document.fault(
                    codes::CASE_SYNTAX,
                    format!("The key {} is written twice", quoted(key)),
                    &span,
                    "Keep one of the two.",
                );
            } else {
                is_broken = true;
                document.fault(
                    codes::CASE_SYNTAX,
                    format!("This is not TOML: {first_line}"),
                    &span,
                    "Write keys like wall = \"1 mm\" and tables like [container].",
                );
            }
        }
        (document, if is_broken { None } else { Some(table) })
    }

    /// Notes a fault at a place of the text.
    pub(crate) fn fault(
        &self,
        code: &'static str,
        what: impl Into<String>,
        span: &Span,
        next: impl Into<String>,
    ) {
        self.note(Message::refused(code, what).next(next), span);
    }

    /// Notes a message at a place of the text.
    pub(crate) fn note(&self, message: Message, span: &Span) {
        let before = self.text.get(..span.start).unwrap_or(self.text);
        let line = 1 + before.matches('\n').count() as u64;
        let column = 1 + before.rsplit('\n').next().unwrap_or("").chars().count() as u64;
        self.messages
            .borrow_mut()
            .push(message.at_line(line).at_column(column).at_byte(span.start as u64));
    }

    /// Every message, in the order of the text.
    pub(crate) fn into_messages(self) -> Vec<Message> {
        let mut messages = self.messages.into_inner();
        messages.sort_by_key(|message| message.place.byte);
        messages
    }
}

/// One table of the document. Where it is absent and that has been said,
/// every question to it is answered with nothing.
pub(crate) struct Section<'d, 't> {
    document: &'d Document<'t>,
    path: String,
    table: Option<&'d DeTable<'t>>,
    span: Span,
    asked: RefCell<Vec<&'static str>>,
}

impl<'d, 't> Section<'d, 't> {
    /// The outermost table.
    pub(crate) fn root(document: &'d Document<'t>, table: &'d Spanned<DeTable<'t>>) -> Self {
        Self {
            document,
            path: String::new(),
            table: Some(table.get_ref()),
            span: 0..0,
            asked: RefCell::default(),
        }
    }

    fn within(&self, key: &str, table: Option<&'d DeTable<'t>>, span: Span) -> Self {
        let path =
            if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) };
        Self { document: self.document, path, table, span, asked: RefCell::default() }
    }

    fn value(&self, key: &'static str) -> Option<&'d Spanned<DeValue<'t>>> {
        self.asked.borrow_mut().push(key);
        self.table?.get(key)
    }

    fn name(&self) -> String {
        if self.path.is_empty() {
            "The file".to_owned()
        } else {
            format!("The table [{}]", self.path)
        }
    }

    /// True where the table is there.
    pub(crate) fn is_present(&self) -> bool {
        self.table.is_some()
    }

    /// True where the table has the key.
    pub(crate) fn has(&self, key: &'static str) -> bool {
        self.value(key).is_some()
    }

    /// Notes that a key is missing.
    pub(crate) fn missing(&self, key: &str, example: &str) {
        if self.table.is_some() {
            self.document.fault(
                codes::CASE_MISSING_KEY,
                format!("{} lacks the key {}", self.name(), quoted(key)),
                &self.span,
                format!("Write {key} = {example}."),
            );
        }
    }

    /// Notes that the value of a key does not do, at the value.
    pub(crate) fn unfit(
        &self,
        key: &'static str,
        code: &'static str,
        what: impl Into<String>,
        next: impl Into<String>,
    ) {
        let span = self.value(key).map_or_else(|| self.span.clone(), Spanned::span);
        self.document.fault(code, format!("{key}: {}", what.into()), &span, next);
    }

    /// A table within this one.
    pub(crate) fn section(&self, key: &'static str, required: bool) -> Self {
        match self.value(key) {
            Some(value) => match value.get_ref().as_table() {
                Some(table) => self.within(key, Some(table), value.span()),
                None => {
                    self.wrong_type(key, value, "a table");
                    self.within(key, None, value.span())
                }
            },
            None => {
                if required && self.table.is_some() {
                    let path = self.within(key, None, 0..0).path;
                    self.document.fault(
                        codes::CASE_MISSING_KEY,
                        format!("{} lacks the table [{path}]", self.name()),
                        &self.span,
                        format!("Add [{path}] with its keys."),
                    );
                }
                self.within(key, None, self.span.clone())
            }
        }
    }

    /// Every table of an array `[[key]]`.
    pub(crate) fn sections(&self, key: &'static str) -> Vec<Self> {
        let Some(value) = self.value(key) else { return Vec::new() };
        let Some(array) = value.get_ref().as_array() else {
            self.wrong_type(key, value, "a list of tables");
            return Vec::new();
        };
        array
            .iter()
            .filter_map(|item| match item.get_ref().as_table() {
                Some(table) => Some(self.within(key, Some(table), item.span())),
                None => {
                    self.wrong_type(key, item, "a table");
                    None
                }
            })
            .collect()
    }

    fn wrong_type(&self, key: &str, value: &Spanned<DeValue<'_>>, wanted: &str) {
        self.document.fault(
            codes::CASE_TYPE,
            format!("{key} is {} and should be {wanted}", type_words(value.get_ref())),
            &value.span(),
            format!("Write {key} as {wanted}."),
        );
    }

    /// A text, if it is there.
    pub(crate) fn optional_text(&self, key: &'static str) -> Option<String> {
        let value = self.value(key)?;
        match value.get_ref().as_str() {
            Some(text) => Some(text.to_owned()),
            None => {
                self.wrong_type(key, value, "text in quotes");
                None
            }
        }
    }

    /// A list of texts; empty where it is not there.
    pub(crate) fn texts(&self, key: &'static str) -> Vec<String> {
        let Some(value) = self.value(key) else { return Vec::new() };
        let Some(array) = value.get_ref().as_array() else {
            self.wrong_type(key, value, "a list of texts");
            return Vec::new();
        };
        let mut texts = Vec::new();
        for item in array {
            match item.get_ref().as_str() {
                Some(text) => texts.push(text.to_owned()),
                None => self.wrong_type(key, item, "text in quotes"),
            }
        }
        texts
    }

    /// A text that must be there and hold something.
    pub(crate) fn text(&self, key: &'static str) -> Option<String> {
        match self.value(key) {
            None => {
                self.missing(key, "\"...\"");
                None
            }
            Some(_) => {
                let text = self.optional_text(key)?;
                if text.trim().is_empty() {
                    self.unfit(key, codes::CASE_TYPE, "the text is empty", "Write what it is.");
                    return None;
                }
                Some(text)
            }
        }
    }

    /// True or false, with a default.
    pub(crate) fn truth(&self, key: &'static str, default: bool) -> bool {
        let Some(value) = self.value(key) else { return default };
        value.get_ref().as_bool().unwrap_or_else(|| {
            self.wrong_type(key, value, "true or false");
            default
        })
    }

    /// A number without a unit, if it is there.
    pub(crate) fn optional_number(&self, key: &'static str) -> Option<f64> {
        let value = self.value(key)?;
        let text = match value.get_ref() {
            DeValue::Integer(integer) => integer.as_str().to_owned(),
            DeValue::Float(float) => float.as_str().to_owned(),
            DeValue::String(text) => text.to_string(),
            _ => {
                self.wrong_type(key, value, "a number");
                return None;
            }
        };
        match read_plain_number(&text.replace('_', "")) {
            Ok(number) => Some(number),
            Err(error) => {
                self.quantity_fault(key, value, &error);
                None
            }
        }
    }

    /// A number without a unit.
    pub(crate) fn number(&self, key: &'static str, example: &str) -> Option<f64> {
        if self.value(key).is_none() {
            self.missing(key, example);
            return None;
        }
        self.optional_number(key)
    }

    /// One word of a list.
    pub(crate) fn word<T>(
        &self,
        key: &'static str,
        words: &[&'static str],
        read: impl Fn(&str) -> Option<T>,
    ) -> Option<T> {
        let text = self.text(key)?;
        if let Some(value) = read(&text) {
            return Some(value);
        }
        let hint = nearest_of(&text, words.iter().copied())
            .map_or_else(String::new, |near| format!("Did you mean {}? ", quoted(near)));
        let list: Vec<String> = words.iter().map(|word| quoted(word)).collect();
        self.unfit(
            key,
            codes::CASE_WORD,
            format!("{} is not one of its words", quoted(&text)),
            format!("{hint}It can be {}.", list.join(", ")),
        );
        None
    }

    /// A quantity with its unit, plain or in a table, if it is there.
    pub(crate) fn optional_quantity<T>(
        &self,
        key: &'static str,
        read: impl Fn(&str) -> Result<T, QuantityError>,
    ) -> Option<T> {
        let value = self.value(key)?;
        if let Some(table) = value.get_ref().as_table() {
            let inner = self.within(key, Some(table), value.span());
            let quantity = inner.quantity("value", "\"...\"", read);
            let parts = ["uncertainty", "source", "from", "by", "on"].map(|part| inner.has(part));
            if parts.contains(&true) {
                self.document.note(
                    Message::remark(
                        codes::CASE_QUANTITY,
                        format!("{key} has no place for an uncertainty or a source of its own"),
                    )
                    .done("Its value was read, the rest was not kept."),
                    &value.span(),
                );
            }
            inner.finish();
            return quantity;
        }
        self.read_quantity(key, value, read)
    }

    /// A quantity with its unit.
    pub(crate) fn quantity<T>(
        &self,
        key: &'static str,
        example: &str,
        read: impl Fn(&str) -> Result<T, QuantityError>,
    ) -> Option<T> {
        if self.value(key).is_none() {
            self.missing(key, example);
            return None;
        }
        self.optional_quantity(key, read)
    }

    /// The table `{ value = ..., ... }` of a key, if it is written as one.
    pub(crate) fn detailed(&self, key: &'static str) -> Option<Self> {
        let value = self.value(key)?;
        let table = value.get_ref().as_table()?;
        Some(self.within(key, Some(table), value.span()))
    }

    fn read_quantity<T>(
        &self,
        key: &str,
        value: &Spanned<DeValue<'_>>,
        read: impl Fn(&str) -> Result<T, QuantityError>,
    ) -> Option<T> {
        let text = match value.get_ref() {
            DeValue::String(text) => text.to_string(),
            // A bare number lacks its unit; the reader says how to write it.
            DeValue::Integer(integer) => integer.as_str().to_owned(),
            DeValue::Float(float) => float.as_str().to_owned(),
            _ => {
                self.wrong_type(key, value, "a value with its unit in quotes");
                return None;
            }
        };
        match read(&text) {
            Ok(quantity) => Some(quantity),
            Err(error) => {
                self.quantity_fault(key, value, &error);
                None
            }
        }
    }

    fn quantity_fault(&self, key: &str, value: &Spanned<DeValue<'_>>, error: &QuantityError) {
        self.document.fault(
            codes::CASE_QUANTITY,
            format!("{key} = {}: {}", quoted(&error.text), error.what),
            &value.span(),
            error.hint.clone(),
        );
    }

    /// Says which keys nobody asked for.
    pub(crate) fn finish(&self) {
        let Some(table) = self.table else { return };
        let asked = self.asked.borrow();
        for (key, _) in table {
            let name: &str = key.get_ref();
            if asked.contains(&name) {
                continue;
            }
            let hint = match nearest_of(name, asked.iter().copied()) {
                Some(near) => format!("Did you mean {}?", quoted(near)),
                None => {
                    let mut known: Vec<&str> = asked.clone();
                    known.sort_unstable();
                    known.dedup();
                    format!("It can have {}.", known.join(", "))
                }
            };
            self.document.fault(
                codes::CASE_UNKNOWN_KEY,
                format!("{} has an unknown key {}", self.name(), quoted(name)),
                &key.span(),
                hint,
            );
        }
    }
}

fn type_words(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}
