//! Small files that ask for much, made here from nothing.

use archive::{Part, zip};

#[path = "../fuzz/src/archive.rs"]
mod archive;

fn stored(name: &'static str, text: &str) -> Part<'static> {
    archive::stored(name, text.as_bytes())
}

/// `mebibytes` of spaces as a deflate stream (RFC 1951): the same packed block again and again.
fn bomb(mebibytes: usize) -> Vec<u8> {
    use miniz_oxide::deflate::core::{CompressorOxide, TDEFLFlush, compress};
    let spaces = vec![b' '; 1 << 20];
    let mut block = vec![0; 1 << 16];
    // A full flush ends at a byte and forgets what was before.
    let mut packer = CompressorOxide::default();
    packer.set_format_and_level(miniz_oxide::DataFormat::Raw, 9);
    let (_, _, written) = compress(&mut packer, &spaces, &mut block, TDEFLFlush::Full);
    block.truncate(written);
    let mut stream = block.repeat(mebibytes);
    stream.extend([3, 0]);
    stream
}

/// The parts of a workbook with one sheet.
fn workbook(sheet: &str) -> Vec<Part<'static>> {
    const MAIN: &str = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
    const OFFICE: &str = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
    const PACKAGE: &str = "http://schemas.openxmlformats.org/package/2006/relationships";
    let relation = |kind: &str, target: &str| {
        format!(
            "<Relationships xmlns=\"{PACKAGE}\"><Relationship Id=\"r1\" Type=\"{OFFICE}/{kind}\" \
             Target=\"{target}\"/></Relationships>"
        )
    };
    let book = format!(
        "<workbook xmlns=\"{MAIN}\" xmlns:r=\"{OFFICE}\"><sheets>\
         <sheet name=\"lives\" sheetId=\"1\" r:id=\"r1\"/></sheets></workbook>"
    );
    let sheet = format!("<worksheet xmlns=\"{MAIN}\"><sheetData>{sheet}</sheetData></worksheet>");
    vec![
        stored(
            "_rels/.rels",
            &relation("officeDocument", "xl/workbook.xml"),
        ),
        stored("xl/workbook.xml", &book),
        stored(
            "xl/_rels/workbook.xml.rels",
            &relation("worksheet", "worksheets/sheet1.xml"),
        ),
        stored("xl/worksheets/sheet1.xml", &sheet),
    ]
}

fn cell(place: &str, text: &str) -> String {
    format!("<c r=\"{place}\" t=\"inlineStr\"><is><t>{text}</t></is></c>")
}

fn rows() -> String {
    let head = format!(
        "<row r=\"1\">{}{}</row>",
        cell("A1", "time"),
        cell("B1", "status")
    );
    let one = format!(
        "<row r=\"2\">{}{}</row>",
        cell("A2", "120"),
        cell("B2", "failed")
    );
    let two = format!(
        "<row r=\"3\">{}{}</row>",
        cell("A3", "240"),
        cell("B3", "failed")
    );
    head + &one + &two
}

/// A sound workbook of two lives.
pub fn sound_sheet() -> Vec<u8> {
    zip(&workbook(&rows()))
}

/// Two lives, and a cell in the last row and column that a sheet has.
pub fn far_cell() -> Vec<u8> {
    let far = format!("<row r=\"1048576\">{}</row>", cell("XFD1048576", "x"));
    zip(&workbook(&(rows() + &far)))
}

/// A part that is kept in memory whole unpacks to 300 MiB, and claims `claimed` bytes.
pub fn bomb_of_texts(claimed: u32) -> Vec<u8> {
    let mut parts = workbook(&rows());
    parts.push(Part {
        name: "xl/sharedStrings.xml",
        packed: bomb(300),
        deflated: true,
        claimed,
        checksum: 0,
    });
    zip(&parts)
}

/// The sheet itself unpacks to 1.5 GiB.
pub fn bomb_of_rows() -> Vec<u8> {
    let mut parts = workbook(&rows());
    parts.pop();
    parts.push(Part {
        name: "xl/worksheets/sheet1.xml",
        packed: bomb(1_536),
        deflated: true,
        claimed: 1_536 << 20,
        checksum: 0,
    });
    zip(&parts)
}

/// The shared texts claim to be a million million.
pub fn many_texts() -> Vec<u8> {
    let mut parts = workbook(&rows());
    parts.push(stored(
        "xl/sharedStrings.xml",
        "<sst uniqueCount=\"1000000000000\"><si><t>x</t></si></sst>",
    ));
    zip(&parts)
}

/// The footer of a Parquet file, in Thrift's compact protocol (field header, zigzag number).
#[derive(Default)]
struct Footer(Vec<u8>);

impl Footer {
    fn byte(mut self, b: u8) -> Self {
        self.0.push(b);
        self
    }

    fn number(mut self, n: i64) -> Self {
        let mut left = ((n << 1) ^ (n >> 63)) as u64;
        while left >= 0x80 {
            self.0.push((left & 0x7F) as u8 | 0x80);
            left >>= 7;
        }
        self.0.push(left as u8);
        self
    }

    fn name(mut self, text: &str) -> Self {
        self.0.push(text.len() as u8);
        self.0.extend(text.as_bytes());
        self
    }
}

/// A Parquet file with one column of numbers in one row group, without the pages it speaks of.
pub fn parquet_claim(rows: i64, unpacked: i64) -> Vec<u8> {
    let footer = Footer::default()
        .byte(0x15)
        .number(1) // version
        .byte(0x19)
        .byte(0x2C) // schema: two elements
        .byte(0x48)
        .name("root")
        .byte(0x15)
        .number(1)
        .byte(0)
        .byte(0x15)
        .number(5)
        .byte(0x25)
        .number(0)
        .byte(0x18)
        .name("time")
        .byte(0)
        .byte(0x16)
        .number(rows) // rows
        .byte(0x19)
        .byte(0x1C) // row groups: one
        .byte(0x19)
        .byte(0x1C) // columns: one
        .byte(0x26)
        .number(4)
        .byte(0x1C) // offset, metadata
        .byte(0x15)
        .number(5)
        .byte(0x19)
        .byte(0x15)
        .number(0) // type, encodings
        .byte(0x19)
        .byte(0x18)
        .name("time") // path
        .byte(0x15)
        .number(0)
        .byte(0x16)
        .number(rows) // codec, values
        .byte(0x16)
        .number(unpacked)
        .byte(0x16)
        .number(8) // sizes
        .byte(0x26)
        .number(4)
        .byte(0)
        .byte(0) // first page; end of column
        .byte(0x16)
        .number(8)
        .byte(0x16)
        .number(rows)
        .byte(0) // row group
        .byte(0);
    parquet_file(&footer)
}

/// A Parquet file whose footer lists so many row groups and has so many empty ones.
pub fn parquet_lists(claimed: i64, there: usize) -> Vec<u8> {
    let mut footer = Footer::default().byte(0x49).byte(0xFC);
    // A length is not zigzagged: half of an even number's is.
    footer = match claimed % 2 {
        0 => footer.number(claimed / 2),
        _ => footer.number(-(claimed + 1) / 2),
    };
    footer.0.resize(footer.0.len() + there, 0);
    parquet_file(&footer.byte(0))
}

fn parquet_file(footer: &Footer) -> Vec<u8> {
    let mut file = b"PAR1\0\0\0\0\0\0\0\0".to_vec();
    file.extend(&footer.0);
    file.extend((footer.0.len() as u32).to_le_bytes());
    file.extend(b"PAR1");
    file
}

/// A Parquet file of zeros whose footer is said to be nearly all of it.
pub fn parquet_footer(mebibytes: usize) -> Vec<u8> {
    let mut file = vec![0; (mebibytes + 1) << 20];
    file.splice(..4, *b"PAR1");
    file.extend(((mebibytes << 20) as u32).to_le_bytes());
    file.extend(b"PAR1");
    file
}
