//! Each crate imports only those on its left.

use std::process::Command;

const ORDER: [&str; 6] = [
    "sealspan-numeric",
    "sealspan-records",
    "sealspan-life",
    "sealspan-care",
    "sealspan-report",
    "sealspan-cli",
];

#[test]
fn imports_point_left_only() {
    let output = Command::new(env!("CARGO"))
        .args([
            "metadata",
            "--format-version",
            "1",
            "--no-deps",
            "--offline",
        ])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    let metadata: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let place = |name: &str| ORDER.iter().position(|o| *o == name);
    let mut seen = 0;
    for package in metadata["packages"].as_array().unwrap() {
        let Some(own) = package["name"].as_str().and_then(place) else {
            continue;
        };
        seen += 1;
        for dependency in package["dependencies"].as_array().unwrap() {
            let name = dependency["name"].as_str().unwrap();
            if let Some(other) = place(name) {
                assert!(other < own, "{} must not import {name}", ORDER[own]);
            }
        }
    }
    assert_eq!(seen, ORDER.len());
}
