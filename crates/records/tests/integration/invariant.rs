//! However bent the input: no panic, and rows read are rows used plus rows set aside.

use crate::common::{Folder, balanced, options};
use sealspan_records::{Clock, Question, Records, ask, load};

/// A small generator of its own (xorshift), so that every run is the same.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % sides as u64) as usize
    }

    fn of<'a>(&mut self, list: &[&'a str]) -> &'a str {
        list[self.roll(list.len())]
    }
}

const DATES: &[&str] = &[
    "2023-01-05",
    "2023-06-30",
    "2024-02-29",
    "2024-03",
    "2023-Q4",
    "2022",
    "",
    "2024-12-31",
    "2023-02-30",
    "soon",
    "2031-01-01",
    "31.12.2023",
    "45292",
];
const OUTCOMES: &[&str] = &[
    "failed",
    "worn",
    "preventive",
    "",
    "",
    "in service",
    "lost",
    "unknown",
];
const NUMBERS: &[&str] = &["", "", "100", "250.5", "-3", "nan", "1e9", "x", "0"];
const NAMES: &[&str] = &["A", "B", "C", "", "\"quoted, name\"", "D"];

fn ask_everything(records: &Records) -> usize {
    let mut answered = 0;
    for clock in [Clock::Days, Clock::Hours, Clock::Cycles] {
        for mode in [None, Some("worn"), Some("cracked"), Some("preventive")] {
            for by in [vec![], vec!["asset".to_owned()], vec!["status".to_owned()]] {
                let question = Question {
                    by,
                    clock,
                    mode: mode.map(str::to_owned),
                };
                if let Ok(answer) = ask(records, &question) {
                    balanced(records, &answer);
                    assert!(answer.groups.windows(2).all(|w| w[0].key != w[1].key));
                    answered += 1;
                }
            }
        }
    }
    answered
}

#[test]
fn seals_of_any_kind_are_counted_to_the_last_row() {
    let mut dice = Dice(20_240_229);
    let mut answered = 0;
    for _ in 0..150 {
        let folder = Folder::new();
        let mut seals = String::from(
            "seal,asset,position,fitted,fitted_reading,removed,removed_reading,outcome,last_known_good\n",
        );
        let mut looks = String::from("seal,asset,position,date,reading,finding\n");
        for n in 0..(1 + dice.roll(40)) {
            let serial = format!("S{n}");
            let seal = if dice.roll(4) == 0 {
                dice.of(NAMES)
            } else {
                &serial
            };
            seals.push_str(&format!(
                "{seal},{},{},{},{},{},{},{},{}\n",
                dice.of(NAMES),
                dice.of(&["m", "n", ""]),
                dice.of(DATES),
                dice.of(NUMBERS),
                dice.of(DATES),
                dice.of(NUMBERS),
                dice.of(OUTCOMES),
                dice.of(&["", "", "2023-03-01", "2024-01"]),
            ));
            looks.push_str(&format!(
                "S{},{},m,{},{},{}\n",
                dice.roll(40),
                dice.of(NAMES),
                dice.of(DATES),
                dice.of(NUMBERS),
                dice.of(&["sound", "worn", "failed", "", "odd"]),
            ));
            if dice.roll(15) == 0 {
                seals.push_str(dice.of(&["\n", "a,b\n", ",,,,,,,,\n"]));
            }
        }
        folder.put("s.csv", &seals);
        folder.put("i.csv", &looks);
        folder.put(
            "a.csv",
            "asset,site,records_from,records_to\nA,Mill,2023-03-01,\nB,Dock,,2024\n",
        );
        let toml = "records_from = \"2022-06-01\"\n[files]\nseals = \"s.csv\"\ninspections = \"i.csv\"\nassets = \"a.csv\"\n";
        let records = load(&folder.put("study.toml", toml), &options()).unwrap();
        answered += ask_everything(&records);
        let again = load(&folder.path().join("study.toml"), &options()).unwrap();
        assert_eq!(records.findings, again.findings);
        assert_eq!(records.decisions, again.decisions);
        assert_eq!(records.set_aside, again.set_aside);
    }
    assert!(answered > 500, "{answered}");
}

#[test]
fn lives_of_any_kind_are_counted_to_the_last_row() {
    let mut dice = Dice(7);
    let mut answered = 0;
    for round in 0..200 {
        let spans = round % 2 == 0;
        let mut text = String::from(if spans {
            "lower,upper,entry,count,mode\n"
        } else {
            "time,status,entry,count,mode\n"
        });
        for _ in 0..(1 + dice.roll(60)) {
            let second = if spans {
                dice.of(NUMBERS)
            } else {
                dice.of(&["failed", "running", "1", "0", "odd", ""])
            };
            text.push_str(&format!(
                "{},{second},{},{},{}\n",
                dice.of(NUMBERS),
                dice.of(NUMBERS),
                dice.of(&["", "1", "3", "0", "-1", "2.5"]),
                dice.of(&["worn", "cracked", ""]),
            ));
        }
        let folder = Folder::new();
        if let Ok(records) = load(&folder.put("l.csv", &text), &options()) {
            answered += ask_everything(&records);
        }
    }
    assert!(answered > 500, "{answered}");
}

#[test]
fn bytes_of_any_kind_never_bring_it_down() {
    let mut dice = Dice(99);
    let marks = [
        b',', b';', b'\n', b'\r', b'"', b'\t', 0, 0xFF, 0xFE, b'1', b'.', b'-', b'a', b' ', b'=',
        b'[',
    ];
    for _ in 0..3000 {
        let mut bytes = b"time,status\n".to_vec();
        if dice.roll(2) == 0 {
            bytes.clear();
        }
        for _ in 0..dice.roll(60) {
            bytes.push(marks[dice.roll(marks.len())]);
        }
        let folder = Folder::new();
        for name in ["a.csv", "a.toml"] {
            if let Ok(records) = load(&folder.put(name, &bytes), &options()) {
                ask_everything(&records);
            }
        }
    }
}
