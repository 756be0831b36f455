//! The rewriting, by its text and by what the compiler and a run make of it.

use crate::rewrite::{Mutant, Rewriter};
use std::collections::BTreeSet;
use std::process::Command;

const SWITCH: &str = "mod switch { pub fn on(id: u32) -> bool { std::env::var(\"MUTANT\").is_ok_and(|m| m == id.to_string()) } }\n";

fn rewritten(text: &str) -> (String, Vec<Mutant>) {
    let dropped = BTreeSet::new();
    let mut rewriter = Rewriter::new(&dropped);
    let text = rewriter.file("a.rs", text).unwrap();
    (text, rewriter.made)
}

fn keys(text: &str) -> Vec<String> {
    rewritten(text).1.into_iter().map(|m| m.key).collect()
}

/// What a program prints plain, and with each of its mutants.
fn printed(name: &str, function: &str, main: &str) -> Vec<(String, String)> {
    let (text, made) = rewritten(function);
    let folder = std::env::temp_dir().join(format!("mutation-{name}-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(
        folder.join("a.rs"),
        format!("#![allow(warnings)]\n{SWITCH}{text}\nfn main() {{ {main} }}"),
    )
    .unwrap();
    let built = Command::new("rustc")
        .args(["--edition", "2024", "a.rs"])
        .current_dir(&folder)
        .status()
        .unwrap();
    assert!(built.success(), "{text}");
    let run = |id: u32| {
        let out = Command::new(folder.join("a"))
            .env("MUTANT", id.to_string())
            .output()
            .unwrap();
        String::from_utf8(out.stdout).unwrap().trim().to_string()
    };
    let mut all = vec![(String::from("plain"), run(0))];
    all.extend(
        made.iter()
            .map(|m| (m.key.split_once(' ').unwrap().1.to_string(), run(m.id))),
    );
    std::fs::remove_dir_all(folder).unwrap();
    sorted(all)
}

fn sorted(mut pairs: Vec<(String, String)>) -> Vec<(String, String)> {
    pairs.sort();
    pairs
}

fn strings(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
    pairs
        .iter()
        .map(|(a, b)| (a.to_string(), b.to_string()))
        .collect()
}

#[test]
fn arithmetic_is_swapped_operator_by_operator() {
    let function = "fn f(a: f64, b: f64) -> f64 { let mut s = -a; s *= b; s + a / b }";
    let want = [
        ("plain", "-16"),
        ("`f` gives 0.0", "0"),
        ("`f` gives 1.0", "1"),
        ("`-` left out", "20"),
        ("`*=` to `/=`", "0"),
        ("`+` to `-`", "-20"),
        ("`/` to `*`", "0"),
    ];
    assert_eq!(
        printed("arithmetic", function, "print!(\"{}\", f(6.0, 3.0))"),
        sorted(strings(&want))
    );
}

#[test]
fn a_swapped_connective_stays_lazy() {
    // The right side prints, so that one sees whether it was asked.
    let function = "fn f(a: bool, b: impl Fn() -> bool) -> bool { a && b() }";
    let main = "for a in [false, true] { print!(\"{} \", f(a, || { print!(\"b\"); false })) }";
    let found = printed("lazy", function, main);
    let of = |name: &str| found.iter().find(|f| f.0 == name).map(|f| f.1.as_str());
    assert_eq!(
        (of("plain"), of("`&&` to `||`")),
        (Some("false bfalse"), Some("bfalse true"))
    );
}

#[test]
fn an_order_is_swapped_for_its_other_end_and_for_its_opposite() {
    let found = printed(
        "order",
        "fn f(a: i32) -> &'static str { if a < 2 { \"y\" } else { \"n\" } }",
        "for a in [1, 2, 3] { print!(\"{}\", f(a)) }",
    );
    let want = [
        ("plain", "ynn"),
        ("`f` gives \"\"", ""),
        ("`<` to `<=`", "yyn"),
        ("`<` to `>=`", "nyy"),
    ];
    assert_eq!(found, sorted(strings(&want)));
}

#[test]
fn conditions_and_guards_are_negated_but_not_let_chains() {
    let text = "fn f(a: Option<u8>, b: bool) { if b {} if let Some(1) = a && b {} match a { Some(_) if b => {} _ => {} } }";
    let mut found = keys(text);
    found.sort();
    assert_eq!(
        found,
        [
            "a.rs:1:35 condition negated",
            "a.rs:1:4 `f` gives ()",
            "a.rs:1:88 guard negated"
        ]
    );
}

#[test]
fn constants_tests_and_macros_are_left_alone() {
    let text = "const A: usize = 1 + 2; static B: u8 = 1 + 2; const fn c() -> u8 { 1 + 2 }
        #[cfg(test)] mod tests { fn f() -> u8 { 1 + 2 } } #[test] fn t() { 1 + 2; }
        enum E { V = 1 + 2 } impl E { const D: u8 = 1 + 2; }";
    assert_eq!(keys(text), Vec::<String>::new());
    assert_eq!(keys("fn f(a: u8) -> [u8; 1 + 1] { assert!(a < 1 + 1); const G: u8 = 1 + 1; let g: [u8; 1 + 1] = [a; 1 + 1]; g }").len(), 1);
}

#[test]
fn a_mutant_left_out_keeps_the_numbers_of_the_others() {
    let text = "fn f(a: u8) { a + a; a * a; }";
    let all = rewritten(text).1;
    let dropped: BTreeSet<String> = all
        .iter()
        .filter(|m| m.key.contains("`+`"))
        .map(|m| m.key.clone())
        .collect();
    let mut rewriter = Rewriter::new(&dropped);
    rewriter.file("a.rs", text).unwrap();
    assert_eq!(all.len(), 3);
    assert_eq!(rewriter.made, [all[0].clone(), all[2].clone()]);
}
