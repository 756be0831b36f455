//! The workbook: text stays text, formulas carry values, the same bytes twice.
#![allow(clippy::unwrap_used)]

use calamine::{Data, Reader, Xlsx};
use sealspan_care::money::build_up::BuildUp;
use sealspan_records::Study;
use sealspan_report::wire::money::{MoneyDocument, MoneyMonth, StockLine, Year};
use sealspan_report::xlsx::workbook;
use std::io::Cursor;

fn document(place: &str) -> MoneyDocument {
    let year = |cost| Year {
        failures: 1.0,
        planned: 2.0,
        cost,
    };
    MoneyDocument {
        schema: "sealspan.money.v1",
        currency: "EU\"R".to_owned(),
        confidence: 0.9,
        month_days: 30.4375,
        discount_rate: 0.05,
        build_up: BuildUp::new(&[], 1.0, 1.0).unwrap(),
        parts: vec![],
        by_month: vec![MoneyMonth {
            month: 1,
            today: year(9.0),
            plan: year(5.0),
            plan_lower: None,
            plan_upper: Some(8.0),
            saving: 4.0,
            discounted: 3.9,
            cumulative: 3.9,
        }],
        present_value: 3.9,
        present_value_lower: None,
        present_value_upper: None,
        chance_of_loss: None,
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
            investment: 1.0,
        }],
        stock_reason: None,
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
    assert_eq!(book.sheet_names(), ["Summary", "Inputs", "Budget", "Stock"]);
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
