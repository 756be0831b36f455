//! A workbook around the cells of one sheet: parts stored unpacked, so that a changed cell is all that changes.

use super::archive::{stored, zip};

const MAIN: &str = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
const OFFICE: &str = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
const PACKAGE: &str = "http://schemas.openxmlformats.org/package/2006/relationships";

fn relation(kind: &str, target: &str) -> String {
    format!(
        "<Relationships xmlns=\"{PACKAGE}\"><Relationship Id=\"r1\" Type=\"{OFFICE}/{kind}\" \
         Target=\"{target}\"/></Relationships>"
    )
}

/// A workbook with these rows (`<row>...`), and four texts for cells to share.
pub fn around(rows: &[u8]) -> Vec<u8> {
    let book = format!(
        "<workbook xmlns=\"{MAIN}\" xmlns:r=\"{OFFICE}\"><sheets>\
         <sheet name=\"lives\" sheetId=\"1\" r:id=\"r1\"/></sheets></workbook>"
    );
    let texts = "<sst><si><t>time</t></si><si><t>status</t></si><si><t>failed</t></si>\
                 <si><t>running</t></si></sst>";
    let mut sheet = format!("<worksheet xmlns=\"{MAIN}\"><sheetData>").into_bytes();
    sheet.extend(rows);
    sheet.extend(b"</sheetData></worksheet>");
    let rels = relation("officeDocument", "xl/workbook.xml");
    let sheets = relation("worksheet", "worksheets/sheet1.xml");
    zip(&[
        stored("_rels/.rels", rels.as_bytes()),
        stored("xl/workbook.xml", book.as_bytes()),
        stored("xl/_rels/workbook.xml.rels", sheets.as_bytes()),
        stored("xl/sharedStrings.xml", texts.as_bytes()),
        stored("xl/worksheets/sheet1.xml", &sheet),
    ])
}
