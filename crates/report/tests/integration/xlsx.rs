//! The workbook: text stays text, formulas carry values, the same bytes twice.

use calamine::{Data, Reader, Xlsx};
use sealspan_care::money::build_up::BuildUp;
use sealspan_records::Study;
use sealspan_report::wire::looks::{LooksRow, PartLooks};
use sealspan_report::wire::money::{Handled, MoneyDocument, MoneyMonth, StockLine, Year};
use sealspan_report::wire::money_places::PlaceMoney;
use sealspan_report::wire::stock::ExtraSpare;
use sealspan_report::xlsx::workbook;
use std::io::Cursor;

fn document(place: &str) -> MoneyDocument {
    let year = |cost| Year {
        failures: 1.0,
        planned: 2.0,
        cost,
        ..Year::default()
    };
    MoneyDocument {
        schema: "sealspan.money.v1",
        currency: "EU\"R".to_owned(),
        confidence: 0.9,
        month_days: 30.4375,
        discount_rate: 0.05,
        build_up: BuildUp::new(&[], 1.0, 1.0).unwrap(),
        handled: Handled {
            opening: 1.0,
            look: 2.0,
            turn: 3.0,
        },
        parts: vec![],
        places: vec![PlaceMoney {
            place: place.to_owned(),
            positions: 4.0,
            today: year(9.0),
            plan: year(5.0),
            recorded: None,
            saving: 4.0,
            saving_lower: Some(-1.0),
            saving_upper: None,
            interval_reason: None,
        }],
        last_year: None,
        last_year_reason: Some("no last day"),
        first_year_lower: None,
        first_year_upper: None,
        by_month: vec![MoneyMonth {
            begins: Some("2024-12-31".to_owned()),
            begins_reason: None,
            month: 1,
            today: year(9.0),
            plan: year(5.0),
            plan_lower: None,
            plan_upper: Some(8.0),
            saving: 4.0,
            discounted: 3.9,
            cumulative: 3.9,
        }],
        plan_cost: 5.1,
        plan_cost_lower: Some(1.0),
        plan_cost_upper: Some(9.0),
        present_value: 3.9,
        present_value_lower: None,
        present_value_upper: None,
        chance_of_loss: None,
        draws: 0,
        interval_reason: None,
        payback_months: Some(0.0),
        payback_reason: None,
        swings: vec![],
        scenarios: vec![],
        stock: vec![StockLine {
            place: place.to_owned(),
            part: "@part".to_owned(),
            demand_rate: 0.05,
            reorder_point: 1,
            order_quantity: 3,
            fill_rate: 0.9,
            cost_per_year: 1.0,
            unit_price: 1.0,
            investment: 1.0,
        }],
        stock_reason: None,
        extra_spares: vec![ExtraSpare {
            seals: 1,
            place: Some(place.to_owned()),
            part: Some("@part".to_owned()),
            reason: None,
            investment: 38.0,
            downtime_hours_per_year: 12.5,
            saves_hours_per_year: 7.25,
            cost_per_year: 900.0,
        }],
        looks: vec![PartLooks {
            part: place.to_owned(),
            positions: 4.0,
            rows: vec![LooksRow {
                times_today: 0.0,
                every: None,
                every_reason: Some("no looks"),
                looks_per_year: 0.0,
                failures_per_year: 3.5,
                hours_down_per_year: 40.0,
                cost_per_year: 1.0,
                cost_lower: 2.0,
                cost_upper: 3.0,
                dearer_per_year: 4.0,
                dearer_lower: 5.0,
                dearer_upper: 6.0,
            }],
            reason: None,
        }],
        own_ages: None,
        own_ages_reason: Some("one place"),
        own_ages_by_duty: None,
        own_ages_by_duty_reason: Some("no duties"),
        left_out: vec![],
        notes: vec!["=1+1".to_owned()],
        cautions: vec![],
    }
}

/// Text that looks like a formula stays text, and every formula carries a value.
#[test]
fn text_is_never_a_formula() {
    let place = "=HYPERLINK(\"x\",\"y\")";
    let bytes = workbook(&document(place), &Study::default()).unwrap();
    assert_eq!(
        bytes,
        workbook(&document(place), &Study::default()).unwrap()
    );
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).unwrap();
    assert_eq!(
        book.sheet_names(),
        [
            "Summary", "Inputs", "Budget", "Stock", "Bought", "Places", "Charts"
        ]
    );
    let bought = book.worksheet_range("Bought").unwrap();
    let row = |row: u32| (0..12).map(move |column| (row, column));
    let numbers = |at: u32| -> Vec<f64> {
        row(at)
            .filter_map(|cell| match bought.get_value(cell) {
                Some(Data::Float(x)) => Some(*x),
                _ => None,
            })
            .collect()
    };
    assert_eq!(numbers(1), [1.0, 38.0, 12.5, 7.25, 900.0]);
    assert_eq!(
        numbers(4),
        [0.0, 0.0, 3.5, 40.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0]
    );
    for cell in [(1, 1), (4, 0)] {
        assert_eq!(
            bought.get_value(cell),
            Some(&Data::String(place.to_owned()))
        );
    }
    let places = book.worksheet_range("Places").unwrap();
    assert_eq!(
        places.get_value((1, 0)),
        Some(&Data::String(place.to_owned()))
    );
    assert_eq!(places.get_value((1, 19)), Some(&Data::Float(-1.0)));
    assert_eq!(
        places.get_value((1, 20)),
        Some(&Data::String("not known".to_owned()))
    );
    let values = book.worksheet_range("Stock").unwrap();
    assert_eq!(
        values.get_value((1, 0)),
        Some(&Data::String(place.to_owned()))
    );
    assert_eq!(
        values.get_value((1, 1)),
        Some(&Data::String("@part".to_owned()))
    );
    for sheet in ["Summary", "Inputs", "Budget", "Stock"] {
        let (formulas, values) = (
            book.worksheet_formula(sheet).unwrap(),
            book.worksheet_range(sheet).unwrap(),
        );
        let mut seen = 0;
        let start = formulas.start().unwrap();
        for (row, column, formula) in formulas.used_cells() {
            assert!(!formula.contains("HYPERLINK") && formula != "1+1");
            let at = (row as u32 + start.0, column as u32 + start.1);
            assert!(
                matches!(values.get_value(at), Some(Data::Float(x)) if x.is_finite()),
                "{sheet} {at:?}"
            );
            seen += 1;
        }
        assert!(seen >= 4, "{sheet}: {seen} formulas");
    }
}
