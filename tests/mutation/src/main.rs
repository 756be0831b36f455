//! Mutation testing of the crates `life` and `care` with all mutants in one build.
//!
//! `build` copies the workspace, writes every mutant into the copy and builds its tests; `record` notes which tests reach
//! which mutants; `run` tries the mutants; `table` prints what came out. See DEVELOPERS.md.

mod child;
mod compile;
mod copy;
mod examples;
mod heads;
mod reach;
mod rewrite;
mod run;
mod table;
#[cfg(test)]
mod tests;

use rewrite::Mutant;
use std::collections::BTreeSet;
use std::error::Error;
use std::fs;
use std::path::PathBuf;
use std::sync::Mutex;
use std::thread;

/// What may fail for any reason.
pub type Outcome<T> = Result<T, Box<dyn Error + Send + Sync>>;

const USAGE: &str = "mutation build|record|run|table SCRATCH [--minutes N] [--budget SECONDS] [--longest SECONDS] [--only TEXT] [--keys FILE] [--from N] [--again] [--no-ends]";
/// Mutants tried at a time.
const WORKERS: usize = 2;

/// Folders.
pub struct Places {
    /// The workspace.
    pub top: PathBuf,
    /// What is written.
    pub scratch: PathBuf,
    /// Where cargo builds.
    pub target: PathBuf,
}

impl Places {
    /// The copy of the workspace.
    pub fn copy(&self) -> PathBuf {
        self.scratch.join("copy")
    }
}

fn main() -> Outcome<()> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let option = |name: &str| {
        words
            .iter()
            .position(|w| w == name)
            .and_then(|i| words.get(i + 1))
    };
    let [command, scratch, ..] = words.as_slice() else {
        return Err(USAGE.into());
    };
    let only = option("--only").cloned().unwrap_or_default();
    let top = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("../..")
        .canonicalize()?;
    let target = std::env::var_os("CARGO_TARGET_DIR").map_or(top.join("target"), PathBuf::from);
    fs::create_dir_all(scratch)?;
    let places = Places {
        top,
        scratch: PathBuf::from(scratch).canonicalize()?,
        target,
    };
    let number = |name, plain| option(name).map_or(Ok(plain), |v| v.parse::<f64>());
    match command.as_str() {
        "build" => {
            let (made, binaries) = compile::compile(&places)?;
            write_built(&places, &made, &binaries)?;
        }
        "record" => {
            let longest = number("--longest", 4.0)?;
            reach::record(&places, &read_built(&places)?.1, &only, longest)?;
        }
        "run" => {
            let (made, binaries) = read_built(&places)?;
            let tests = reach::read(&places, &binaries)?;
            let keys = option("--keys").map(fs::read_to_string).transpose()?;
            let plan = run::Plan {
                minutes: number("--minutes", 60.0)?,
                budget: number("--budget", 10.0)?,
                only,
                keys: keys.map(|k| k.lines().map(String::from).collect()),
                from: number("--from", 0.0)? as usize,
                again: words.iter().any(|w| w == "--again"),
                no_ends: words.iter().any(|w| w == "--no-ends"),
            };
            run::run(&places, &made, &binaries, &tests, &plan)?;
        }
        "table" => {
            let (made, binaries) = read_built(&places)?;
            let tests = reach::read(&places, &binaries)?;
            let dropped =
                fs::read_to_string(places.scratch.join("dropped.txt")).unwrap_or_default();
            let dropped: BTreeSet<String> = dropped.lines().map(String::from).collect();
            let (table, survivors) = table::table(&made, &dropped, &tests, &run::verdicts(&places));
            println!("{table}\n{}", survivors.join("\n"));
        }
        _ => return Err(USAGE.into()),
    }
    Ok(())
}

fn write_built(places: &Places, made: &[Mutant], binaries: &[compile::Binary]) -> Outcome<()> {
    let lines: String = made
        .iter()
        .map(|m| format!("{}\t{}\n", m.id, m.key))
        .collect();
    fs::write(places.scratch.join("mutants.tsv"), lines)?;
    let line =
        |b: &compile::Binary| format!("{}\t{}\t{}\n", b.name, b.path.display(), b.folder.display());
    let lines: String = binaries.iter().map(line).collect();
    Ok(fs::write(places.scratch.join("programs.tsv"), lines)?)
}

fn read_built(places: &Places) -> Outcome<(Vec<Mutant>, Vec<compile::Binary>)> {
    let made = fs::read_to_string(places.scratch.join("mutants.tsv"))?;
    let mutant = |line: &str| {
        let (id, key) = line.split_once('\t')?;
        Some(Mutant {
            key: key.to_string(),
            id: id.parse().ok()?,
        })
    };
    let programs = fs::read_to_string(places.scratch.join("programs.tsv"))?;
    let program = |line: &str| {
        let mut parts = line.split('\t');
        let (name, path, folder) = (
            parts.next()?.to_string(),
            parts.next()?.into(),
            parts.next()?.into(),
        );
        Some(compile::Binary { name, path, folder })
    };
    Ok((
        made.lines().filter_map(mutant).collect(),
        programs.lines().filter_map(program).collect(),
    ))
}

/// Adds a line to a file that several workers write to.
pub fn append(file: &std::sync::Mutex<std::fs::File>, line: &str) -> Outcome<()> {
    use std::io::Write;
    let mut file = file.lock().map_err(|_| "a worker stopped")?;
    Ok(file.write_all(line.as_bytes())?)
}

/// Works through a list on [`WORKERS`] threads; results in the order of the list.
pub fn workers<I: Sync, O: Send>(
    items: &[I],
    work: impl Fn(usize, &I) -> Outcome<O> + Sync,
) -> Outcome<Vec<O>> {
    let queue = Mutex::new(items.iter().enumerate());
    let done = Mutex::new(vec![]);
    let one = |worker: usize| -> Outcome<()> {
        loop {
            let next = queue.lock().map_err(|_| "a worker stopped")?.next();
            let Some((index, item)) = next else {
                return Ok(());
            };
            let result = work(worker, item)?;
            done.lock()
                .map_err(|_| "a worker stopped")?
                .push((index, result));
        }
    };
    thread::scope(|scope| {
        let handles: Vec<_> = (0..WORKERS).map(|w| scope.spawn(move || one(w))).collect();
        handles
            .into_iter()
            .try_for_each(|h| h.join().map_err(|_| "a worker stopped")?)
    })?;
    let mut done = done.into_inner().map_err(|_| "a worker stopped")?;
    done.sort_by_key(|(index, _)| *index);
    Ok(done.into_iter().map(|(_, result)| result).collect())
}
