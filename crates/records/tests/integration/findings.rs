//! Each kind of finding fires, at its place; questions wait where something must be asked first.

use crate::common::{Folder, answer, fires, kinds, read, study};
use sealspan_records::{LoadOptions, Question, Severity, ask, load};

const HEAD: &str =
    "seal,asset,position,material,fitted,removed,outcome,mechanism,sector,cure_date\n";
const GOOD: &str =
    "Z1,T8,manway,NBR,2024-01-01,2024-05-01,failed,,,\nZ2,T9,manway,NBR,2024-01-01,,,,,\n";

fn with(rows: &str) -> sealspan_records::Records {
    read(format!("{HEAD}{GOOD}{rows}")).unwrap()
}

#[test]
fn wrong_rows_are_set_aside_with_their_place() {
    for (row, kind, column) in [
        (
            "A,T1,m,NBR,2024-05-01,2024-01-01,failed,,,",
            "removal_before_fitting",
            "removed",
        ),
        ("A,T1,m,NBR,2026-01-01,,,,,", "future_date", "fitted"),
        (
            "A,T1,m,NBR,2024-01-01,2026-01-01,failed,,,",
            "future_date",
            "removed",
        ),
        (
            "A,T1,m,NBR,,2024-01-01,failed,,,",
            "fitting_unknown",
            "fitted",
        ),
        ("A,T1,m,NBR,2024-02-30,,,,,", "not_a_date", "fitted"),
        ("A,T1,m,NBR,45292,,,,,", "serial_date", "fitted"),
        (
            "A,T1,m,NBR,2024-01-01,2024-05-01,faild,,,",
            "unknown_outcome_word",
            "outcome",
        ),
        (
            "A,T1,m,NBR,2024-01-01,2024-05-01,in_service,,,",
            "outcome_contradicts_removal",
            "outcome",
        ),
        (
            "A,T1,m,NBR,2024-01-01,,failed,,,",
            "outcome_contradicts_removal",
            "outcome",
        ),
        (
            "Z1,T1,m,NBR,2024-01-01,2024-04-01,failed,,,",
            "duplicate_seal",
            "seal",
        ),
        (
            "Z1,T8,manway,NBR,2024-01-01,2024-05-01,failed,,,",
            "duplicate_seal",
            "seal",
        ),
    ] {
        let records = with(&format!("{row}\n"));
        fires(&records, kind, 4, column);
        assert_eq!(
            records.set_aside.len(),
            1,
            "{row}: {:#?}",
            records.set_aside
        );
        assert_eq!(answer(&records).rows_used, 2, "{row}");
    }
}

#[test]
fn doubtful_cells_keep_their_row() {
    for (row, kind, column) in [
        (
            "A,T1,m,Rubber,2024-01-01,,,,,",
            "unknown_material_word",
            "material",
        ),
        (
            "A,T1,m,NBR,2024-01-01,2024-05-01,failed,bent,,",
            "unknown_mechanism_word",
            "mechanism",
        ),
        (
            "A,T1,m,NBR,2024-01-01,2024-05-01,failed,,x,",
            "not_a_number",
            "sector",
        ),
        (
            "A,T1,m,NBR,2024-01-01,2024-05-01,failed,,1.5,",
            "not_a_sector",
            "sector",
        ),
        (
            "A,T1,m,NBR,2024-01-01,2024-05-01,failed,,-1,",
            "negative_reading",
            "sector",
        ),
        (
            "A,T1,m,NBR,2024-01-01,2024-05-01,,,,",
            "outcome_missing",
            "outcome",
        ),
    ] {
        let records = with(&format!("{row}\n"));
        fires(&records, kind, 4, column);
        assert_eq!(answer(&records).rows_used, 3, "{row}");
    }
    let words = with("A,T1,m,NBR,2024-01-01,2024-05-01,faild,,,\n");
    let mend = &words
        .findings
        .iter()
        .find(|f| f.kind == "unknown_outcome_word")
        .unwrap()
        .mend;
    assert!(
        mend.contains("did you mean \"failed\"") && mend.contains("preventive"),
        "{mend}"
    );
}

#[test]
fn materials_nobody_knows_are_told_once_a_word_and_trade_words_are_read() {
    let records = with(
        "A,T1,m,EDPM,2024-01-01,,,,,\nB,T2,m,EDPM,2024-01-01,,,,,\nC,T3,m,white,2024-01-01,,,,,\nD,T4,m,Nitrile 70,2024-01-01,,,,,\n",
    );
    let unknown: Vec<_> = records
        .findings
        .iter()
        .filter(|f| f.kind == "unknown_material_word")
        .collect();
    let rows: Vec<_> = unknown.iter().map(|f| f.row).collect();
    assert_eq!(rows, [Some(4), Some(6)], "{unknown:#?}");
    let [slip, white] = unknown.as_slice() else {
        panic!("{unknown:#?}")
    };
    assert!(slip.message.contains("\"EDPM\"") && slip.message.contains("2 seals"));
    assert!(slip.message.contains("\"other\""), "{}", slip.message);
    assert!(slip.mend.contains("did you mean \"EPDM\"") && slip.mend.contains("[words.material]"));
    assert!(!white.mend.contains("did you mean"), "{}", white.mend);
    let read: Vec<_> = records
        .decisions
        .iter()
        .filter(|d| d.rule == "material_word")
        .collect();
    assert!(
        read.iter()
            .any(|d| d.assumed.contains("\"Nitrile 70\" is read as NBR") && d.rows == [7]),
        "{read:#?}"
    );
    assert_eq!(answer(&records).rows_used, 6);
}

#[test]
fn seals_in_one_place_at_one_time_are_found() {
    let open = with("A,T1,m,NBR,2024-01-01,,,,,\nB,T1,m,NBR,2024-03-01,,,,,\n");
    fires(&open, "overlapping_seals", 4, "removed");
    assert_eq!(answer(&open).rows_used, 3);
    let shut = with("A,T1,m,NBR,2024-01-01,2024-04-01,failed,,,\nB,T1,m,NBR,2024-03-01,,,,,\n");
    assert_eq!(answer(&shut).rows_used, 2);
    let coarse = with("A,T1,m,NBR,2024-01-01,2024-04,failed,,,\nB,T1,m,NBR,2024-04-02,,,,,\n");
    assert_eq!(
        answer(&coarse).rows_used,
        4,
        "a month may end before the next seal"
    );
    let apart = with("A,T1,m,NBR,2024-01-01,,,,,\nB,T1,n,NBR,2024-03-01,,,,,\n");
    assert_eq!(answer(&apart).rows_used, 4);
}

#[test]
fn seals_without_a_position_give_no_life_where_there_are_several() {
    let records = with("A,T1,,NBR,2024-01-01,,,,,\nB,T1,,NBR,2024-03-01,,,,,\n");
    fires(&records, "position_missing", 4, "position");
    assert_eq!(answer(&records).rows_used, 2);
    let records =
        with("A,T1,x,NBR,2024-01-01,,,,,\nB,T1,y,NBR,2024-03-01,,,,,\nC,T1,,NBR,2024-03-01,,,,,\n");
    fires(&records, "position_missing", 6, "position");
    assert_eq!(answer(&records).rows_used, 4);
    let one_after_another =
        with("A,T1,,NBR,2024-01-01,2024-02-01,failed,,,\nB,T1,,NBR,2024-03-01,,,,,\n");
    assert_eq!(answer(&one_after_another).rows_used, 4);
    assert!(kinds(&one_after_another).contains(&"several_seals_per_asset"));
}

#[test]
fn shares_worth_a_remark_are_remarked() {
    let mut rows = String::new();
    for n in 0..4 {
        rows.push_str(&format!(
            "U{n},TU{n},m,NBR,2024-01-01,2024-04-01,unknown,,,\n"
        ));
        rows.push_str(&format!("W{n},TW{n},m,NBR,2024-01-01,2024-04-01,worn,,,\n"));
    }
    let records = with(&rows);
    assert!(kinds(&records).contains(&"unknown_outcomes"));
    assert!(kinds(&records).contains(&"worn_removals"));
    let ended = read(format!(
        "{HEAD}A,T1,m,NBR,2024-01-01,2024-05-01,failed,,,\n"
    ))
    .unwrap();
    assert!(kinds(&ended).contains(&"no_running_seals"));
    let fine = with("");
    for kind in [
        "unknown_outcomes",
        "worn_removals",
        "no_running_seals",
        "several_seals_per_asset",
    ] {
        assert!(!kinds(&fine).contains(&kind), "{kind}");
    }
}

const PLAIN: &str = "seal,fitted,removed,outcome\n";

#[test]
fn two_date_orders_stop_and_ask() {
    let text = format!("{PLAIN}A,25/03/2024,,\nB,03/25/2024,,\nC,04/05/2024,,\n");
    let records = read(&text).unwrap();
    let error = ask(&records, &Question::default()).unwrap_err();
    assert_eq!(
        (error.kind(), error.column()),
        ("date_order", Some("fitted"))
    );
    assert!(
        error.message().contains("row 2") && error.message().contains("row 3"),
        "{error}"
    );
    fires(&records, "date_order", 2, "fitted");
    assert!(error.is_bad_input());

    let open = read(format!("{PLAIN}A,05/06/2024,,\nB,01/02/2024,,\n")).unwrap();
    assert_eq!(
        ask(&open, &Question::default()).unwrap_err().kind(),
        "date_order"
    );
}

#[test]
fn one_clear_date_settles_the_order() {
    let text = format!("{PLAIN}A,25/03/2024,05/06/2024,failed\nB,04/05/2024,,\n");
    let records = read(text).unwrap();
    let first = answer(&records).groups[0].sample.rows()[0];
    assert_eq!(first.seen(), sealspan_records::Seen::Exact(72.0));
    assert!(records.decisions.iter().any(|d| d.rule == "date_order"));

    let toml = "[files]\nseals = \"s.csv\"\n[dates]\norder = \"month_first\"\n";
    let records = study(
        toml,
        &[(
            "s.csv",
            &format!("{PLAIN}A,05/06/2024,06/05/2024,failed\nB,04/05/2024,,\n"),
        )],
    )
    .unwrap();
    let first = answer(&records).groups[0].sample.rows()[0];
    assert_eq!(first.seen(), sealspan_records::Seen::Exact(30.0));
}

#[test]
fn day_numbers_wait_for_their_epoch() {
    let table = format!("{PLAIN}A,45292,45352,failed\nB,45292,,\n");
    let records = read(&table).unwrap();
    assert_eq!(
        ask(&records, &Question::default()).unwrap_err().kind(),
        "serial_dates"
    );
    for (epoch, year) in [(1900, 2024), (1904, 2028)] {
        let toml = format!(
            "cut_off = \"2030-01-01\"\n[files]\nseals = \"s.csv\"\n[dates]\nepoch = {epoch}\n"
        );
        let folder = Folder::new();
        folder.put("s.csv", &table);
        let records = load(&folder.put("study.toml", toml), &LoadOptions::default()).unwrap();
        assert_eq!(records.seals[0].fitted.first().year(), year);
        assert_eq!(
            answer(&records).groups[0].sample.rows()[0].seen(),
            sealspan_records::Seen::Exact(60.0)
        );
    }
}

#[test]
fn a_column_without_any_date_is_refused() {
    let records = read(format!("{PLAIN}A,soon,,\nB,later,,\n")).unwrap();
    let error = ask(&records, &Question::default()).unwrap_err();
    assert_eq!((error.kind(), error.row()), ("unreadable_column", Some(2)));
}

#[test]
fn faults_of_inspections_and_assets_are_found() {
    let toml = "[files]\nseals = \"s.csv\"\ninspections = \"i.csv\"\nassets = \"a.csv\"\n";
    let looks = "seal,asset,position,date,reading,finding\n\
        A,T1,m,2024-02-01,500,sound\nA,T1,m,2024-03-01,400,sound\nA,T1,m,2024-04-01,10,sound\n\
        A,T1,m,,,sound\n,,,2024-02-01,,sound\nA,T1,m,2024-02-01,,fine\nA,T1,m,2026-02-01,,sound\n";
    let assets =
        "asset,records_from,records_to\nT1,,\nT1,,\n,2024-01-01,\nT2,2024-01-01,2023-01-01\n";
    let seals = "seal,asset,position,fitted,removed,outcome,last_known_good\n\
        A,T1,m,2024-01-01,,,\nB,T5,m,2024-01-01,2024-03-01,failed,2023-01-01\n";
    let records = study(
        toml,
        &[("s.csv", seals), ("i.csv", looks), ("a.csv", assets)],
    )
    .unwrap();
    fires(&records, "reading_backwards", 3, "reading");
    fires(&records, "counter_reset", 4, "reading");
    fires(&records, "date_missing", 5, "date");
    fires(&records, "seal_missing", 6, "seal");
    fires(&records, "unknown_finding", 7, "finding");
    fires(&records, "future_date", 8, "date");
    fires(&records, "duplicate_asset", 3, "asset");
    fires(&records, "asset_missing", 4, "asset");
    fires(&records, "records_end_before_start", 5, "records_to");
    fires(&records, "last_known_good_outside", 3, "last_known_good");
    assert_eq!(records.context_set_aside.len(), 7);
    assert_eq!((records.inspections.len(), records.assets.len()), (3, 1));
    assert_eq!(answer(&records).rows_used, 1);
    let order: Vec<Severity> = records.findings.iter().map(|f| f.severity).collect();
    assert!(order.windows(2).all(|w| w[0] >= w[1]), "gravest first");
}

#[test]
fn a_seal_without_a_name_or_an_asset_is_used_and_noted() {
    let records = with(",T1,m,NBR,2024-01-01,2024-05-01,failed,,,\nB,,m,NBR,2024-01-01,,,,,\n");
    fires(&records, "unnamed_seal", 4, "seal");
    fires(&records, "no_asset", 5, "asset");
    assert_eq!(records.rows_used(), 4);
}

/// One column can only be day first, another only month first.
#[test]
fn two_date_orders_in_one_file_stop_the_question() {
    let rows = "seal,fitted,removed,outcome\nA,25/03/2023,04/05/2023,failed\nB,02/03/2023,12/31/2023,failed\n";
    let records = read(rows).unwrap();
    let why = ask(&records, &Question::default()).unwrap_err();
    assert_eq!(why.column(), Some("removed"), "{why:?}");
    assert_eq!(why.row(), Some(3));
    assert!(
        why.message().contains("two date orders in one file"),
        "{why:?}"
    );
}

#[test]
fn readings_that_count_cycles_give_no_age_in_hours() {
    let toml = "[files]\nseals = \"seals.csv\"\n[question]\nreadings = \"cycles\"\n";
    let rows = "seal,fitted,removed,outcome,fitted_reading,removed_reading\nA,2024-01-01,2024-03-01,failed,10,70\n";
    let records = study(toml, &[("seals.csv", rows)]).unwrap();
    let on = |clock| {
        let question = Question {
            clock,
            ..Question::default()
        };
        ask(&records, &question)
    };
    assert!(on(sealspan_records::Clock::Cycles).is_ok());
    let why = on(sealspan_records::Clock::Hours).unwrap_err();
    assert!(why.message().contains("cycles"), "{why:?}");
}
