//! The smallest XLSX workbooks: a stored zip of three parts, written by hand.

/// One cell of a sheet.
pub enum Cell {
    Text(&'static str),
    /// A day number, shown as a date.
    Day(f64),
    Empty,
}

/// A workbook of one sheet; `from_1904` sets its epoch.
pub fn book(rows: &[Vec<Cell>], from_1904: bool) -> Vec<u8> {
    let head = r#"<?xml version="1.0" encoding="UTF-8"?>"#;
    let main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
    let rel = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
    let pack = "http://schemas.openxmlformats.org/package/2006";
    let types = format!(
        r#"{head}<Types xmlns="{pack}/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/><Override PartName="/xl/styles.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"/></Types>"#
    );
    let root = format!(
        r#"{head}<Relationships xmlns="{pack}/relationships"><Relationship Id="rId1" Type="{rel}/officeDocument" Target="xl/workbook.xml"/></Relationships>"#
    );
    let epoch = if from_1904 {
        r#"<workbookPr date1904="1"/>"#
    } else {
        ""
    };
    let workbook = format!(
        r#"{head}<workbook xmlns="{main}" xmlns:r="{rel}">{epoch}<sheets><sheet name="Log" sheetId="1" r:id="rId1"/></sheets></workbook>"#
    );
    let rels = format!(
        r#"{head}<Relationships xmlns="{pack}/relationships"><Relationship Id="rId1" Type="{rel}/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="rId2" Type="{rel}/styles" Target="styles.xml"/></Relationships>"#
    );
    let styles = format!(
        r#"{head}<styleSheet xmlns="{main}"><cellXfs count="2"><xf numFmtId="0"/><xf numFmtId="14"/></cellXfs></styleSheet>"#
    );
    let sheet = format!(
        r#"{head}<worksheet xmlns="{main}"><sheetData>{}</sheetData></worksheet>"#,
        cells(rows)
    );
    zip(&[
        ("[Content_Types].xml", types),
        ("_rels/.rels", root),
        ("xl/workbook.xml", workbook),
        ("xl/_rels/workbook.xml.rels", rels),
        ("xl/styles.xml", styles),
        ("xl/worksheets/sheet1.xml", sheet),
    ])
}

fn cells(rows: &[Vec<Cell>]) -> String {
    let mut out = String::new();
    for (r, row) in (1..).zip(rows) {
        out.push_str(&format!(r#"<row r="{r}">"#));
        for (c, cell) in (b'A'..).zip(row) {
            let at = format!("{}{r}", char::from(c));
            match cell {
                Cell::Text(t) => out.push_str(&format!(
                    r#"<c r="{at}" t="inlineStr"><is><t>{t}</t></is></c>"#
                )),
                Cell::Day(v) => out.push_str(&format!(r#"<c r="{at}" s="1"><v>{v}</v></c>"#)),
                Cell::Empty => {}
            }
        }
        out.push_str("</row>");
    }
    out
}

fn zip(parts: &[(&str, String)]) -> Vec<u8> {
    let (mut out, mut index) = (Vec::new(), Vec::new());
    for (name, text) in parts {
        let at = out.len() as u32;
        let (size, sum) = (text.len() as u32, crc(text.as_bytes()));
        let mut common = Vec::new();
        common.extend([20, 0, 0, 0, 0, 0, 0, 0, 0x21, 0x58]);
        for value in [sum, size, size] {
            common.extend(value.to_le_bytes());
        }
        common.extend((name.len() as u16).to_le_bytes());
        common.extend([0, 0]);
        out.extend(b"PK\x03\x04");
        out.extend(&common);
        out.extend(name.as_bytes());
        out.extend(text.as_bytes());
        index.extend(b"PK\x01\x02\x14\x00");
        index.extend(&common);
        index.extend([0; 10]);
        index.extend(at.to_le_bytes());
        index.extend(name.as_bytes());
    }
    let (start, size, count) = (out.len() as u32, index.len() as u32, parts.len() as u16);
    out.extend(index);
    out.extend(b"PK\x05\x06\0\0\0\0");
    out.extend(count.to_le_bytes());
    out.extend(count.to_le_bytes());
    out.extend(size.to_le_bytes());
    out.extend(start.to_le_bytes());
    out.extend([0, 0]);
    out
}

fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |sum, b| {
        (0..8).fold(sum ^ u32::from(*b), |s, _| {
            (s >> 1) ^ (0xEDB8_8320 & (s & 1).wrapping_neg())
        })
    })
}
