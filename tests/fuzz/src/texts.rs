//! Files in TOML: studies and scenarios.

use super::tables::{Scratch, read};
use sealspan_care::scenario::Scenario;
use sealspan_records::Study;
use std::path::Path;

/// Invented tables that a study can name.
const SEALS: &str = "seal,asset,position,material,fitted,removed,outcome,reading\n\
    S1,T1,manway,EPDM,2023-01-10,2023-11-02,failed,10\n\
    S2,T1,manway,FKM,2023-11-02,,in service,20\n\
    S3,T2,door,NBR,03/04/2023,05/06/2024,blown,30\n\
    S4,T2,door,EPDM,2024-06-05,2024-09-01,worn,40\n";
const INSPECTIONS: &str =
    "seal,date,finding,thickness_mm\nS1,2023-05-01,sound,7.5\nS4,2024-09-01,worn,6\n";
const ASSETS: &str = "asset,site,records_from,records_to,temperature_c\nT1,A,2022-01-01,2024-12-31,75\nT2,B,2022-01-01,2024-12-31,60\n";
const LIVES: &str = "time,status,group\n100,failed,a\n250,running,b\n300,failed,b\n";

/// The text of a study, in a folder with tables that it may name.
pub fn study(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    if let Err(error) = Study::parse(&text, Path::new("study.toml")) {
        assert!(!error.message().is_empty() && !error.mend().is_empty());
        return;
    }
    // A study that names files elsewhere would have them read.
    if text.contains("..") || text.contains("/") || text.contains('\\') {
        return;
    }
    let folder = Scratch::new("study");
    std::fs::create_dir(&folder.0).unwrap();
    for (name, table) in [
        ("seals.csv", SEALS),
        ("inspections.csv", INSPECTIONS),
        ("assets.csv", ASSETS),
        ("lives.csv", LIVES),
        ("study.toml", text.as_ref()),
    ] {
        std::fs::write(folder.0.join(name), table).unwrap();
    }
    read(&folder.0.join("study.toml"));
}

/// The text of a scenario.
pub fn scenario(bytes: &[u8]) {
    match Scenario::from_toml(&String::from_utf8_lossy(bytes)) {
        Ok(scenario) => assert!(scenario.tanks() > 0),
        Err(error) => assert!(!error.to_string().is_empty()),
    }
}
