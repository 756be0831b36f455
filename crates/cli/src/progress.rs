//! A sign of life on long work, on standard error and only on a terminal.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::borrow::Cow;
use std::time::Duration;

/// Shows `doing` while the value lives.
pub struct Progress(ProgressBar);

impl Progress {
    /// Begins; quiet when standard error is not a terminal.
    pub fn start(doing: impl Into<Cow<'static, str>>) -> Self {
        let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr());
        if let Ok(style) = ProgressStyle::with_template("{spinner} {msg} ({elapsed})") {
            bar.set_style(style);
        }
        bar.set_message(doing);
        bar.enable_steady_tick(Duration::from_millis(120));
        Self(bar)
    }

    /// Says what is done now.
    pub fn now(&self, doing: impl Into<Cow<'static, str>>) {
        self.0.set_message(doing);
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}
