//! One file, opened once: what is decoded, counted and hashed are the same bytes.

use super::{Input, cannot};
use crate::error::{Error, Kind};
use crate::load::Progress;
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::time::SystemTime;

/// As much of a file as is read at once, in bytes, after the first piece.
const PIECE: usize = 8 << 20;
/// The first piece, in bytes: enough to see that it is a table.
const FIRST: usize = 1 << 20;
/// Bytes read to know the format by.
const HEAD: u64 = 4096;

/// An open file, and its first bytes.
pub(crate) struct Opened {
    file: File,
    head: Vec<u8>,
    /// Size and time of the last change when it was opened; none for what is no plain file.
    before: Option<(u64, Option<SystemTime>)>,
}

/// The content of a file.
pub(crate) struct Content {
    pub(crate) bytes: Vec<u8>,
    /// SHA-256 of the bytes, in hexadecimal.
    pub(crate) sha256: String,
}

impl Opened {
    /// Opens a file far enough to know that it is a file, and to see its first bytes.
    pub(crate) fn open(path: &Path) -> Result<Self, Error> {
        let file = File::open(path).map_err(|e| cannot(path, &e))?;
        let meta = file.metadata().map_err(|e| cannot(path, &e))?;
        if meta.is_dir() {
            return Err(Error::new(
                Kind::Directory,
                "this is a folder, not a file",
                "name the file inside it: a study file, or a table (CSV, Parquet, XLSX); a folder of Parquet files \
                 is read by fit, compare, intervals and forecast",
            )
            .in_file(path));
        }
        let mut head = Vec::with_capacity(HEAD as usize);
        (&file)
            .take(HEAD)
            .read_to_end(&mut head)
            .map_err(|e| cannot(path, &e))?;
        if head.is_empty() {
            return Err(Error::new(
                Kind::Empty,
                "the file is empty",
                "export the records again, with a header line and one line for each seal",
            )
            .in_file(path));
        }
        let before = meta.is_file().then(|| (meta.len(), meta.modified().ok()));
        Ok(Self { file, head, before })
    }

    /// The first bytes.
    pub(crate) fn head(&self) -> &[u8] {
        &self.head
    }

    /// The size when it was opened, in bytes; 0 where it is not known (a pipe).
    pub(crate) fn size(&self) -> u64 {
        self.before.map_or(0, |(size, _)| size)
    }

    /// Reads the whole, piece by piece: `look` sees everything read so far and where the newest
    /// piece begins, and may refuse it.
    pub(crate) fn content(
        self,
        input: &Input<'_>,
        mut look: impl FnMut(&[u8], usize) -> Result<(), Error>,
    ) -> Result<Content, Error> {
        let size = self.size();
        let Self {
            mut file,
            head,
            before,
        } = self;
        let mut hash = Sha256::new();
        hash.update(&head);
        let mut all = head;
        let mut from = 0;
        loop {
            (input.progress)(Progress {
                stage: "reading",
                done: all.len() as u64,
                total: size,
            });
            let start = all.len();
            let want = if from == 0 { FIRST } else { PIECE };
            // The first piece has shown that it is a table before the rest gets its room.
            let rest = usize::try_from(size).unwrap_or(0).saturating_sub(start);
            all.reserve(if from == 0 { want } else { want.max(rest) });
            let got = (&mut file)
                .take(want as u64)
                .read_to_end(&mut all)
                .map_err(|e| cannot(input.path, &e))?;
            hash.update(all.get(start..).unwrap_or_default());
            look(&all, from)?;
            from = all.len();
            if got < want {
                break;
            }
        }
        if let Some(before) = before {
            unchanged(input, &file, before, all.len() as u64)?;
        }
        let sha256 = hash.finalize().iter().map(|b| format!("{b:02x}")).collect();
        Ok(Content { bytes: all, sha256 })
    }

    /// Reads the whole without a look on the way.
    pub(crate) fn all(self, input: &Input<'_>) -> Result<Content, Error> {
        self.content(input, |_, _| Ok(()))
    }
}

/// Refuses a file that somebody wrote to meanwhile: half of it would be old and half new.
fn unchanged(
    input: &Input<'_>,
    file: &File,
    before: (u64, Option<SystemTime>),
    read: u64,
) -> Result<(), Error> {
    let meta = file.metadata().map_err(|e| cannot(input.path, &e))?;
    let after = (meta.len(), meta.modified().ok());
    if after == before && read == before.0 {
        return Ok(());
    }
    Err(Error::new(
        Kind::Changed,
        "the file changed while it was being read",
        "wait until whatever writes it is done, then run the command again; or copy it and read the copy",
    )
    .in_file(input.path))
}
