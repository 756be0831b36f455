//! A workbook around the cells of one sheet: parts stored unpacked, so that a changed cell is all that changes.

const MAIN: &str = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
const OFFICE: &str = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
const PACKAGE: &str = "http://schemas.openxmlformats.org/package/2006/relationships";

/// The checksum of ZIP files (CRC-32, ISO 3309).
fn checksum(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |crc, b| {
        (0..8).fold(crc ^ u32::from(*b), |c, _| {
            (c >> 1) ^ (0xEDB8_8320 & 0_u32.wrapping_sub(c & 1))
        })
    })
}

fn zip(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let (mut all, mut directory) = (Vec::new(), Vec::new());
    for (name, bytes) in parts {
        let mut common = vec![20, 0, 0, 0, 0, 0, 0, 0, 0x21, 0];
        let size = bytes.len() as u32;
        for n in [checksum(bytes), size, size] {
            common.extend(n.to_le_bytes());
        }
        common.extend((name.len() as u16).to_le_bytes());
        common.extend([0, 0]);
        directory.extend(b"PK\x01\x02\x14\x00");
        directory.extend(&common);
        directory.extend([0; 10]);
        directory.extend((all.len() as u32).to_le_bytes());
        directory.extend(name.as_bytes());
        all.extend(b"PK\x03\x04");
        all.extend(&common);
        all.extend(name.as_bytes());
        all.extend(*bytes);
    }
    let count = (parts.len() as u16).to_le_bytes();
    let (size, start) = (directory.len() as u32, all.len() as u32);
    all.extend(directory);
    all.extend(b"PK\x05\x06\0\0\0\0");
    all.extend([count, count].concat());
    all.extend([size.to_le_bytes(), start.to_le_bytes()].concat());
    all.extend([0, 0]);
    all
}

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
    zip(&[
        (
            "_rels/.rels",
            relation("officeDocument", "xl/workbook.xml").as_bytes(),
        ),
        ("xl/workbook.xml", book.as_bytes()),
        (
            "xl/_rels/workbook.xml.rels",
            relation("worksheet", "worksheets/sheet1.xml").as_bytes(),
        ),
        ("xl/sharedStrings.xml", texts.as_bytes()),
        ("xl/worksheets/sheet1.xml", &sheet),
    ])
}
