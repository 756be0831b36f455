//! Names that try to act, in every text column of the records, through the final files of a report and the terminal:
//! nothing acts, and nothing is lost where the format can hold it.

use super::{Run, file, sealspan};
use calamine::{Data, Reader as _, Xlsx, open_workbook};
use polars::prelude::*;
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// Invented names; each goes into every column of text.
fn names() -> [String; 7] {
    [
        "</script><script>alert(1)</script>".to_owned(),
        "=HYPERLINK(\"http://a.b\",\"x\")".to_owned(),
        "a\u{202e}gnp.exe\u{200f}".to_owned(),
        format!("L{}g", "o".repeat(9_998)),
        "seal \u{1f600} 漢 שלום".to_owned(),
        "two\nerror: lines".to_owned(),
        "\u{1b}[31m[x](http://a.b) $x$ |_*` '=1".to_owned(),
    ]
}

fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('"', "\"\""))
}

/// Seals of each kind of cleaning.
const SEALS: usize = 20;
/// The last day of the records, counted from 1970-01-01.
const CUT_OFF: i32 = 19_650;

/// Whole numbers below a bound, the same every time: a linear congruence, its low bits left out.
struct Draws(u64);

impl Draws {
    fn below(&mut self, bound: u64) -> u64 {
        self.0 = (self.0 * 1_103_515_245 + 12_345) % (1 << 31);
        (self.0 >> 8) % bound
    }

    fn name(&mut self) -> String {
        let names = names();
        names[usize::try_from(self.below(names.len() as u64)).unwrap()].clone()
    }

    fn days(&mut self, bound: u64) -> i32 {
        i32::try_from(self.below(bound)).unwrap()
    }
}

/// Invented seals with invented lives; every column of text holds every name.
fn study() -> &'static PathBuf {
    static MADE: OnceLock<PathBuf> = OnceLock::new();
    MADE.get_or_init(|| {
        let mut draws = Draws(12_345);
        let mut seals =
            "seal,asset,position,material,batch,cleaning,mechanism,fitted,removed,outcome\n"
                .to_owned();
        let mut assets = "asset,site,product\n".to_owned();
        for i in 0..SEALS * names().len() {
            let numbered = |name: String| quoted(&format!("{name} {i}"));
            let asset = numbered(draws.name());
            let seal = numbered(draws.name());
            // Batches of one seal: charts of batches over time would take longer than all the rest.
            let batch = numbered(draws.name());
            let [position, material, mechanism, site, product] =
                std::array::from_fn(|_| quoted(&draws.name()));
            let cleaning = quoted(&names()[i % names().len()]);
            let start = 19_000 + draws.days(400);
            let end = start + 60 + draws.days(300) + draws.days(300);
            let (removed, outcome) = match end > CUT_OFF {
                true => (String::new(), "in_service"),
                false => (day(end), "failed"),
            };
            let fitted = day(start);
            let _ = writeln!(
                seals,
                "{seal},{asset},{position},{material},{batch},{cleaning},{mechanism},{fitted},{removed},{outcome}"
            );
            let _ = writeln!(assets, "{asset},{site},{product}");
        }
        file("hostile/seals.csv", seals.as_bytes());
        file("hostile/assets.csv", assets.as_bytes());
        let title = "</script> =1+1 \\u202e two";
        let text = format!(
            "title = \"{title}\"\ncurrency = \"EUR\"\ninvented = true\ncut_off = \"{}\"\n[files]\nseals = \"seals.csv\"\nassets = \"assets.csv\"\n[question]\nby = [\"cleaning\"]\n[costs]\nseal_price = 38\nfitting_labour = 45\nplanned_hours = 1.5\nfailure_hours = 9\ndowntime_cost_per_hour = 270\n[stock]\nlead_time_days = 6\ncarrying_rate_per_year = 0.2\n[forecast]\nhorizon_days = 365\n",
            day(CUT_OFF)
        );
        file("hostile/study.toml", text.as_bytes())
    })
}

/// A day by its number since 1970-01-01.
fn day(number: i32) -> String {
    let date = AnyValue::Date(number).to_string();
    assert_eq!(date.len(), 10, "{date}");
    date
}

/// The report of the hostile study.
fn report() -> &'static PathBuf {
    static MADE: OnceLock<PathBuf> = OnceLock::new();
    MADE.get_or_init(|| {
        let out = study().with_file_name("report");
        let run = run(&["report"], &["--out", out.to_str().unwrap()]);
        assert_eq!(run.status, 0, "{}", run.err);
        out
    })
}

fn run(command: &[&str], rest: &[&str]) -> Run {
    let study = study().to_str().unwrap();
    sealspan(&[command, &[study], rest].concat())
}

fn text(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

fn found_in(column: &StringChunked) -> BTreeSet<String> {
    column.iter().flatten().map(str::to_owned).collect()
}

fn wanted() -> BTreeSet<String> {
    names().into_iter().collect()
}

#[test]
fn tables_keep_every_name_and_hold_no_formula() {
    let tables = report().join("tables");
    let mut read = 0;
    for entry in std::fs::read_dir(&tables).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|e| e == "csv") {
            let mut reader = csv::Reader::from_path(&path).unwrap();
            for cell in reader
                .records()
                .flat_map(|r| r.unwrap().iter().map(str::to_owned).collect::<Vec<_>>())
            {
                let acts = cell.starts_with(['=', '+', '@', '\t', '\r', '\n']);
                let number = cell.parse::<f64>().is_ok();
                assert!(
                    !acts && (number || !cell.starts_with('-')),
                    "{}: {cell:.60}",
                    path.display()
                );
            }
            read += 1;
        }
    }
    assert!(read > 5, "{read} tables");
    let mut reader = csv::Reader::from_path(tables.join("survival.csv")).unwrap();
    let plain = |cell: &str| {
        let formula = cell.strip_prefix('\'').filter(|rest| {
            rest.trim_start_matches('\'')
                .starts_with(['=', '+', '-', '@', '\t', '\r', '\n'])
        });
        formula.unwrap_or(cell).to_owned()
    };
    let in_csv: BTreeSet<String> = reader.records().map(|r| plain(&r.unwrap()[0])).collect();
    assert_eq!(in_csv, wanted());
    let bytes = std::fs::File::open(tables.join("survival.parquet")).unwrap();
    let frame = ParquetReader::new(bytes).finish().unwrap();
    assert_eq!(
        found_in(frame.column("group").unwrap().str().unwrap()),
        wanted()
    );
    assert!(frame.column("survival").unwrap().dtype() == &DataType::Float64);
}

#[test]
fn json_keeps_every_name() {
    let json: serde_json::Value =
        serde_json::from_str(&text(&report().join("results.json"))).unwrap();
    let groups = json["fit"]["groups"].as_array().unwrap();
    let names: BTreeSet<String> = groups
        .iter()
        .map(|g| g["group"]["cleaning"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(names, wanted());
}

#[test]
fn figures_hold_no_markup_of_others() {
    let mut count = 0;
    for entry in std::fs::read_dir(report().join("figures")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|e| e == "svg") {
            let svg = text(&path);
            assert!(
                !svg.contains("<script") && !svg.contains("</script"),
                "{}",
                path.display()
            );
            assert!(
                !svg.contains("<a ") && !svg.contains(" href="),
                "{}",
                path.display()
            );
            // The image is drawn from this text by a reader of XML: it would have failed on any that is not well formed.
            let png = std::fs::read(path.with_extension("png")).unwrap();
            assert!(png.starts_with(b"\x89PNG") && png.len() > 1_000);
            count += 1;
        }
    }
    assert!(count > 3, "{count} figures");
}

#[test]
fn the_workbook_holds_names_as_text() {
    let mut book: Xlsx<_> = open_workbook(report().join("plan.xlsx")).unwrap();
    let mut cells = BTreeSet::new();
    for sheet in book.sheet_names() {
        for (_, _, formula) in book.worksheet_formula(&sheet).unwrap().used_cells() {
            assert!(!formula.contains("HYPERLINK"), "{formula}");
        }
        for (_, _, cell) in book.worksheet_range(&sheet).unwrap().used_cells() {
            if let Data::String(text) = cell {
                cells.insert(text.clone());
            }
        }
    }
    for name in names() {
        // Sheets cannot hold every control character; the workbook's format writes them as codes.
        let held = cells.iter().any(|c| c.contains(&name));
        assert!(
            held || name.contains('\u{1b}'),
            "{name:.40} in {cells:.300?}"
        );
    }
}

#[test]
fn the_notebook_holds_words_only() {
    let notebook: serde_json::Value =
        serde_json::from_str(&text(&report().join("notebook.ipynb"))).unwrap();
    let mut markdown = 0;
    for cell in notebook["cells"].as_array().unwrap() {
        let source: String = cell["source"]
            .as_array()
            .unwrap()
            .iter()
            .map(|l| l.as_str().unwrap())
            .collect();
        if cell["cell_type"] == "markdown" {
            for sign in ["<script", "</", "](", "://", "$", "\u{202e}", "\u{1b}"] {
                assert!(!source.contains(sign), "{sign} in {source:.300}");
            }
            assert!(!source.contains("\nerror: lines"));
            markdown += 1;
        }
        for output in cell["outputs"].as_array().into_iter().flatten() {
            let html = output.pointer("/data/text~1html");
            assert!(html.is_none(), "outputs hold no HTML");
            let printed = output["text"].as_array().into_iter().flatten();
            for line in printed {
                assert!(!line.as_str().unwrap().contains(['\u{202e}', '\u{1b}']));
            }
        }
    }
    assert!(markdown > 5);
}

/// The text that a reader of a page sees: no scripts, styles or marks, entities resolved.
fn page_words(html: &str) -> String {
    let mut out = String::new();
    let mut rest = html;
    while let Some(at) = rest.find('<') {
        out.push_str(&rest[..at]);
        let tag = &rest[at..];
        let unread = ["script", "style"].into_iter().find(|t| {
            let name = tag[1..].get(..t.len());
            name.is_some_and(|n| n.eq_ignore_ascii_case(t))
        });
        let end = match unread {
            Some(name) => format!("</{name}>"),
            None => ">".to_owned(),
        };
        let after = tag.find(&end).map_or(tag.len(), |i| i + end.len());
        rest = &tag[after..];
    }
    out.push_str(rest);
    let entities = [
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("&quot;", "\""),
        ("&#x27;", "'"),
        ("&#39;", "'"),
        ("&#x2f;", "/"),
        ("&amp;", "&"),
    ];
    entities
        .iter()
        .fold(out, |text, (entity, sign)| text.replace(entity, sign))
}

/// A name as a page can hold it: escape, which XML and HTML refuse, as its code.
fn held(name: &str) -> String {
    name.replace('\u{1b}', "\\u{1b}")
}

/// Names are read on the page whole, and none of them is mark-up; marks of direction end where they stand.
#[test]
fn the_page_shows_every_name() {
    let html = text(&report().join("report.html"));
    let words = page_words(&html);
    for name in names() {
        assert!(words.contains(&held(&name)), "{name:.60}");
        assert!(
            !name.contains("<script>") || !html.contains(&name),
            "{name}"
        );
    }
    let marks = html.matches('\u{202e}').count();
    assert!(marks > 0 && !html.contains('\u{1b}'));
    // The title of the window stands alone.
    let body = html
        .split_once("<body")
        .unwrap()
        .1
        .split("<svg")
        .map(|part| part.split_once("</svg>").map_or(part, |(_, t)| t));
    for part in body {
        let part = part.split("<script").next().unwrap();
        let alone = part.matches("<bdi>\u{202e}</bdi>").count();
        assert_eq!(part.matches('\u{202e}').count(), alone);
    }
}

/// The figures' words and the terminal's hold every name, what acts in them as its code.
#[test]
fn figures_and_the_terminal_lose_no_name() {
    let mut drawn = String::new();
    for entry in std::fs::read_dir(report().join("figures")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|e| e == "svg") {
            drawn.push_str(&page_words(&text(&path)));
        }
    }
    let fit = run(&["fit"], &["--by", "cleaning"]);
    for name in names().iter().filter(|n| n.len() < 100) {
        let shown = sealspan_report::visible::visible(name);
        assert!(drawn.contains(&shown), "{shown} in no figure");
        assert!(fit.out.contains(&shown), "{shown} not in the terminal");
    }
}

#[test]
fn sheets_stay_on_one_page_and_do_nothing() {
    for name in ["decision.pdf", "intervals.pdf"] {
        let bytes = std::fs::read(report().join(name)).unwrap();
        let holds = |what: &[u8]| bytes.windows(what.len()).filter(|w| *w == what).count();
        assert_eq!(holds(b"/Type /Page\n") + holds(b"/Type/Page/"), 1, "{name}");
        for sign in [
            &b"/JavaScript"[..],
            b"/URI",
            b"/Launch",
            b"/OpenAction",
            b"/Annots",
        ] {
            assert_eq!(holds(sign), 0, "{name}: {}", String::from_utf8_lossy(sign));
        }
    }
}

#[test]
fn the_terminal_shows_codes() {
    for (command, rest) in [
        ("check", &[][..]),
        ("fit", &["--by", "cleaning"]),
        ("fit", &["--by", "cleaning", "--format", "markdown"]),
        ("intervals", &["--by", "cleaning"]),
        ("stock", &[]),
        ("forecast", &["--horizon", "365"]),
    ] {
        let run = run(&[command], rest);
        assert_eq!(run.status, 0, "{command}: {}", run.err);
        let acts = |c: char| c != '\n' && sealspan_report::visible::acts(c);
        assert!(!run.out.contains(acts), "{command} {rest:?}");
        assert!(
            !run.out.lines().any(|l| l.starts_with("error: lines")),
            "{command} {rest:?}"
        );
    }
}

#[test]
fn rows_for_programs_keep_every_name() {
    let run = run(&["fit"], &["--by", "cleaning", "--format", "csv"]);
    assert_eq!(run.status, 0, "{}", run.err);
    let mut reader = csv::Reader::from_reader(run.out.as_bytes());
    let at = reader
        .headers()
        .unwrap()
        .iter()
        .position(|h| h == "group.cleaning")
        .unwrap();
    let cells: Vec<String> = reader
        .records()
        .map(|r| r.unwrap()[at].to_owned())
        .collect();
    assert!(cells.iter().all(|c| !c.starts_with('=')), "{:.100?}", cells);
    let plain = cells.iter().map(|c| match c.strip_prefix("'=") {
        Some(rest) => format!("={rest}"),
        None => c.clone(),
    });
    assert_eq!(plain.collect::<BTreeSet<_>>(), wanted());
}
