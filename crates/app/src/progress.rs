//! Progress on long work: a bar on standard error where that is a terminal.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// A bar for `total` parts; hidden where standard error is not a terminal.
pub fn bar(label: &str, total: usize) -> ProgressBar {
    let bar = ProgressBar::with_draw_target(Some(total as u64), ProgressDrawTarget::stderr());
    let style = ProgressStyle::with_template("{msg:<34} [{bar:30}] {pos}/{len} {elapsed}")
        .unwrap_or_else(|_| ProgressStyle::default_bar())
        .progress_chars("=> ");
    bar.set_style(style);
    bar.set_message(label.to_owned());
    bar
}
