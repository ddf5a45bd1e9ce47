//! Forms as they are shown: labels, fields, the token, and what was wrong.

use maud::{Markup, html};

use super::form::{Form, TOKEN};
use super::refusals::Trouble;
use super::wording::shown;
use super::workbench::Workbench;

/// Fields that belong together, under a heading.
pub fn group(heading: &str, hint: Option<&str>, fields: Markup) -> Markup {
    html! {
        fieldset.case-group {
            legend { h3 { (heading) } }
            @if let Some(hint) = hint { p.quiet { (hint) } }
            (fields)
        }
    }
}

/// One field of a form.
#[derive(Clone, Copy)]
pub struct Field<'a> {
    /// Name under which it is sent.
    pub name: &'a str,
    /// What stands above it.
    pub label: &'a str,
    /// A sentence below the label; empty where none is needed.
    pub hint: &'a str,
    /// Whether it must be filled.
    pub needed: bool,
    /// What the browser may fill in, by the names of HTML; empty for nothing.
    pub fill: &'a str,
}

impl<'a> Field<'a> {
    /// A field that must be filled.
    pub const fn needed(name: &'a str, label: &'a str, hint: &'a str) -> Self {
        Self { name, label, hint, needed: true, fill: "" }
    }

    /// A field that may stay empty.
    pub const fn optional(name: &'a str, label: &'a str, hint: &'a str) -> Self {
        Self { needed: false, ..Self::needed(name, label, hint) }
    }

    /// The same field with what the browser may fill in.
    pub const fn filled_as(self, fill: &'a str) -> Self {
        Self { fill, ..self }
    }

    fn around(&self, group: &str, input: Markup) -> Markup {
        html! {
            div.field {
                label for={ (group) "-" (self.name) } {
                    (self.label)
                    @if !self.needed { span.quiet { " (may stay empty)" } }
                }
                @if !self.hint.is_empty() {
                    p.quiet.hint id={ (group) "-" (self.name) "-hint" } { (self.hint) }
                }
                (input)
            }
        }
    }

    fn described(&self, group: &str) -> Option<String> {
        (!self.hint.is_empty()).then(|| format!("{group}-{}-hint", self.name))
    }

    /// A line of text.
    pub fn line(&self, group: &str, form: &Form) -> Markup {
        let fill = if self.fill.is_empty() { "off" } else { self.fill };
        self.around(group, html! {
            input type="text" id={ (group) "-" (self.name) } name=(self.name)
                value=(form.text(self.name)) required[self.needed] autocomplete=(fill)
                aria-describedby=[self.described(group)] autocapitalize="none" spellcheck="false";
        })
    }

    /// A day.
    pub fn day(&self, group: &str, form: &Form) -> Markup {
        self.around(
            group,
            html! {
                input type="date" id={ (group) "-" (self.name) } name=(self.name)
                    value=(form.text(self.name)) required[self.needed]
                    aria-describedby=[self.described(group)];
            },
        )
    }

    /// A whole number from 1.
    pub fn count(&self, group: &str, form: &Form, most: u32) -> Markup {
        self.whole(group, form, 1, most)
    }

    /// A whole number within bounds.
    pub fn whole(&self, group: &str, form: &Form, least: u32, most: u32) -> Markup {
        self.around(
            group,
            html! {
                input type="number" min=(least) max=(most) step="1" id={ (group) "-" (self.name) }
                    name=(self.name) value=(form.text(self.name)) required[self.needed]
                    aria-describedby=[self.described(group)];
            },
        )
    }

    /// Lines of text.
    pub fn lines(&self, group: &str, form: &Form) -> Markup {
        self.around(
            group,
            html! {
                textarea rows="3" id={ (group) "-" (self.name) } name=(self.name)
                    required[self.needed] aria-describedby=[self.described(group)] {
                    (form.text(self.name))
                }
            },
        )
    }

    /// A password. It may be pasted, and it is never filled in by the page.
    pub fn password(&self, group: &str) -> Markup {
        let fill = if self.fill.is_empty() { "current-password" } else { self.fill };
        self.around(
            group,
            html! {
                input type="password" id={ (group) "-" (self.name) } name=(self.name)
                    required[self.needed] autocomplete=(fill)
                    aria-describedby=[self.described(group)];
            },
        )
    }

    /// A file.
    pub fn file(&self, group: &str) -> Markup {
        self.around(
            group,
            html! {
                input type="file" id={ (group) "-" (self.name) } name=(self.name)
                    required[self.needed] aria-describedby=[self.described(group)];
            },
        )
    }

    /// One of several, as value and words.
    pub fn choice(&self, group: &str, form: &Form, choices: &[(&str, &str)]) -> Markup {
        let chosen = form.text(self.name);
        self.around(
            group,
            html! {
                select id={ (group) "-" (self.name) } name=(self.name)
                    aria-describedby=[self.described(group)] {
                    @for (value, words) in choices {
                        option value=(value) selected[chosen == *value] { (shown(words)) }
                    }
                }
            },
        )
    }
}

/// A form that is sent to this address, with the token of the session.
pub fn form(workbench: &Workbench, action: &str, button: &str, fields: Markup) -> Markup {
    entry(workbench, action, None, button, fields)
}

/// A form that also carries files.
pub fn form_with_files(
    workbench: &Workbench,
    action: &str,
    button: &str,
    fields: Markup,
) -> Markup {
    entry(workbench, action, Some("multipart/form-data"), button, fields)
}

/// The token comes first, so that it can be looked at before a file is read.
fn entry(
    workbench: &Workbench,
    action: &str,
    kind: Option<&str>,
    button: &str,
    fields: Markup,
) -> Markup {
    html! {
        form.entry method="post" action=(action) enctype=[kind] {
            (token(workbench))
            (fields)
            p.send { button type="submit" { (button) } }
        }
    }
}

/// The hidden field with the token.
pub fn token(workbench: &Workbench) -> Markup {
    html! { input type="hidden" name=(TOKEN) value=(workbench.visitor.form_token); }
}

/// A hidden field.
pub fn hidden(name: &str, value: &str) -> Markup {
    html! { input type="hidden" name=(name) value=(value); }
}

/// What was wrong with the form that was sent, read out at once.
pub fn trouble(trouble: Option<&Trouble>) -> Markup {
    html! {
        @if let Some(trouble) = trouble {
            div.trouble role="alert" {
                p { strong { "Not done: " } (shown(&trouble.what)) "." }
                p.next {
                    span { "Next" } " "
                    @if trouble.link.is_empty() { (shown(&trouble.next_step)) "." }
                    @else { a href=(trouble.link) { (shown(&trouble.next_step)) } }
                }
            }
        }
    }
}

/// What was done, from the word in the address that a form leads to.
pub fn done(word: Option<&str>, words: &[(&str, &str)]) -> Markup {
    let said = words.iter().find(|(name, _)| Some(*name) == word);
    html! { @if let Some((_, text)) = said { p.done-note role="status" { (text) } } }
}

/// A table that scrolls in its own frame where the screen is narrow.
pub fn wide_table(caption: &str, rows: Markup) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label=(caption) {
            table.list { caption { (caption) } (rows) }
        }
    }
}
