//! Folders of a test's own, invented records, and the program as a child process.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::os::fd::AsRawFd as _;
use std::os::unix::fs::{MetadataExt as _, PermissionsExt as _};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};

/// The program.
pub const PROGRAM: &str = env!("CARGO_BIN_EXE_sealspan-under-test");
/// A user who owns nothing here.
const NOBODY: u32 = 65_534;

/// A folder of one test's own, removed at the end.
pub struct Folder(pub PathBuf);

static NEXT: AtomicU32 = AtomicU32::new(0);

impl Folder {
    pub fn new() -> Self {
        let name = format!(
            "sealspan-faults-{}-{}",
            std::process::id(),
            NEXT.fetch_add(1, Ordering::Relaxed)
        );
        let path = std::env::temp_dir().join(name);
        fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    pub fn put(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.0.join(name);
        fs::write(&path, bytes).unwrap();
        path
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::set_permissions(&self.0, fs::Permissions::from_mode(0o755));
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// Invented lives of two materials; another `shift`, another answer.
pub fn lives(shift: u32) -> String {
    let mut text = "material,time,status\n".to_owned();
    for at in 0..30_u32 {
        let status = if at % 3 == 0 { "running" } else { "failed" };
        let _ = writeln!(text, "EPDM,{},{status}", 300 + 11 * at + shift);
        let _ = writeln!(text, "FKM,{},{status}", 200 + 17 * at + shift);
    }
    text
}

/// `compare FILE --by material --out OUT`, which writes a folder of figures, tables and results.
pub fn compare(file: &Path, out: &Path) -> Vec<String> {
    let text = |p: &Path| p.to_str().unwrap().to_owned();
    let words = ["compare", "--by", "material", "--out"].map(str::to_owned);
    words.into_iter().chain([text(out), text(file)]).collect()
}

/// Runs the program.
pub fn run(args: &[String]) -> Output {
    Command::new(PROGRAM).args(args).output().unwrap()
}

/// Runs the program from a shell that first runs `before`, such as a limit.
pub fn run_after(before: &str, args: &[String]) -> Output {
    Command::new("bash")
        .arg("-c")
        .arg(format!("{before}; exec \"$0\" \"$@\""))
        .arg(PROGRAM)
        .args(args)
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

/// Runs the program as somebody who has no rights of an administrator.
pub fn run_as_nobody(args: &[String]) -> Output {
    use std::os::unix::process::CommandExt as _;
    if !is_root() {
        return run(args);
    }
    // The build folder may be closed to others: the file is opened by who may, and run by its descriptor. A copy of a
    // program of 300 MB would fill a small disk.
    let program = fs::File::open(PROGRAM).unwrap();
    Command::new(format!("/proc/self/fd/{}", program.as_raw_fd()))
        .args(args)
        .current_dir("/")
        .uid(NOBODY)
        .gid(NOBODY)
        .output()
        .unwrap()
}

/// Whether this process may write where nobody may.
pub fn is_root() -> bool {
    let folder = Folder::new();
    fs::metadata(&folder.0).unwrap().uid() == 0
}

/// What a run said on standard error.
pub fn words(output: &Output) -> String {
    let text = String::from_utf8(output.stderr.clone()).unwrap();
    assert!(!text.contains("panicked"), "{text}");
    text
}

/// Asserts that a run refused in words that hold each of `parts`.
pub fn refused(output: &Output, parts: &[&str]) {
    let text = words(output);
    assert_eq!(output.status.code(), Some(2), "{text}");
    for part in parts {
        assert!(text.contains(part), "{part}: {text}");
    }
    assert!(text.contains("\nmend: "), "{text}");
}

/// Asserts that a run answered.
pub fn answered(output: &Output) {
    assert_eq!(output.status.code(), Some(0), "{}", words(output));
}

/// Every file below a folder, with its content.
pub fn tree(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut left = vec![folder.to_path_buf()];
    while let Some(next) = left.pop() {
        for entry in fs::read_dir(&next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                left.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().to_path_buf();
                found.insert(name, fs::read(&path).unwrap());
            }
        }
    }
    found
}

/// Names in a folder.
pub fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<String> = entries
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

/// An output folder with the answer to old records in it, new records, and what the folder holds with either.
pub struct Scene {
    pub folder: Folder,
    pub out: PathBuf,
    pub fresh: PathBuf,
    pub old: BTreeMap<PathBuf, Vec<u8>>,
    pub new: BTreeMap<PathBuf, Vec<u8>>,
}

impl Scene {
    pub fn set() -> Self {
        let folder = Folder::new();
        let out = folder.0.join("out");
        let fresh = folder.put("fresh.csv", lives(40));
        let first = folder.put("first.csv", lives(0));
        answered(&run(&compare(&fresh, &out)));
        let new = tree(&out);
        answered(&run(&compare(&first, &out)));
        let old = tree(&out);
        assert!(old != new && old.len() > 4 && old.contains_key(Path::new("stamp.json")));
        Self {
            folder,
            out,
            fresh,
            old,
            new,
        }
    }

    /// Puts the old folder back.
    pub fn reset(&self) {
        answered(&run(&compare(&self.folder.0.join("first.csv"), &self.out)));
        assert!(tree(&self.out) == self.old);
    }

    /// Asserts that the folder is the old one or the new one, whole.
    pub fn is_whole(&self) {
        let now = tree(&self.out);
        assert!(
            now == self.old || now == self.new,
            "neither old nor new: {:?}",
            now.keys()
        );
    }

    /// Asserts that the next run succeeds and leaves nothing but its folder behind.
    pub fn mends_itself(&self) {
        answered(&run(&compare(&self.fresh, &self.out)));
        assert!(tree(&self.out) == self.new);
        assert_eq!(names(&self.folder.0), ["first.csv", "fresh.csv", "out"]);
    }
}
