//! Formats, and cells that no text can turn into a formula.

use rust_xlsxwriter::{Color, Format, FormatAlign, FormatBorder, Formula, Worksheet, XlsxError};

/// Height of a row of heads that may run over three lines, points.
pub const HEAD_HEIGHT: f64 = 48.0;

/// Number formats and styles of the workbook.
pub struct Looks {
    pub title: Format,
    pub head: Format,
    pub plain: Format,
    pub quoted: Format,
    pub note: Format,
    pub money: Format,
    pub input: Format,
    pub input_share: Format,
    pub day: Format,
    pub count: Format,
    pub precise: Format,
    pub share: Format,
    pub whole: Format,
    pub sum: Format,
}

impl Looks {
    pub fn new(currency: &str) -> Self {
        // A currency goes into the format as a quoted literal, so it cannot end the format early.
        let sign: String = currency
            .chars()
            .filter(|c| !matches!(c, '"' | '\\'))
            .collect();
        let money = format!("\"{sign}\" #,##0.00;[Red]-\"{sign}\" #,##0.00");
        let money = Format::new().set_num_format(&money);
        Self {
            title: Format::new().set_bold().set_font_size(14),
            head: Format::new()
                .set_bold()
                .set_text_wrap()
                .set_align(FormatAlign::Top)
                .set_border_bottom(FormatBorder::Thin),
            plain: Format::new().set_indent(1),
            quoted: Format::new().set_quote_prefix().set_indent(1),
            note: Format::new().set_text_wrap().set_align(FormatAlign::Top),
            input: Format::new()
                .set_background_color(Color::RGB(0xFFF6D6))
                .set_num_format("#,##0.00##"),
            input_share: Format::new()
                .set_background_color(Color::RGB(0xFFF6D6))
                .set_num_format("0.0##%"),
            day: Format::new().set_num_format("yyyy-mm-dd"),
            count: Format::new().set_num_format("#,##0.00"),
            precise: Format::new().set_num_format("0.0000"),
            // A share that would round to all of them is said not to be.
            share: Format::new().set_num_format("[>=0.99995]\"over 99.99%\";0.00%"),
            whole: Format::new().set_num_format("0"),
            sum: money.clone().set_bold().set_border_top(FormatBorder::Thin),
            money,
        }
    }

    /// Text, always as text; what a program might take for a formula also carries the mark that forbids it.
    pub fn text(
        &self,
        sheet: &mut Worksheet,
        row: u32,
        column: u16,
        text: &str,
    ) -> Result<(), XlsxError> {
        let risky = text
            .trim_start()
            .starts_with(['=', '+', '-', '@', '\t', '\r']);
        let format = if risky { &self.quoted } else { &self.plain };
        sheet.write_string_with_format(row, column, text, format)?;
        Ok(())
    }

    /// A row of column heads.
    pub fn heads<S: AsRef<str>>(
        &self,
        sheet: &mut Worksheet,
        row: u32,
        heads: &[S],
    ) -> Result<(), XlsxError> {
        for (column, head) in (0u16..).zip(heads) {
            sheet.write_string_with_format(row, column, head.as_ref(), &self.head)?;
        }
        Ok(())
    }

    /// An amount that may not be known.
    pub fn money_or_unknown(
        &self,
        sheet: &mut Worksheet,
        row: u32,
        column: u16,
        amount: Option<f64>,
    ) -> Result<(), XlsxError> {
        match amount {
            Some(money) => sheet.write_number_with_format(row, column, money, &self.money)?,
            None => sheet.write_string(row, column, "not known")?,
        };
        Ok(())
    }
}

/// A formula with the value it has now.
pub fn live(
    sheet: &mut Worksheet,
    row: u32,
    column: u16,
    formula: &str,
    value: f64,
    format: &Format,
) -> Result<(), XlsxError> {
    let formula = Formula::new(formula).set_result(number(value));
    sheet.write_formula_with_format(row, column, formula, format)?;
    Ok(())
}

/// Shortest digits that give the same number back.
fn number(value: f64) -> String {
    format!("{value}")
}
