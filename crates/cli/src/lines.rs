//! Names of a document that hold a line feed: printed as they are they could pass for lines of ours.

use sealspan_report::visible::visible;
use serde::ser::{self, Serialize};
use std::collections::BTreeSet;
use std::fmt;

/// The text with every string of the document that holds a line feed written with codes.
pub fn joined<D: Serialize>(document: &D, text: String) -> String {
    let mut found = Found(BTreeSet::new());
    // Nothing here can fail; a document that cannot be written at all fails where it is written.
    let _ = document.serialize(&mut found);
    let mut longest: Vec<String> = found.0.into_iter().collect();
    longest.sort_by_key(|s| std::cmp::Reverse(s.len()));
    longest.iter().fold(text, |text, broken| {
        text.replace(broken.as_str(), &visible(broken))
    })
}

/// Strings with a line feed; a walk over the document that looks at nothing else.
struct Found(BTreeSet<String>);

/// A failure of a document's own.
#[derive(Debug)]
struct Failed(String);

impl fmt::Display for Failed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for Failed {}

impl ser::Error for Failed {
    fn custom<T: fmt::Display>(why: T) -> Self {
        Self(why.to_string())
    }
}

type Done = Result<(), Failed>;

macro_rules! ignore {
    ($($name:ident: $kind:ty),*) => {
        $(fn $name(self, _: $kind) -> Done { Ok(()) })*
    };
}

impl ser::Serializer for &mut Found {
    type Ok = ();
    type Error = Failed;
    type SerializeSeq = Self;
    type SerializeTuple = Self;
    type SerializeTupleStruct = Self;
    type SerializeTupleVariant = Self;
    type SerializeMap = Self;
    type SerializeStruct = Self;
    type SerializeStructVariant = Self;

    ignore!(
        serialize_bool: bool, serialize_i8: i8, serialize_i16: i16, serialize_i32: i32, serialize_i64: i64,
        serialize_u8: u8, serialize_u16: u16, serialize_u32: u32, serialize_u64: u64, serialize_f32: f32,
        serialize_f64: f64, serialize_char: char, serialize_bytes: &[u8], serialize_unit_struct: &'static str
    );

    fn serialize_str(self, text: &str) -> Done {
        if text.contains('\n') {
            self.0.insert(text.to_owned());
        }
        Ok(())
    }

    fn serialize_none(self) -> Done {
        Ok(())
    }

    fn serialize_some<T: Serialize + ?Sized>(self, value: &T) -> Done {
        value.serialize(self)
    }

    fn serialize_unit(self) -> Done {
        Ok(())
    }

    fn serialize_unit_variant(self, _: &'static str, _: u32, _: &'static str) -> Done {
        Ok(())
    }

    fn serialize_newtype_struct<T: Serialize + ?Sized>(self, _: &'static str, value: &T) -> Done {
        value.serialize(self)
    }

    fn serialize_newtype_variant<T: Serialize + ?Sized>(
        self,
        _: &'static str,
        _: u32,
        _: &'static str,
        value: &T,
    ) -> Done {
        value.serialize(self)
    }

    fn serialize_seq(self, _: Option<usize>) -> Result<Self, Failed> {
        Ok(self)
    }

    fn serialize_tuple(self, _: usize) -> Result<Self, Failed> {
        Ok(self)
    }

    fn serialize_tuple_struct(self, _: &'static str, _: usize) -> Result<Self, Failed> {
        Ok(self)
    }

    fn serialize_tuple_variant(
        self,
        _: &'static str,
        _: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Self, Failed> {
        Ok(self)
    }

    fn serialize_map(self, _: Option<usize>) -> Result<Self, Failed> {
        Ok(self)
    }

    fn serialize_struct(self, _: &'static str, _: usize) -> Result<Self, Failed> {
        Ok(self)
    }

    fn serialize_struct_variant(
        self,
        _: &'static str,
        _: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Self, Failed> {
        Ok(self)
    }
}

macro_rules! walk {
    ($($kind:ident: $step:ident),*) => {
        $(impl ser::$kind for &mut Found {
            type Ok = ();
            type Error = Failed;

            fn $step<T: Serialize + ?Sized>(&mut self, value: &T) -> Done {
                value.serialize(&mut **self)
            }

            fn end(self) -> Done {
                Ok(())
            }
        })*
    };
}

walk!(
    SerializeSeq: serialize_element, SerializeTuple: serialize_element, SerializeTupleStruct: serialize_field,
    SerializeTupleVariant: serialize_field
);

macro_rules! walk_named {
    ($($kind:ident),*) => {
        $(impl ser::$kind for &mut Found {
            type Ok = ();
            type Error = Failed;

            fn serialize_field<T: Serialize + ?Sized>(&mut self, _: &'static str, value: &T) -> Done {
                value.serialize(&mut **self)
            }

            fn end(self) -> Done {
                Ok(())
            }
        })*
    };
}

walk_named!(SerializeStruct, SerializeStructVariant);

impl ser::SerializeMap for &mut Found {
    type Ok = ();
    type Error = Failed;

    fn serialize_key<T: Serialize + ?Sized>(&mut self, key: &T) -> Done {
        key.serialize(&mut **self)
    }

    fn serialize_value<T: Serialize + ?Sized>(&mut self, value: &T) -> Done {
        value.serialize(&mut **self)
    }

    fn end(self) -> Done {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::joined;

    #[test]
    fn a_name_stays_on_its_line() {
        let document = serde_json::json!({ "groups": [{ "name": "two\nlines" }], "x\ny": 1.5 });
        let text = "of two\nlines:\nx\ny\n".to_owned();
        assert_eq!(joined(&document, text), "of two\\u{a}lines:\nx\\u{a}y\n");
    }
}
