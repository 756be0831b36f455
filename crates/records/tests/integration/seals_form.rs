//! Seals to observations: dates of every precision, inspections, truncation, clocks, groups.

use crate::common::{answer, balanced, fires, kinds, question, read, study};
use sealspan_records::{Answer, Clock, NONE, Question, Records, Seen, ask};

const HEAD: &str = "seal,asset,position,material,fitted,removed,outcome,last_known_good\n";

/// What is seen of the first of `rows`; a running seal is added so that the cut-off is 2025-01-01.
fn seen(rows: &str) -> Seen {
    let text = format!(
        "{HEAD}{rows}\nZ,HL9-T01,manway,NBR,2020-01-01,,,\nY,HL9-T02,manway,NBR,2025-01-01,,,\n"
    );
    answer(&read(text).unwrap()).groups[0].sample.rows()[0].seen()
}

#[test]
fn dates_of_every_precision_give_the_ages_they_allow() {
    let cases = [
        ("2024-01-01,2024-03-01,failed,", Seen::Exact(60.0)),
        ("2024-01-01,2024-01-01,failed,", Seen::Interval(0.0, 1.0)),
        ("2024-05,2024-07-10,failed,", Seen::Interval(40.0, 70.0)),
        ("05/2024,2024-07-10,failed,", Seen::Interval(40.0, 70.0)),
        ("2024-01-01,2024-Q2,failed,", Seen::Interval(91.0, 181.0)),
        ("2023,2024,failed,", Seen::Interval(1.0, 730.0)),
        ("2024,2024,failed,", Seen::Interval(0.0, 365.0)),
        ("2024-05,2024-07-10,preventive,", Seen::Right(40.0)),
        ("2024-05,,,", Seen::Right(215.0)),
        ("2024-01-01,2024-03-01,worn,", Seen::Right(60.0)),
        ("2024-01-01,2024-03-01,damaged,", Seen::Right(60.0)),
        ("2024-01-01,2024-03-01,opportunity,", Seen::Right(60.0)),
        ("2024-01-01,2024-03-01,unknown,", Seen::Right(60.0)),
        ("2024-01-01,,in service,", Seen::Right(366.0)),
        (
            "2024-01-01,2024-03-01,failed,2024-02-01",
            Seen::Interval(31.0, 60.0),
        ),
        (
            "2024-01-01,2024-03-01,failed,2024-03-01",
            Seen::Interval(59.0, 60.0),
        ),
        (
            "2024-01-01,2024-03-01,failed,2024-01-01",
            Seen::Interval(0.0, 60.0),
        ),
    ];
    for (cells, want) in cases {
        assert_eq!(
            seen(&format!("A,HL1-T01,manway,EPDM,{cells}")),
            want,
            "{cells}"
        );
    }
}

const STUDY: &str = "title = \"Harrow Lane\"\ninvented = true\ncut_off = \"2025-01-01\"\n\
    [files]\nseals = \"s.csv\"\ninspections = \"i.csv\"\nassets = \"a.csv\"\n\
    [words.outcome]\nleaked = \"failed\"\n";
const ASSETS: &str = "asset,site,records_from,current_reading\n\
    T1,Mill,,900\nT2,Mill,2024-01-01,\nT3,Dock,,\n";

fn harrow(seals: &str, looks: &str) -> Records {
    let head = "seal,asset,position,material,fitted,fitted_reading,removed,removed_reading,outcome,mechanism\n";
    let looks = format!("seal,asset,position,date,reading,finding\n{looks}");
    study(
        STUDY,
        &[
            ("s.csv", &format!("{head}{seals}")),
            ("i.csv", &looks),
            ("a.csv", ASSETS),
        ],
    )
    .unwrap()
}

fn on(records: &Records, clock: Clock, mode: Option<&str>) -> Answer {
    let asked = Question {
        clock,
        mode: mode.map(str::to_owned),
        ..Question::default()
    };
    let answer = ask(records, &asked).unwrap();
    balanced(records, &answer);
    answer
}

fn all_seen(answer: &Answer) -> Vec<Seen> {
    answer.groups[0]
        .sample
        .rows()
        .iter()
        .map(|o| o.seen())
        .collect()
}

#[test]
fn an_end_found_at_an_inspection_is_an_interval() {
    let records = harrow(
        "A,T1,m,EPDM,2024-01-01,,2024-04-10,,Leaked,\n\
         B,T3,m,EPDM,2024-01-01,,2024-04-10,,failed,\n\
         C,T3,n,EPDM,2024-01-01,,2024-04-10,,failed,\n\
         D,T3,o,EPDM,2024-01-01,,2024-04-10,,worn,\n\
         E,T3,p,EPDM,2024-01-01,,,,,\n\
         F,T3,q,EPDM,2024-01-01,,2024-04-15,,failed,\n",
        // A: sound, then failed on the day; B: only found failed; C: sound look before, failed
        // between; D: sound, then worn; E: found failed, never removed; F: removed later.
        "A,,,2024-02-10,,sound\nA,,,2024-04-10,,failed\n\
         ,T3,m,2024-04-10,,failed\n\
         C,,,2024-02-10,,sound\n\
         D,,,2024-02-10,,sound\nD,,,2024-04-10,,worn\n\
         E,,,2024-02-10,,worn\nE,,,2024-04-10,,failed\n\
         F,,,2024-02-10,,sound\nF,,,2024-04-10,,failed\n",
    );
    let failed = on(&records, Clock::Days, None);
    assert_eq!(
        all_seen(&failed),
        [
            Seen::Interval(40.0, 100.0),
            Seen::Interval(0.0, 100.0),
            Seen::Exact(100.0),
            Seen::Right(100.0),
            Seen::Interval(40.0, 100.0),
            Seen::Interval(40.0, 100.0),
        ]
    );
    let worn = on(&records, Clock::Days, Some("worn"));
    assert_eq!(all_seen(&worn)[3], Seen::Interval(40.0, 100.0));
    assert_eq!(worn.tally.failures(), 1.0);
    fires(&records, "exact_date_at_inspection", 2, "removed");
    fires(&records, "failed_but_in_service", 6, "removed");
    assert!(
        records
            .decisions
            .iter()
            .any(|d| d.rule == "found_at_inspection" && d.rows.contains(&2))
    );
}

#[test]
fn mechanisms_censor_one_another() {
    let records = harrow(
        "A,T1,m,EPDM,2024-01-01,,2024-04-10,,failed,cracked\n\
         B,T3,m,EPDM,2024-01-01,,2024-03-01,,failed,swollen\n\
         C,T3,n,EPDM,2024-01-01,,2024-02-01,,failed,\n",
        "",
    );
    let cracked = on(&records, Clock::Days, Some("Cracked"));
    assert_eq!(
        all_seen(&cracked),
        [Seen::Exact(100.0), Seen::Right(60.0), Seen::Right(31.0)]
    );
    assert!(
        cracked
            .findings
            .iter()
            .any(|f| f.kind == "mechanism_missing")
    );
    assert!(
        cracked
            .decisions
            .iter()
            .any(|d| d.rule == "other_mechanisms_censor" && d.count == 1)
    );
    let asked = Question {
        mode: Some("craked".into()),
        ..Question::default()
    };
    assert_eq!(ask(&records, &asked).unwrap_err().kind(), "unknown_mode");
}

#[test]
fn seals_fitted_before_the_records_enter_at_their_age() {
    let records = harrow(
        "A,T2,m,EPDM,2023-01-01,,2024-04-10,,failed,\n\
         B,T2,n,EPDM,2023-01-01,,2023-06-01,,failed,\n\
         C,T2,o,EPDM,2024-01-01,,,,,\n",
        "",
    );
    let answer = on(&records, Clock::Days, None);
    let first = answer.groups[0].sample.rows()[0];
    assert_eq!((first.seen(), first.entry()), (Seen::Exact(465.0), 365.0));
    assert_eq!(answer.tally.truncated, 1.0);
    fires(&records, "removed_before_records", 3, "removed");
    fires(&records, "fitted_before_records", 2, "fitted");
    assert!(
        records
            .decisions
            .iter()
            .any(|d| d.rule == "left_truncation" && d.rows == [2])
    );
}

#[test]
fn usage_comes_from_the_readings() {
    let records = harrow(
        "A,T1,m,EPDM,2024-01-01,100,2024-04-10,350,failed,\n\
         B,T1,n,EPDM,2024-01-01,100,,,,\n\
         C,T3,m,EPDM,2024-01-01,100,,,,\n\
         D,T3,n,EPDM,2024-01-01,,2024-04-10,350,failed,\n\
         E,T3,o,EPDM,2024-01-01,400,2024-04-10,350,failed,\n\
         F,T3,p,EPDM,2024-01-01,5000,2024-04-10,35,preventive,\n\
         G,T3,q,EPDM,2024-01-01,100,2024-04-10,600,failed,\n\
         H,T3,r,EPDM,2024-01-01,100,,,,\n",
        ",T3,m,2024-09-01,700,sound\nG,T3,q,2024-02-10,450,sound\nG,T3,q,2024-04-10,600,failed\n",
    );
    let answer = on(&records, Clock::Cycles, None);
    assert_eq!(
        all_seen(&answer),
        [
            Seen::Exact(250.0),
            Seen::Right(800.0),
            Seen::Right(600.0),
            Seen::Interval(350.0, 500.0)
        ]
    );
    assert_eq!(answer.set_aside.len(), 4);
    let reasons: Vec<&str> = answer.set_aside.iter().map(|s| s.reason.as_str()).collect();
    assert!(reasons[0].contains("no reading at fitting"), "{reasons:?}");
    assert!(
        reasons[3].contains("no reading at the cut-off"),
        "{reasons:?}"
    );
    fires(&records, "reading_backwards", 6, "removed_reading");
    fires(&records, "counter_reset", 7, "removed_reading");
    let running = answer.groups[0].running();
    assert_eq!(
        running.iter().map(|r| r.age).collect::<Vec<_>>(),
        [800.0, 600.0]
    );
    assert_eq!(on(&records, Clock::Days, None).rows_used, 8);
}

#[test]
fn groups_may_come_from_seals_conditions_and_assets() {
    let head = "seal,asset,position,material,fitted,removed,outcome,medium\n";
    let seals = format!(
        "{head}A,T1,m,epdm,2024-01-01,2024-03-01,failed,beer\nB,T3,m,NBR,2024-01-01,,,hops\nC,T9,m,,2024-01-01,,,beer\n"
    );
    let looks = "seal,date,finding\nA,2024-02-01,sound\n";
    let records = study(
        STUDY,
        &[("s.csv", &seals), ("i.csv", looks), ("a.csv", ASSETS)],
    )
    .unwrap();
    let keys = |by: &[&str]| -> Vec<String> {
        let answer = ask(&records, &question(by)).unwrap();
        balanced(&records, &answer);
        let text = |k: &(String, String)| format!("{}={}", k.0, k.1);
        answer
            .groups
            .iter()
            .map(|g| g.key.iter().map(text).collect::<Vec<_>>().join(","))
            .collect()
    };
    assert_eq!(
        keys(&["material"]),
        [
            format!("material={NONE}"),
            "material=EPDM".into(),
            "material=NBR".into()
        ]
    );
    assert_eq!(
        keys(&["site"]),
        [
            format!("site={NONE}"),
            "site=Dock".into(),
            "site=Mill".into()
        ]
    );
    assert_eq!(
        keys(&["medium", "site"]),
        [
            format!("medium=beer,site={NONE}"),
            "medium=beer,site=Mill".into(),
            "medium=hops,site=Dock".into()
        ]
    );
    assert_eq!(keys(&["asset"]).len(), 3);
    fires(&records, "asset_not_listed", 4, "asset");
    let running = ask(&records, &Question::default()).unwrap().groups[0].running();
    assert_eq!(running[0].site.as_deref(), Some("Dock"));
    assert_eq!(
        (running[0].material.as_deref(), running[0].age),
        (Some("NBR"), 366.0)
    );
    let error = ask(&records, &question(&["sitte"])).unwrap_err();
    assert!(error.mend().contains("did you mean \"site\""), "{error}");
}

#[test]
fn a_study_names_its_columns_and_a_wrong_name_is_refused() {
    let toml = "[files]\nseals = \"s.csv\"\n[columns.seals]\nfitted = \"In\"\nremoved = \"Out\"\noutcome = \"Why\"\n";
    let records = study(
        toml,
        &[(
            "s.csv",
            "In,Out,Why\n2024-01-01,2024-03-01,failed\n2024-01-01,,\n",
        )],
    )
    .unwrap();
    assert_eq!(answer(&records).tally.exact, 1.0);
    assert_eq!(records.sources.len(), 2);
    let wrong = toml.replace("\"In\"", "\"Inn\"");
    let error = study(&wrong, &[("s.csv", "In,Out,Why\n2024-01-01,,\n")]).unwrap_err();
    assert_eq!(error.kind(), "missing_column");
    assert!(error.mend().contains("did you mean \"In\""), "{error}");
    let wrong = toml.replace("fitted =", "fited =");
    let error = study(&wrong, &[("s.csv", "In,Out,Why\n2024-01-01,,\n")]).unwrap_err();
    assert_eq!(error.kind(), "study_file");
    assert!(kinds(&records).iter().all(|k| *k != "asset_not_listed"));
    assert_eq!(study("[files]\n", &[]).unwrap_err().kind(), "study_file");
    assert_eq!(
        study("[files]\nseals = \"none.csv\"\n", &[])
            .unwrap_err()
            .kind(),
        "missing_file"
    );
}
