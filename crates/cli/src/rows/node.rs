//! A JSON value that keeps the order of its fields and the digits of its numbers.

use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};
use std::fmt;

/// A value.
#[derive(Debug, Clone, PartialEq)]
pub enum Node {
    Null,
    Text(String),
    /// A number or truth value as JSON writes it.
    Plain(String),
    List(Vec<Node>),
    Map(Vec<(String, Node)>),
}

impl Node {
    /// The field of a name.
    pub fn get(&self, name: &str) -> Option<&Node> {
        match self {
            Self::Map(entries) => entries.iter().find(|(n, _)| n == name).map(|(_, v)| v),
            _ => None,
        }
    }

    /// The value without the lists in it.
    pub fn without_lists(&self) -> Node {
        match self {
            Self::Map(entries) => {
                let kept = entries.iter().filter(|(_, v)| !matches!(v, Self::List(_)));
                Self::Map(kept.map(|(n, v)| (n.clone(), v.without_lists())).collect())
            }
            Self::List(_) => Self::Map(vec![]),
            other => other.clone(),
        }
    }

    /// The value as compact JSON.
    pub fn json(&self) -> String {
        let text = |t: &String| serde_json::Value::from(t.as_str()).to_string();
        match self {
            Self::Null => "null".to_owned(),
            Self::Text(t) => text(t),
            Self::Plain(t) => t.clone(),
            Self::List(items) => {
                let items: Vec<String> = items.iter().map(Self::json).collect();
                format!("[{}]", items.join(","))
            }
            Self::Map(entries) => {
                let entries = entries
                    .iter()
                    .map(|(n, v)| format!("{}:{}", text(n), v.json()));
                format!("{{{}}}", entries.collect::<Vec<_>>().join(","))
            }
        }
    }
}

impl<'de> Deserialize<'de> for Node {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(Reader)
    }
}

struct Reader;

impl<'de> Visitor<'de> for Reader {
    type Value = Node;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_unit<E>(self) -> Result<Node, E> {
        Ok(Node::Null)
    }

    fn visit_bool<E>(self, value: bool) -> Result<Node, E> {
        Ok(Node::Plain(value.to_string()))
    }

    fn visit_i64<E>(self, value: i64) -> Result<Node, E> {
        Ok(Node::Plain(value.to_string()))
    }

    fn visit_u64<E>(self, value: u64) -> Result<Node, E> {
        Ok(Node::Plain(value.to_string()))
    }

    fn visit_f64<E>(self, value: f64) -> Result<Node, E> {
        let number = serde_json::Number::from_f64(value);
        Ok(number.map_or(Node::Null, |n| Node::Plain(n.to_string())))
    }

    fn visit_str<E>(self, value: &str) -> Result<Node, E> {
        Ok(Node::Text(value.to_owned()))
    }

    fn visit_string<E>(self, value: String) -> Result<Node, E> {
        Ok(Node::Text(value))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Node, A::Error> {
        let mut items = vec![];
        while let Some(item) = list.next_element()? {
            items.push(item);
        }
        Ok(Node::List(items))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Node, A::Error> {
        let mut entries = vec![];
        while let Some(entry) = map.next_entry()? {
            entries.push(entry);
        }
        Ok(Node::Map(entries))
    }
}
