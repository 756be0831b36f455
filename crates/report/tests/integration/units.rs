//! Every number of the demo's `results.json` has a unit by the rules of `src/wire/units.md`.

use serde_json::{Map, Value};
use std::collections::BTreeSet;

/// What has its unit from a `unit` beside it, in an object that has a `name` too.
const ESTIMATES: [&str; 5] = ["estimate", "value", "lower", "upper", "std_error"];

/// An entry of the list: the end of a path, and its unit.
struct Entry<'a> {
    path: Vec<&'a str>,
    name: &'a str,
    unit: &'a str,
}

fn listed(text: &str) -> Vec<Entry<'_>> {
    let lines = text.lines().filter_map(|l| l.strip_prefix("- **"));
    lines
        .flat_map(|line| {
            let (unit, names) = line.split_once("**: ").unwrap();
            names.split('`').skip(1).step_by(2).map(move |name| Entry {
                path: name.split('.').collect(),
                name,
                unit,
            })
        })
        .collect()
}

fn fits(pattern: &str, key: &str) -> bool {
    match (pattern.strip_prefix('*'), pattern.strip_suffix('*')) {
        (Some(end), _) => key.ends_with(end),
        (_, Some(start)) => key.starts_with(start),
        _ => pattern == key,
    }
}

/// The longest entry that the path ends with; of two as long the one with fewer `*`.
fn longest<'a>(list: &'a [Entry<'a>], path: &[&str]) -> Option<&'a Entry<'a>> {
    let ends = |e: &&Entry| {
        let mut pairs = e.path.iter().rev().zip(path.iter().rev());
        e.path.len() <= path.len() && pairs.all(|(p, k)| fits(p, k))
    };
    let plain = |e: &Entry| e.path.iter().filter(|p| !p.contains('*')).count();
    list.iter()
        .filter(ends)
        .max_by_key(|e| (e.path.len(), plain(e)))
}

fn of<'a>(list: &'a [Entry<'a>], path: &[&str]) -> Option<&'a Entry<'a>> {
    let (last, above) = path.split_last()?;
    longest(list, path).or_else(|| {
        if ESTIMATES.contains(last) {
            return of(list, above);
        }
        let base = ["_lower", "_upper"]
            .iter()
            .find_map(|e| last.strip_suffix(e))?;
        of(list, &[above, &[base]].concat())
    })
}

struct Walk<'a> {
    list: &'a [Entry<'a>],
    used: BTreeSet<&'a str>,
    without: BTreeSet<String>,
    numbers: usize,
}

impl Walk<'_> {
    fn go<'v>(
        &mut self,
        value: &'v Value,
        path: &mut Vec<&'v str>,
        around: &[&'v Map<String, Value>],
    ) {
        match value {
            Value::Object(map) => {
                let around = [around, &[map]].concat();
                for (key, value) in map {
                    path.push(key);
                    self.go(value, path, &around);
                    path.pop();
                }
            }
            Value::Array(list) => list.iter().for_each(|v| self.go(v, path, around)),
            Value::Number(_) => {
                self.numbers += 1;
                if !self.known(path, around) {
                    self.without.insert(path.join("."));
                }
            }
            _ => {}
        }
    }

    fn known(&mut self, path: &[&str], around: &[&Map<String, Value>]) -> bool {
        let robust = path.len() > 1 && path[path.len() - 2] == "robust";
        let mut holders = around.iter().rev().skip(usize::from(robust));
        let beside = |o: &Map<String, Value>| {
            let parameter = path.len() > 1 && path[path.len() - 2] == "parameters";
            o.contains_key("name") && (parameter || o.contains_key("unit"))
        };
        if ESTIMATES.contains(path.last().unwrap()) && holders.next().is_some_and(|o| beside(o)) {
            return true;
        }
        let Some(entry) = of(self.list, path) else {
            return false;
        };
        self.used.insert(entry.name);
        let said = |key: &str| {
            around
                .iter()
                .any(|o| o.get(key).is_some_and(Value::is_string))
        };
        (!entry.unit.contains("the clock") || said("unit"))
            && (!entry.unit.contains("money") || said("currency"))
    }
}

fn walked<'a>(list: &'a [Entry<'a>], document: &Value) -> Walk<'a> {
    let mut walk = Walk {
        list,
        used: BTreeSet::new(),
        without: BTreeSet::new(),
        numbers: 0,
    };
    walk.go(document, &mut vec![], &[]);
    walk
}

#[test]
fn every_number_of_the_demo_has_a_unit() {
    let file = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../notebooks-out/harrow-lane/results.json"
    );
    let document: Value = serde_json::from_str(&std::fs::read_to_string(file).unwrap()).unwrap();
    let list = listed(include_str!("../../src/wire/units.md"));
    let walk = walked(&list, &document);
    assert!(walk.numbers > 10_000, "{}", walk.numbers);
    assert!(
        walk.without.is_empty(),
        "without a unit: {:#?}",
        walk.without
    );
    let idle: Vec<_> = list
        .iter()
        .map(|e| e.name)
        .filter(|n| !walk.used.contains(n))
        .collect();
    assert!(idle.is_empty(), "listed and nowhere found: {idle:?}");
    let names: BTreeSet<_> = list.iter().map(|e| e.name).collect();
    assert_eq!(names.len(), list.len(), "listed twice");
}

/// A number of a name that nothing explains is found, and one in a clock that nothing names.
#[test]
fn a_number_without_a_unit_is_found() {
    let list = listed(include_str!("../../src/wire/units.md"));
    let bad = serde_json::json!({
        "group": { "wobble": 3.0, "p_value": 0.1, "mean_life": { "estimate": 5.0 } },
        "named": { "unit": "days", "mean_life": { "estimate": 5.0, "upper": 6.0 } }
    });
    let found = walked(&list, &bad).without;
    let expected = ["group.mean_life.estimate", "group.wobble"];
    assert_eq!(
        found.iter().map(String::as_str).collect::<Vec<_>>(),
        expected
    );
}
