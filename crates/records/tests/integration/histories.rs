//! Inspection histories from seals and looks: what ends them, what is dropped, what is taken to have happened
//! before the records.

use crate::common::{answer, study};
use sealspan_records::histories::{Histories, HistoryQuestion, histories};
use sealspan_records::history::{Ended, History};
use sealspan_records::{Clock, Records};

const STUDY: &str = "cut_off = \"2024-12-31\"\n[files]\nseals = \"s.csv\"\ninspections = \"i.csv\"\n\
    assets = \"a.csv\"\n[question]\nreadings = \"cycles\"\n";
const ASSETS: &str =
    "asset,site,records_from,current_reading\nT1,Mill,,900\nT2,Mill,2024-03-01,\nT3,Dock,,\n";
const HEAD: &str = "seal,asset,position,material,fitted,fitted_reading,removed,removed_reading,last_known_good,outcome\n";

fn harrow(seals: &str, looks: &str) -> Records {
    let seals = format!("{HEAD}{seals}");
    let looks = format!("seal,asset,position,date,reading,finding\n{looks}");
    study(
        STUDY,
        &[("s.csv", &seals), ("i.csv", &looks), ("a.csv", ASSETS)],
    )
    .unwrap()
}

fn on(records: &Records, question: &HistoryQuestion) -> Histories {
    let out = histories(records, question).unwrap();
    let used: usize = out.groups.iter().map(|g| g.histories.len()).sum();
    assert_eq!(records.rows_read, (used + out.set_aside.len()) as u64);
    out
}

fn first(out: &Histories) -> &[History] {
    &out.groups[0].histories
}

#[test]
fn every_kind_of_ending() {
    let records = harrow(
        "A,T1,m,EPDM,2024-01-01,,2024-04-10,,,failed\n\
         B,T1,n,EPDM,2024-01-01,,2024-04-10,,2024-02-10,failed\n\
         C,T1,o,EPDM,2024-01-01,,2024-04-10,,,worn\n\
         D,T1,p,EPDM,2024-01-01,,2024-04-10,,,preventive\n\
         E,T3,m,EPDM,2024-01-01,,,,,\n\
         F,T3,n,EPDM,2024-01-01,,2024-06-01,,,failed\n\
         G,T3,o,EPDM,2024-01-01,,2024-04,,,failed\n\
         H,T3,p,EPDM,2024-01-01,,2024-04-10,,,failed\n",
        // By position; one without a finding; one at fitting; one nowhere.
        ",T1,m,2024-02-10,,sound\n,T1,m,2024-01-01,,sound\n\
         C,,,2024-02-10,,sound\nC,,,2024-04-10,,worn\n\
         D,,,2024-02-10,,\nE,,,2024-02-10,,sound\nE,,,2024-12-31,,sound\n\
         F,,,2024-02-10,,sound\nF,,,2024-04-10,,worn\n\
         H,,,2024-02-10,,sound\nH,,,2024-04-10,,failed\n\
         ,T9,m,2024-02-10,,sound\n",
    );
    let out = on(&records, &HistoryQuestion::default());
    let ended: Vec<Ended> = first(&out).iter().map(History::ended).collect();
    assert_eq!(
        ended,
        [
            Ended::Failed(100.0),
            Ended::FailedBetween(40.0, 100.0),
            Ended::Found(100.0),
            Ended::Running(100.0),
            Ended::Running(365.0),
            // Found defective and left: followed to the finding only.
            Ended::Found(100.0),
            // A month: any of its days.
            Ended::FailedBetween(91.0, 120.0),
            Ended::FailedBetween(40.0, 100.0),
        ]
    );
    let looks: Vec<&[f64]> = first(&out).iter().map(History::looks).collect();
    let one: &[f64] = &[40.0];
    assert_eq!(looks, [one, &[], one, &[], &[40.0, 365.0], one, &[], one]);
    let t = out.looks;
    assert_eq!((t.read, t.sound, t.worn, t.failed), (12, 6, 2, 1));
    assert_eq!((t.unsaid, t.unmatched, t.left_in_place), (1, 1, 1));
    assert!(
        out.decisions
            .iter()
            .any(|d| d.rule == "look_without_finding" && d.count == 1)
    );
    // The same rows answer the plain question too.
    answer(&records);
}

#[test]
fn hidden_failures_wait_for_a_look() {
    let records = harrow(
        "A,T1,m,EPDM,2024-01-01,,2024-04-10,,,failed\n\
         B,T1,n,EPDM,2024-01-01,,,,,\n\
         C,T1,o,EPDM,2024-01-01,,,,,\n",
        "A,,,2024-02-10,,sound\nB,,,2024-02-10,,sound\n",
    );
    let hidden = HistoryQuestion {
        hidden: true,
        ..HistoryQuestion::default()
    };
    let out = on(&records, &hidden);
    let ended: Vec<Ended> = first(&out).iter().map(History::ended).collect();
    assert_eq!(
        ended,
        [Ended::FailedBetween(40.0, 100.0), Ended::Running(40.0)]
    );
    assert!(out.set_aside[0].reason.contains("never looked at"));
}

#[test]
fn looks_before_the_records_go_back_in_the_assets_own_steps() {
    let records = harrow(
        "A,T2,m,EPDM,2023-06-15,,,,,\nB,T2,n,EPDM,2024-03-10,,,,,\n",
        "A,,,2024-04-10,,sound\nA,,,2024-06-09,,sound\nA,,,2024-08-08,,sound\n",
    );
    let out = on(&records, &HistoryQuestion::default());
    let a = &first(&out)[0];
    // Entry on 2024-03-01, the first recorded look at 300 days, 60 days apart.
    assert_eq!(a.entry(), 260.0);
    assert_eq!(a.looks(), [60.0, 120.0, 180.0, 240.0, 300.0, 360.0, 420.0]);
    assert_eq!(out.looks.assumed, 4);
    assert!(
        out.decisions
            .iter()
            .any(|d| d.rule == "looks_before_records")
    );
    assert_eq!(first(&out)[1].looks(), [0.0; 0]);
}

#[test]
fn usage_comes_from_the_readings_and_between_them_from_the_days() {
    let records = harrow(
        "A,T1,m,EPDM,2024-01-01,100,2024-04-10,300,,failed\n\
         B,T1,n,EPDM,2024-01-01,,2024-04-10,300,,failed\n",
        "A,,,2024-02-10,180,sound\nA,,,2024-03-11,,sound\n",
    );
    let cycles = HistoryQuestion {
        clock: Clock::Cycles,
        ..HistoryQuestion::default()
    };
    let out = on(&records, &cycles);
    let a = &first(&out)[0];
    assert_eq!(a.ended(), Ended::Failed(200.0));
    assert_eq!(a.looks(), [80.0, 140.0]);
    assert_eq!(out.set_aside.len(), 1);
}

#[test]
fn a_sound_look_on_the_day_comes_first_and_bad_ages_are_refused() {
    let day = History::new(0.0, vec![50.0, 100.0], Ended::Failed(100.0), 1.0).unwrap();
    assert_eq!(day.looks(), [50.0, 99.5]);
    for (entry, looks, ended) in [
        (f64::NAN, vec![], Ended::Running(1.0)),
        (-1.0, vec![], Ended::Running(1.0)),
        (0.0, vec![f64::INFINITY], Ended::Running(1.0)),
        (0.0, vec![], Ended::Found(0.0)),
        (0.0, vec![], Ended::FailedBetween(3.0, 2.0)),
        (5.0, vec![], Ended::Running(5.0)),
    ] {
        assert!(History::new(entry, looks, ended, 1.0).is_err());
    }
    let two = History::reduce(vec![day.clone(), day]);
    assert_eq!((two.len(), two[0].count()), (1, 2.0));
}
