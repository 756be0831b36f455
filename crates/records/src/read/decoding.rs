//! The decoders of others, which may panic on damaged files: that is news for the user, not a crash.

use crate::error::Error;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicUsize, Ordering};

/// How many decoders are at work.
static AT_WORK: AtomicUsize = AtomicUsize::new(0);

/// Whether a file is being decoded on any thread of the process. A panic of a decoder is caught, and the file refused
/// as damaged: a program may leave out the message that such a panic would print.
///
/// ```
/// assert!(!sealspan_records::decoding());
/// ```
pub fn decoding() -> bool {
    AT_WORK.load(Ordering::SeqCst) > 0
}

/// What a decoder gives, or the error given for a file on which it panics.
pub(crate) fn decode<T>(
    work: impl FnOnce() -> Result<T, Error>,
    damaged: impl FnOnce() -> Error,
) -> Result<T, Error> {
    AT_WORK.fetch_add(1, Ordering::SeqCst);
    let result = catch_unwind(AssertUnwindSafe(work));
    AT_WORK.fetch_sub(1, Ordering::SeqCst);
    result.unwrap_or_else(|_| Err(damaged()))
}
