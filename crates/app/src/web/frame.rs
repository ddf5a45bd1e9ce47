//! The frame around every page: head, banner, cautions.

use maud::{DOCTYPE, Markup, PreEscaped, html};
use study::{Case, Step};

use super::wording::shown;
use super::workbench::Workbench;
use super::{address, form_view, ladder_view, path_view};
use crate::commands::CAUTIONS;

/// What the frame needs to know of a page.
pub struct Page<'a> {
    /// Title in the browser's tab.
    pub title: &'a str,
    /// Address of the page, for its twin.
    pub twin: String,
    /// Whether it has plots.
    pub has_plots: bool,
    /// Which entry of the banner is open.
    pub open: &'a str,
}

impl<'a> Page<'a> {
    /// A page without plots that is no entry of the banner.
    pub fn plain(title: &'a str) -> Self {
        Self { title, twin: "/benchbook.json".to_owned(), has_plots: false, open: "" }
    }
}

/// A whole page.
pub fn page(workbench: &Workbench, page: &Page<'_>, body: Markup) -> Markup {
    let assets = &workbench.assets;
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (shown(page.title)) " · Isobar" }
                link rel="icon" type="image/svg+xml" href=(assets.icon.address());
                link rel="stylesheet" href=(assets.style.address());
                script src=(assets.theme.address()) {}
                @if page.has_plots {
                    script defer src=(assets.plotly.address()) {}
                }
                script defer src=(assets.script.address()) {}
            }
            body {
                a.skip href="#content" { "Skip to the content" }
                (banner(workbench, page.open))
                (mark_of_use(workbench))
                main #content tabindex="-1" { (body) }
                (footer(workbench, &page.twin))
            }
        }
    }
}

fn banner(workbench: &Workbench, open: &str) -> Markup {
    let entry = |link: &str, word: &str| {
        html! { a href=(link) aria-current=[(open == word).then_some("page")] { (word) } }
    };
    html! {
        header.banner {
            a.mark href="/" {
                (logo())
                span.name { "Isobar" }
            }
            p.book { span.quiet { "Benchbook " } (shown(&workbench.shown_name)) }
            nav aria-label="Benchbook" {
                (entry("/", "Cases"))
                (entry("/register", "Register"))
                (entry("/history", "Audit trail"))
                (entry("/safekeeping", "Safekeeping"))
                (entry("/people", "People"))
                button.plain.needs-script #keys type="button" { "Keys" }
                button.plain.needs-script #theme type="button" { "Light or dark" }
            }
            @if workbench.server.with_accounts { (who(workbench, open)) }
        }
    }
}

/// Whoever has signed in, and the way out.
fn who(workbench: &Workbench, open: &str) -> Markup {
    html! {
        div.who {
            @match &workbench.visitor.account {
                Some(account) => {
                    a href="/password" title="Your password"
                        aria-current=[(open == "Password").then_some("page")] { (shown(&account.name)) }
                    form method="post" action="/sign-out" {
                        (form_view::token(workbench))
                        button.plain type="submit" { "Sign out" }
                    }
                }
                None => { a href="/sign-in" { "Sign in" } }
            }
        }
    }
}

/// What a benchbook begun without accounts says on every page, and what is
/// said where the workbench can be reached from elsewhere.
fn mark_of_use(workbench: &Workbench) -> Markup {
    let front = &workbench.server.front;
    let why = &workbench.server.not_for_regulated_use;
    html! {
        @if why.is_some() || front.is_tls() {
            aside.mark-of-use aria-label="Use of this benchbook" {
                @if let Some(why) = why {
                    p { strong { "Not for regulated use" } ": " (shown(why)) }
                }
                @if front.is_tls() {
                    p {
                        "Reached from other machines as " (front.hosts().join(", "))
                        ", through a TLS front."
                    }
                }
            }
        }
    }
}

/// Lines of equal pressure.
fn logo() -> Markup {
    PreEscaped(
        "<svg class=\"logo\" viewBox=\"0 0 32 32\" width=\"28\" height=\"28\" aria-hidden=\"true\">\
         <g fill=\"none\" stroke=\"currentColor\" stroke-width=\"2\">\
         <path d=\"M3 17c1-8 8-13 15-12s12 7 11 13-7 11-14 10S2 24 3 17z\"/>\
         <path d=\"M8 17c1-5 5-8 9-7s8 4 7 8-5 6-9 6-8-3-7-7z\"/>\
         <path d=\"M13 17c1-2 2-3 4-2s3 2 2 3-2 2-4 2-2-1-2-3z\"/></g></svg>"
            .to_owned(),
    )
}

fn footer(workbench: &Workbench, twin: &str) -> Markup {
    html! {
        footer {
            p.cautions { (CAUTIONS) }
            p.quiet {
                "Isobar " (env!("CARGO_PKG_VERSION")) ", benchbook " (shown(&workbench.shown_name))
                ". Everything here is served by this machine. "
                a href=(twin) { "This page as JSON" }
            }
        }
    }
}

/// What a page of a case adds to the frame.
pub struct CasePage<'a> {
    /// The case.
    pub case: &'a Case,
    /// The step that is open.
    pub step: Step,
    /// Whether it has plots.
    pub has_plots: bool,
    /// Whether the ladder stands beside the content or below it.
    pub ladder_beside: bool,
}

/// A page of a case: path, question, content and ladder.
pub fn case_page(workbench: &Workbench, this: &CasePage<'_>, content: Markup) -> Markup {
    let input = &this.case.input;
    let part = path_view::part(this.step);
    let title = format!("{}: {}", this.step.word(), input.title);
    let ladder = this.case.ladder();
    let body = html! {
        @if input.invented {
            p.invented role="note" {
                strong { "Invented data." }
                " This case was made up to show the method: no figure is of a real product or \
                 instrument."
            }
        }
        div.case-head {
            p.case-id { (shown(&input.id)) }
            h1 { (shown(&input.title)) }
            p.case-question { (shown(&input.question)) }
        }
        (path_view::path(&input.id, this.step, this.case.next_step()))
        div.columns.beside[this.ladder_beside] {
            div.content {
                div.step-head {
                    h2.step-title { (this.step.word()) }
                    p.step-question { (this.step.question()) }
                }
                (content)
            }
            // The report carries the ladder itself.
            @if this.step != Step::Report { (ladder_view::aside(&ladder, &input.id)) }
        }
    };
    let page_facts = Page {
        title: &title,
        twin: format!("{}.json", address::of_case(&input.id, part)),
        has_plots: this.has_plots,
        open: "",
    };
    page(workbench, &page_facts, body)
}

/// A page that says what is missing or refused, and what to do.
pub fn refusal_page(
    workbench: &Workbench,
    title: &str,
    what: &str,
    next_step: &str,
    link: &str,
) -> Markup {
    let facts = Page { title, twin: "/benchbook.json".to_owned(), has_plots: false, open: "" };
    page(
        workbench,
        &facts,
        html! {
            div.empty {
                h1 { (title) }
                p { (shown(what)) "." }
                p.next { span { "Next" } " " a href=(link) { (shown(next_step)) } }
            }
        },
    )
}

/// A page that says why something that was sent was not taken, and gives back
/// what had been typed.
pub fn denial_page(
    workbench: &Workbench,
    what: &str,
    next_step: &str,
    link: &str,
    typed: &[(String, String)],
) -> Markup {
    let body = html! {
        div.empty {
            h1 { "Not done" }
            p { (shown(what)) "." }
            p.next { span { "Next" } " " a href=(link) { (shown(next_step)) } }
        }
        @if !typed.is_empty() {
            section aria-label="What you had typed" {
                h2 { "What you had typed" }
                p.quiet { "It was not kept in the benchbook. Copy it from here." }
                @for (index, (name, value)) in typed.iter().enumerate() {
                    div.field {
                        label for={ "typed-" (index) } { (shown(&name.replace('_', " "))) }
                        textarea readonly rows="2" id={ "typed-" (index) } { (value) }
                    }
                }
            }
        }
    };
    page(workbench, &Page::plain("Not done"), body)
}

/// The head of a page that belongs to no case: what it is, and what it is for.
pub fn page_head(title: &str, lead: &str) -> Markup {
    html! {
        div.page-head {
            h1 { (title) }
            p.lead { (lead) }
        }
    }
}

/// What a page says before there is anything to show.
pub fn not_yet(what: &str, why: &str, command: Option<&str>) -> Markup {
    html! {
        div.empty {
            h2 { (what) }
            p { (why) }
            @if let Some(command) = command {
                p.next { span { "Next" } " on the command line" }
                pre tabindex="0" { code { (shown(command)) } }
            }
        }
    }
}
