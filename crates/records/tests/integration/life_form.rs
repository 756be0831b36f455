//! The `life` form: every censoring kind, modes, groups, and every fault of a row.

use crate::common::{answer, balanced, fires, kinds, question, read, study};
use sealspan_records::{Clock, Form, NONE, Question, Seen, ask};

const SPANS: &str = "lower,upper,entry,count,mode,medium\n\
    120,120,,,wear,caustic\n\
    300,,50,4,,caustic\n\
    ,90,,2,crack,beer\n\
    40,80,10,,wear,beer\n\
    0,70,20,,crack,\n";

#[test]
fn all_kinds_of_observation_are_told_apart() {
    let records = read(SPANS).unwrap();
    assert_eq!(records.form, Form::Life);
    let answer = answer(&records);
    let rows = answer.groups[0].sample.rows();
    assert_eq!(rows[0].seen(), Seen::Exact(120.0));
    assert_eq!(
        (rows[1].seen(), rows[1].entry(), rows[1].count()),
        (Seen::Right(300.0), 50.0, 4.0)
    );
    assert_eq!(
        (rows[2].seen(), rows[2].count()),
        (Seen::Interval(0.0, 90.0), 2.0)
    );
    assert_eq!(
        (rows[3].seen(), rows[3].entry()),
        (Seen::Interval(40.0, 80.0), 10.0)
    );
    assert_eq!(rows[4].seen(), Seen::Interval(20.0, 70.0));
    let t = answer.tally;
    assert_eq!(
        (t.exact, t.right, t.left, t.interval, t.truncated),
        (1.0, 4.0, 3.0, 1.0, 6.0)
    );
    let running = answer.groups[0].running();
    assert_eq!(
        (running.len(), running[0].age, running[0].count),
        (1, 300.0, 4.0)
    );
}

#[test]
fn other_modes_censor_at_the_age_known() {
    let records = read(SPANS).unwrap();
    let asked = Question {
        mode: Some("Wear".into()),
        ..Question::default()
    };
    let answer = ask(&records, &asked).unwrap();
    balanced(&records, &answer);
    let seen: Vec<Seen> = answer.groups[0]
        .sample
        .rows()
        .iter()
        .map(|o| o.seen())
        .collect();
    assert_eq!(
        seen,
        [
            Seen::Exact(120.0),
            Seen::Right(300.0),
            Seen::Right(0.0),
            Seen::Interval(40.0, 80.0),
            Seen::Right(0.0)
        ]
    );
    // Censored by another mode is not running.
    assert_eq!(answer.groups[0].running().len(), 1);
    let asked = Question {
        mode: Some("rust".into()),
        ..Question::default()
    };
    let error = ask(&records, &asked).unwrap_err();
    assert_eq!(error.kind(), "unknown_mode");
    assert!(error.mend().contains("crack, wear"), "{error}");
}

#[test]
fn groups_are_sorted_and_empty_cells_kept() {
    let records = read(SPANS).unwrap();
    let answer = ask(&records, &question(&["medium"])).unwrap();
    balanced(&records, &answer);
    let keys: Vec<&str> = answer.groups.iter().map(|g| g.key[0].1.as_str()).collect();
    assert_eq!(keys, [NONE, "beer", "caustic"]);
    assert_eq!(answer.findings[0].kind, "group_value_missing");

    let numbers = read("time,status,heat\n1,failed,120\n2,running,85\n3,failed,9\n").unwrap();
    let answer = ask(&numbers, &question(&["Heat"])).unwrap();
    let keys: Vec<&str> = answer.groups.iter().map(|g| g.key[0].1.as_str()).collect();
    assert_eq!(keys, ["9", "85", "120"]);

    let error = ask(&records, &question(&["medum"])).unwrap_err();
    assert_eq!(error.kind(), "unknown_column");
    assert!(error.mend().contains("did you mean \"medium\""), "{error}");
}

#[test]
fn codes_and_own_words_of_the_status_are_understood() {
    let records = read("time,status\n5,1\n9,0\n").unwrap();
    assert!(kinds(&records).contains(&"status_codes"));
    assert_eq!(answer(&records).tally.exact, 1.0);

    let toml = "[files]\nlife = \"l.csv\"\n[columns.life]\ntime = \"Hours run\"\n[words.status]\nleaked = \"failed\"\n\"still on\" = \"running\"\n";
    let records = study(
        toml,
        &[(
            "l.csv",
            "hours-run,status\n5,Leaked\n9,still_on\n7,leeked\n",
        )],
    )
    .unwrap();
    fires(&records, "unknown_status", 4, "status");
    let asked = Question {
        clock: Clock::Hours,
        ..Question::default()
    };
    let answer = ask(&records, &asked).unwrap();
    balanced(&records, &answer);
    assert_eq!(
        (answer.tally.exact, answer.tally.right, answer.clock),
        (1.0, 1.0, Clock::Hours)
    );
}

#[test]
fn each_fault_of_a_row_has_its_finding_and_sets_it_aside() {
    let good = "5,failed,,1\n9,running,,1\n";
    for (row, kind, column) in [
        ("-5,failed,,1", "negative_time", "time"),
        ("0,failed,,1", "zero_time", "time"),
        ("inf,failed,,1", "not_finite", "time"),
        ("nan,running,,1", "not_finite", "time"),
        ("1e999,running,,1", "not_finite", "time"),
        ("x,failed,,1", "not_a_number", "time"),
        (",failed,,1", "no_age", "time"),
        ("5,,,1", "unknown_status", "status"),
        ("5,faild,,1", "unknown_status", "status"),
        ("5,2,,1", "unknown_status", "status"),
        ("5,failed,5,1", "entry_not_below_exit", "entry"),
        ("5,running,7,1", "entry_not_below_exit", "entry"),
        ("5,failed,-1,1", "negative_time", "entry"),
        ("5,failed,,-1", "bad_count", "count"),
        ("5,failed,,1.5", "bad_count", "count"),
        ("5,failed,,many", "not_a_number", "count"),
        ("5,failed,,0", "zero_count", "count"),
    ] {
        let records = read(format!("time,status,entry,count\n{good}{row}\n")).unwrap();
        fires(&records, kind, 4, column);
        assert_eq!(records.set_aside.len(), 1, "{row}");
        assert_eq!(answer(&records).rows_used, 2, "{row}");
    }
    for (row, kind, column) in [
        ("9,5", "lower_above_upper", "lower"),
        ("-1,5", "negative_time", "lower"),
        ("1,-5", "negative_time", "upper"),
        (",", "no_age", "lower"),
        ("0,0", "zero_time", "upper"),
    ] {
        let records = read(format!("id,lower,upper\na,5,5\nb,9,\nc,{row}\n")).unwrap();
        fires(&records, kind, 4, column);
        assert_eq!(answer(&records).rows_used, 2, "{row}");
    }
}

#[test]
fn a_running_life_of_age_zero_is_kept() {
    let records = read("time,status\n0,running\n5,failed\n").unwrap();
    assert_eq!(answer(&records).tally.right, 1.0);
}

#[test]
fn lives_without_any_running_are_asked_about() {
    let records = read("time,status\n4,failed\n5,failed\n").unwrap();
    assert!(kinds(&records).contains(&"no_running_seals"));
}

#[test]
fn nothing_left_is_said() {
    let records = read("time,status\n-4,failed\n-5,failed\n").unwrap();
    let error = ask(&records, &Question::default()).unwrap_err();
    assert_eq!(
        (error.kind(), error.is_bad_input()),
        ("nothing_left", false)
    );
    assert_eq!(error.row(), Some(2));
}

#[test]
fn long_runs_of_one_finding_are_summed_up() {
    let mut text = String::from("time,status\n5,failed\n6,running\n");
    for _ in 0..500 {
        text.push_str("-1,failed\n");
    }
    let records = read(text).unwrap();
    let of_kind = || {
        records
            .findings
            .iter()
            .filter(|f| f.kind == "negative_time")
    };
    assert_eq!(of_kind().count(), 51);
    assert!(of_kind().any(|f| f.message == "450 more rows like this"));
    assert_eq!(records.set_aside.len(), 500);
}

#[test]
fn reduction_keeps_the_counts() {
    let mut text = String::from("time,status,count\n");
    for n in 0..3000 {
        text.push_str(&format!(
            "{},{},{}\n",
            1 + n % 17,
            if n % 4 == 0 { "failed" } else { "running" },
            1 + n % 3
        ));
    }
    let answer = answer(&read(text).unwrap());
    let reduced = answer.groups[0].sample.reduce();
    assert_eq!(reduced.rows().len(), 34);
    assert_eq!(reduced.tally(), answer.tally);
    assert_eq!(reduced.reduce(), reduced);
}

#[test]
fn messages_speak_of_the_column_that_is_there() {
    let records = read("time,status\n-4,failed\n5,running\n").unwrap();
    assert_eq!(
        records.findings[0].message,
        "time is -4; an age cannot be negative"
    );
}
