//! Each mutant against the tests that reach it, until one fails.

use crate::child::{self, Ended};
use crate::compile::Binary;
use crate::examples;
use crate::reach::Test;
use crate::rewrite::Mutant;
use crate::{Outcome, Places, append, workers};
use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, OpenOptions};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::Mutex;
use std::time::Instant;

/// Order in which the mutants are tried.
const SEED: u64 = 20_240_229;
/// Tests run by one call of a program: so many, of so many seconds together.
const TOGETHER: (usize, f64) = (25, 0.5);

/// Changes of whether an order takes its end in.
const ENDS: [&str; 4] = ["`<` to `<=`", "`<=` to `<`", "`>` to `>=`", "`>=` to `>`"];

/// What to try, and for how long.
pub struct Plan {
    /// Minutes after which no further mutant is begun.
    pub minutes: f64,
    /// Seconds of tests, by their plain times, that a mutant must live through to be a survivor.
    pub budget: f64,
    /// Only mutants whose keys hold this.
    pub only: String,
    /// Only these mutants.
    pub keys: Option<BTreeSet<String>>,
    /// So many of the order are left out: an earlier run had them.
    pub from: usize,
    /// Survivors again, under the tests that their verdict left out.
    pub again: bool,
    /// Not the ends of orders: of quantities that are never quite alike they mean nothing.
    pub no_ends: bool,
}

/// Verdict on a mutant, as written down.
pub struct Verdict {
    /// `killed`, `timed out` or `survived`.
    pub word: String,
    /// Tests that reach it.
    pub reaching: usize,
    /// Tests that were run.
    pub run: usize,
}

/// The last verdict on each mutant.
pub fn verdicts(places: &Places) -> BTreeMap<String, Verdict> {
    let text = fs::read_to_string(places.scratch.join("verdicts.tsv")).unwrap_or_default();
    let one = |line: &str| {
        let mut parts = line.split('\t');
        let (key, word) = (parts.next()?.to_string(), parts.next()?.to_string());
        let (run, reaching) = (parts.next()?.parse().ok()?, parts.next()?.parse().ok()?);
        Some((
            key,
            Verdict {
                word,
                reaching,
                run,
            },
        ))
    };
    text.lines().filter_map(one).collect()
}

/// Tries mutants in the order of the seed, two at a time.
pub fn run(
    places: &Places,
    mutants: &[Mutant],
    binaries: &[Binary],
    tests: &[Test],
    plan: &Plan,
) -> Outcome<()> {
    let began = Instant::now();
    let held = verdicts(places);
    let mut order: Vec<&Mutant> = mutants
        .iter()
        .filter(|m| m.key.contains(&plan.only))
        .collect();
    order.retain(|m| plan.keys.as_ref().is_none_or(|k| k.contains(&m.key)));
    order.retain(|m| match held.get(&m.key) {
        None => !plan.again,
        Some(verdict) => plan.again && verdict.word == "survived",
    });
    order.retain(|m| !(plan.no_ends && ENDS.iter().any(|e| m.key.ends_with(e))));
    order.sort_by_key(|m| {
        let mut hasher = DefaultHasher::new();
        (SEED, &m.key).hash(&mut hasher);
        hasher.finish()
    });
    let mut reaching: BTreeMap<u32, Vec<&Test>> = BTreeMap::new();
    for test in tests {
        for id in &test.reached {
            reaching.entry(*id).or_default().push(test);
        }
    }
    order.retain(|m| reaching.contains_key(&m.id));
    order.drain(..plan.from.min(order.len()));
    println!("{} mutants to try", order.len());
    let file = OpenOptions::new()
        .append(true)
        .create(true)
        .open(places.scratch.join("verdicts.tsv"))?;
    let file = Mutex::new(file);
    workers(&order, |worker, mutant| {
        if began.elapsed().as_secs_f64() > 60.0 * plan.minutes {
            return Ok(());
        }
        let out = places.scratch.join(format!("out-{worker}"));
        let start = Instant::now();
        let before = held.get(&mutant.key).map_or(0, |v| v.run);
        let tests = in_order(&mutant.key, &reaching[&mutant.id], binaries);
        let groups = groups(&tests[before.min(tests.len())..], binaries, plan.budget);
        let (mut word, mut by, mut ran) = ("survived", String::new(), before);
        for group in &groups {
            let names: Vec<&str> = group.iter().map(|t| t.name.as_str()).collect();
            let binary = &binaries[group[0].binary];
            let limit = 2.0 + 4.0 * group.iter().map(|t| t.seconds).sum::<f64>();
            let (ended, _) = child::run(
                binary,
                &names,
                ("MUTANT", &mutant.id.to_string()),
                limit,
                &out,
            )?;
            ran += group.len();
            (word, by) = match ended {
                Ended::Passed => continue,
                Ended::Failed(test) => ("killed", format!("{} {test}", binary.name)),
                Ended::TimedOut => ("timed out", format!("{} {}", binary.name, names[0])),
            };
            break;
        }
        let reaching = reaching[&mutant.id].len();
        let seconds = start.elapsed().as_secs_f64();
        let line = format!(
            "{}\t{word}\t{ran}\t{reaching}\t{seconds:.2}\t{by}\n",
            mutant.key
        );
        append(&file, &line)
    })?;
    Ok(())
}

/// Tests in the order they are tried: those of the mutant's own module, then the quickest.
fn in_order<'a>(key: &str, tests: &[&'a Test], binaries: &[Binary]) -> Vec<&'a Test> {
    let (package, module) = module(key);
    let near = |t: &Test| {
        let own = binaries[t.binary].name == format!("{package}/sealspan_{package}");
        own && t.name.starts_with(&format!("{module}::"))
    };
    let mut sorted = tests.to_vec();
    let place = |t: &Test| (!near(t), (t.seconds * 5.0) as u32, t.binary);
    sorted.sort_by(|a, b| {
        place(a)
            .cmp(&place(b))
            .then(a.seconds.total_cmp(&b.seconds))
    });
    sorted
}

/// Tests run by one call of a program each, as far as the budget goes.
fn groups<'a>(tests: &[&'a Test], binaries: &[Binary], budget: f64) -> Vec<Vec<&'a Test>> {
    let mut groups: Vec<Vec<&Test>> = vec![];
    let (mut spent, mut together) = (0.0, 0.0);
    for &test in tests {
        if spent + test.seconds > budget {
            break;
        }
        spent += test.seconds;
        match groups.last_mut() {
            Some(group)
                if group[0].binary == test.binary
                    && !examples::holds(&binaries[test.binary])
                    && group.len() < TOGETHER.0
                    && together + test.seconds < TOGETHER.1 =>
            {
                group.push(test);
                together += test.seconds;
            }
            _ => {
                groups.push(vec![test]);
                together = test.seconds;
            }
        }
    }
    groups
}

/// Crate and module of a mutant's file: `life` and `laws::weibull`.
fn module(key: &str) -> (String, String) {
    let file = key.split(".rs:").next().unwrap_or_default();
    let mut parts = file.split('/').skip(1);
    let package = parts.next().unwrap_or_default().to_string();
    let inner: Vec<&str> = parts
        .skip(1)
        .filter(|p| *p != "mod" && *p != "lib")
        .collect();
    (package, inner.join("::"))
}
