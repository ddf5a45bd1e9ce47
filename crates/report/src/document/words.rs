//! Running text: stretches of literal words, each plain, strong, slanted or
//! set as a literal string, some of them leading to another place.

/// How a stretch is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Style {
    /// As running text.
    Plain,
    /// Bold.
    Strong,
    /// Slanted.
    Slanted,
    /// As a literal string of fixed width.
    Literal,
}

/// A stretch of words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stretch {
    /// The words, literal.
    pub text: String,
    /// How they are set.
    pub style: Style,
    /// Identifier of the section, figure, table or named words they lead to.
    pub target: Option<String>,
    /// Name under which other words lead here; unique in the document.
    pub name: Option<String>,
}

/// Running text.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Words {
    /// The stretches in their order.
    pub stretches: Vec<Stretch>,
}

impl Words {
    /// The text with one more stretch.
    #[must_use]
    pub fn and(mut self, text: impl Into<String>, style: Style) -> Self {
        self.stretches.push(Stretch { text: text.into(), style, target: None, name: None });
        self
    }

    /// The text with one more plain stretch.
    #[must_use]
    pub fn plain(self, text: impl Into<String>) -> Self {
        self.and(text, Style::Plain)
    }

    /// The text with one more bold stretch.
    #[must_use]
    pub fn strong(self, text: impl Into<String>) -> Self {
        self.and(text, Style::Strong)
    }

    /// The text with one more stretch that leads to a section, figure, table
    /// or named words of the same document.
    #[must_use]
    pub fn leading_to(mut self, text: impl Into<String>, target: impl Into<String>) -> Self {
        self.stretches.push(Stretch {
            text: text.into(),
            style: Style::Plain,
            target: Some(target.into()),
            name: None,
        });
        self
    }

    /// The text with one more stretch to which others can lead.
    #[must_use]
    pub fn named(mut self, text: impl Into<String>, name: impl Into<String>) -> Self {
        self.stretches.push(Stretch {
            text: text.into(),
            style: Style::Plain,
            target: None,
            name: Some(name.into()),
        });
        self
    }

    /// The words alone.
    #[must_use]
    pub fn text(&self) -> String {
        self.stretches.iter().map(|stretch| stretch.text.as_str()).collect()
    }

    /// Whether there is nothing to read.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.stretches.iter().all(|stretch| stretch.text.is_empty())
    }
}

impl From<&str> for Words {
    fn from(text: &str) -> Self {
        Self::default().plain(text)
    }
}

impl From<String> for Words {
    fn from(text: String) -> Self {
        Self::default().plain(text)
    }
}
