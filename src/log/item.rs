//! In: JSON through serde. Out: a value of a kind that a log can use, with texts borrowed from the source.

use crate::error::{Error, Result};
use crate::log::rows::Cell;
use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};
use std::borrow::Cow;
use std::fmt;

#[derive(Debug)]
pub(super) enum Item<'a> {
    Null,
    Bool(bool),
    Number(f64),
    Text(Cow<'a, str>),
    List(Vec<Item<'a>>),
    Object(Vec<(Cow<'a, str>, Item<'a>)>),
}

impl<'a> Item<'a> {
    pub(super) fn cell(&self) -> Cell<'_> {
        match self {
            Self::Null => Cell::Missing,
            Self::Number(value) => Cell::Number(*value),
            Self::Text(text) => Cell::Text(text.as_bytes()),
            Self::Bool(true) => Cell::Text(b"true"),
            Self::Bool(false) => Cell::Text(b"false"),
            Self::List(_) => Cell::Text(b"[...]"),
            Self::Object(_) => Cell::Text(b"{...}"),
        }
    }

    pub(super) fn object(&self, row: usize) -> Result<&Vec<(Cow<'a, str>, Item<'a>)>> {
        match self {
            Self::Object(items) => Ok(items),
            _ => Err(Error::Format { row, message: "this is not a JSON object".into() }),
        }
    }
}

impl<'de> Deserialize<'de> for Item<'de> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> std::result::Result<Self, D::Error> {
        from.deserialize_any(ItemVisitor)
    }
}

struct ItemVisitor;

impl<'de> Visitor<'de> for ItemVisitor {
    type Value = Item<'de>;

    fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_unit<E>(self) -> std::result::Result<Item<'de>, E> {
        Ok(Item::Null)
    }

    fn visit_bool<E>(self, value: bool) -> std::result::Result<Item<'de>, E> {
        Ok(Item::Bool(value))
    }

    fn visit_i64<E>(self, value: i64) -> std::result::Result<Item<'de>, E> {
        Ok(Item::Number(value as f64))
    }

    fn visit_u64<E>(self, value: u64) -> std::result::Result<Item<'de>, E> {
        Ok(Item::Number(value as f64))
    }

    fn visit_f64<E>(self, value: f64) -> std::result::Result<Item<'de>, E> {
        Ok(Item::Number(value))
    }

    fn visit_str<E>(self, text: &str) -> std::result::Result<Item<'de>, E> {
        Ok(Item::Text(Cow::Owned(text.into())))
    }

    fn visit_borrowed_str<E>(self, text: &'de str) -> std::result::Result<Item<'de>, E> {
        Ok(Item::Text(Cow::Borrowed(text)))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut from: A) -> std::result::Result<Item<'de>, A::Error> {
        let mut list = Vec::new();
        while let Some(item) = from.next_element()? {
            list.push(item);
        }
        Ok(Item::List(list))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut from: A) -> std::result::Result<Item<'de>, A::Error> {
        let mut items = Vec::new();
        // A key is read as an item too, so that it is borrowed if possible.
        while let Some(Item::Text(key)) = from.next_key()? {
            items.push((key, from.next_value()?));
        }
        Ok(Item::Object(items))
    }
}
