//! JSON in which no `null` stands without a word.
//!
//! Most of the documents say themselves why a number is missing, in a `reason` beside it. What is left are keys whose
//! absence always means the same, such as a policy without looks: their words stand here once, and are written as
//! `KEY_reason` at the end of the object.

use crate::error::{Error, Result};
use serde::Serialize;
use serde_json::ser::{CompactFormatter, Formatter, PrettyFormatter, Serializer};
use std::io::{self, Write};

/// What it means when a key has no value.
const ABSENT: [(&str, &str); 27] = [
    ("inspect_every", "no looks at intervals are part of it"),
    ("turn_every", "no turns are part of it"),
    ("replace_at", "no replacement by age is part of it"),
    ("today_age", "no replacement age of today is stated"),
    (
        "flips_below",
        "no lower value that was tried makes another policy over 2 % better",
    ),
    (
        "flips_above",
        "no higher value that was tried makes another policy over 2 % better",
    ),
    (
        "detection",
        "planned in one stage: looks have no defect to find",
    ),
    (
        "flat_zone",
        "an open side: no step tried that way is over 2 % dearer; none at all: the step was given, or none is best",
    ),
    ("keeps_limits", "no limit was asked for"),
    ("chance_of_keeping_limits", "no limit was asked for"),
    (
        "present_value",
        "no discount rate is stated, or as left_out_reason has it",
    ),
    (
        "proportionality_p_value",
        "no drift with age is tested for this fit",
    ),
    ("alarm", "its chart never reached the limit"),
    ("to", "the last band: it has no end"),
    (
        "extra_hours_per_year",
        "demands beyond the stock go urgent, so none waits for the normal order",
    ),
    (
        "predictive",
        "no draws of one life: several groups added up, or a stated life",
    ),
    ("file", "no file is at fault"),
    ("row", "it is not about one row"),
    ("column", "it is not about one column"),
    (
        "cut_off",
        "plain lives carry no dates, so their records have no last day",
    ),
    (
        "condition",
        "the study names no property measured at looks with its limit ([condition])",
    ),
    (
        "ageing",
        "the study names no table of ovens with its limit ([ageing])",
    ),
    (
        "heat",
        "no temperature column with three temperatures or more stands in a regression of these records",
    ),
    (
        "scatter",
        "cannot be told: fewer than three temperatures, very many, or one with too few failures for a life of its own",
    ),
    (
        "energy_allowing_for_scatter_ev",
        "the temperatures scatter about the line no more than chance has it, as far as can be told",
    ),
    (
        "bend_p_value",
        "too few temperatures, or too few failures at some of them, to test for a bend",
    ),
    (
        "blurred",
        "nothing is held constant beside temperature, or how far it blurs cannot be told",
    ),
];

/// Writes a value on one line.
///
/// # Errors
/// When it cannot be written.
///
/// ```
/// use sealspan_report::render::json::compact;
/// let mut out = vec![];
/// compact(&mut out, &std::collections::BTreeMap::from([("alarm", None::<f64>)]))?;
/// let told = r#"{"alarm":null,"alarm_reason":"its chart never reached the limit"}"#;
/// assert_eq!(String::from_utf8_lossy(&out), told);
/// # Ok::<(), serde_json::Error>(())
/// ```
pub fn compact(out: &mut dyn Write, value: &impl Serialize) -> serde_json::Result<()> {
    value.serialize(&mut Serializer::with_formatter(
        out,
        Explained::new(CompactFormatter),
    ))
}

/// A value as indented JSON with a line feed at the end.
///
/// # Errors
/// When the value cannot be written as JSON.
pub(crate) fn pretty(value: &impl Serialize) -> Result<Vec<u8>> {
    let mut bytes = vec![];
    let formatter = Explained::new(PrettyFormatter::new());
    let mut serializer = Serializer::with_formatter(&mut bytes, formatter);
    value.serialize(&mut serializer).map_err(Error::render)?;
    bytes.push(b'\n');
    Ok(bytes)
}

/// An object or a list on the way.
#[derive(Default)]
struct Open {
    list: bool,
    key: String,
    in_key: bool,
    /// Keys whose value was null, and keys of reasons that were given.
    absent: Vec<String>,
    reasons: Vec<String>,
}

impl Open {
    /// Keys without a value that nothing beside them explains, with their words.
    fn unexplained(&self) -> Vec<(String, &'static str)> {
        let said = |key: &str| {
            self.reasons.iter().any(|r| {
                r == "reason"
                    || r.strip_suffix("_reason")
                        .is_some_and(|part| key.starts_with(part))
            })
        };
        let word = |key: &String| {
            let known = ABSENT.iter().find(|(k, _)| k == key)?;
            Some((format!("{key}_reason"), known.1))
        };
        let open = self.absent.iter().filter(|key| !said(key));
        open.filter_map(word).collect()
    }
}

/// A formatter that adds the words.
struct Explained<F> {
    inner: F,
    open: Vec<Open>,
}

impl<F> Explained<F> {
    fn new(inner: F) -> Self {
        Self {
            inner,
            open: vec![],
        }
    }

    /// The object whose key was just written.
    fn of_value(&mut self) -> Option<&mut Open> {
        self.open.last_mut().filter(|o| !o.list && !o.in_key)
    }
}

impl<F: Formatter> Formatter for Explained<F> {
    fn write_null<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        // A list explains nothing itself: its object does, by the list's key.
        let object = self.open.iter_mut().rev().find(|o| !o.list);
        if let Some(open) = object.filter(|o| !o.in_key && !o.absent.contains(&o.key)) {
            open.absent.push(open.key.clone());
        }
        self.inner.write_null(out)
    }

    fn begin_string<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        if let Some(open) = self.of_value()
            && open.key.ends_with("reason")
        {
            open.reasons.push(open.key.clone());
        }
        self.inner.begin_string(out)
    }

    fn write_string_fragment<W: ?Sized + Write>(
        &mut self,
        out: &mut W,
        fragment: &str,
    ) -> io::Result<()> {
        if let Some(open) = self.open.last_mut().filter(|o| o.in_key) {
            open.key.push_str(fragment);
        }
        self.inner.write_string_fragment(out, fragment)
    }

    fn begin_array<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.open.push(Open {
            list: true,
            ..Open::default()
        });
        self.inner.begin_array(out)
    }

    fn end_array<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.open.pop();
        self.inner.end_array(out)
    }

    fn begin_array_value<W: ?Sized + Write>(&mut self, out: &mut W, first: bool) -> io::Result<()> {
        self.inner.begin_array_value(out, first)
    }

    fn end_array_value<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.inner.end_array_value(out)
    }

    fn begin_object<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.open.push(Open::default());
        self.inner.begin_object(out)
    }

    fn end_object<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        let open = self.open.pop().unwrap_or_default();
        for (key, words) in open.unexplained() {
            self.inner.begin_object_key(out, false)?;
            write!(out, "\"{key}\"")?;
            self.inner.end_object_key(out)?;
            self.inner.begin_object_value(out)?;
            write!(out, "\"{words}\"")?;
            self.inner.end_object_value(out)?;
        }
        self.inner.end_object(out)
    }

    fn begin_object_key<W: ?Sized + Write>(&mut self, out: &mut W, first: bool) -> io::Result<()> {
        if let Some(open) = self.open.last_mut() {
            open.key.clear();
            open.in_key = true;
        }
        self.inner.begin_object_key(out, first)
    }

    fn end_object_key<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        if let Some(open) = self.open.last_mut() {
            open.in_key = false;
        }
        self.inner.end_object_key(out)
    }

    fn begin_object_value<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.inner.begin_object_value(out)
    }

    fn end_object_value<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.inner.end_object_value(out)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn written(value: &serde_json::Value) -> String {
        let mut out = vec![];
        compact(&mut out, value).unwrap_or_default();
        String::from_utf8(out).unwrap_or_default()
    }

    #[test]
    fn a_known_key_gets_its_words_once() {
        let words = ABSENT.iter().find(|a| a.0 == "inspect_every");
        let words = words.map_or("", |a| a.1);
        let bare = json!({"a": {"inspect_every": null}, "list": [null, {"inspect_every": 3.0}]});
        assert_eq!(
            written(&bare),
            format!(
                r#"{{"a":{{"inspect_every":null,"inspect_every_reason":"{words}"}},"list":[null,{{"inspect_every":3.0}}]}}"#
            )
        );
        // What explains itself is left alone, and so is what nobody knows the meaning of.
        for same in [
            json!({"inspect_every": null, "reason": "because"}),
            json!({"inspect_every": null, "inspect_reason": "because"}),
            json!({"unheard_of": null}),
            json!([]),
            json!({}),
        ] {
            assert_eq!(written(&same), same.to_string());
        }
    }

    #[test]
    fn an_open_side_of_a_list_is_explained_by_its_object() {
        let text = written(&json!({"flat_zone": [null, null], "other": [[null]]}));
        assert_eq!(text.matches("flat_zone_reason").count(), 1);
        assert!(!text.contains("other_reason"));
    }

    #[test]
    fn what_is_written_reads_back_either_way() {
        let value = json!({"inspect_every": null, "b": ["x\"y", {"c": null}]});
        let pretty = pretty(&value).unwrap_or_default();
        let [a, b] = [pretty, written(&value).into_bytes()]
            .map(|bytes| serde_json::from_slice::<serde_json::Value>(&bytes).unwrap_or_default());
        assert_eq!(a, b);
        assert!(a["inspect_every_reason"].is_string());
    }
}
