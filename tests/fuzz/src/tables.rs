//! Tables: text, Parquet, workbooks.

use super::sheets;
use sealspan_records::{Clock, LoadOptions, Question, Records, ask, load};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

/// A table of text.
pub fn csv(bytes: &[u8]) {
    table(bytes);
}

/// A Parquet table; the mark at its beginning is put there where it is missing.
pub fn parquet(bytes: &[u8]) {
    const MARK: &[u8] = b"PAR1";
    if bytes.starts_with(MARK) {
        table(bytes);
    } else {
        table(&[MARK, bytes].concat());
    }
}

/// A workbook, or the rows of its only sheet.
pub fn xlsx(bytes: &[u8]) {
    if bytes.starts_with(b"PK\x03\x04") {
        table(bytes);
    } else {
        table(&sheets::around(bytes));
    }
}

fn table(bytes: &[u8]) {
    let file = Scratch::new("table");
    std::fs::write(&file.0, bytes).unwrap();
    read(&file.0);
}

/// A path of this call's own, in memory where the system has such a place.
pub(super) struct Scratch(pub(super) PathBuf);

static NEXT: AtomicU64 = AtomicU64::new(0);

impl Scratch {
    pub(super) fn new(name: &str) -> Self {
        let memory = Path::new("/dev/shm");
        let folder = if memory.is_dir() {
            memory.to_path_buf()
        } else {
            std::env::temp_dir()
        };
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        Self(folder.join(format!(
            "sealspan-fuzz-{}-{number}-{name}",
            std::process::id()
        )))
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = std::fs::remove_file(&self.0);
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// Reads what may be records, and asks of them whatever can be asked.
pub(super) fn read(path: &Path) {
    // The decoders of Parquet and XLSX may panic within: the readers catch that and say the file is damaged.
    let hook = std::panic::take_hook();
    std::panic::set_hook(Box::new(|_| {}));
    let loaded = load(path, &LoadOptions::default());
    std::panic::set_hook(hook);
    match loaded {
        Ok(records) => asked(&records),
        Err(error) => assert!(!error.message().is_empty() && !error.mend().is_empty()),
    }
}

fn asked(records: &Records) {
    assert_eq!(
        records.rows_read,
        records.rows_used() + records.set_aside.len() as u64
    );
    let columns: Vec<String> = records.columns().into_iter().take(2).collect();
    for clock in [Clock::Days, Clock::Hours, Clock::Cycles] {
        for by in [vec![], columns.clone()] {
            let question = Question {
                by,
                clock,
                mode: None,
            };
            let Ok(answer) = ask(records, &question) else {
                continue;
            };
            let aside = answer.set_aside.len() as u64;
            assert_eq!(records.rows_read, answer.rows_used + aside);
            for row in answer.groups.iter().flat_map(|g| g.sample.rows()) {
                assert!(row.last().is_finite() && row.entry().is_finite());
                assert!(row.count().is_finite() && row.entry() <= row.last());
            }
        }
    }
}
