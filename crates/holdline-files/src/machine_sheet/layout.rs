//! Values put in their place in a sheet without disturbing what stands around them.

use toml_edit::{Item, TableLike, Value};

/// A text whose lines end as all lines of `text` do; where those differ among themselves, with a bare line feed.
pub fn with_line_ends_of(text: &str, edited: String) -> String {
    let n_windows = text.matches("\r\n").count();
    if n_windows == 0 || n_windows != text.matches('\n').count() {
        return edited;
    }
    edited.replace("\r\n", "\n").replace('\n', "\r\n")
}

/// Puts a value behind a key, or takes the key out.
pub fn put_or_remove(table: &mut dyn TableLike, key: &str, value: Option<Value>) {
    match value {
        Some(value) => put(table, key, value),
        None => {
            table.remove(key);
        }
    }
}

/// Puts a value behind a key, in the old one's place and with its spaces and comment.
pub fn put(table: &mut dyn TableLike, key: &str, value: Value) {
    match table.get_mut(key).and_then(Item::as_value_mut) {
        Some(old) => {
            let new = kept(Some(old), value);
            replace(old, new);
        }
        None => {
            let end = taken_end(table);
            table.insert(key, Item::Value(value));
            if let Some(new) = table.get_mut(key).and_then(Item::as_value_mut) {
                new.decor_mut().set_suffix(end);
            }
        }
    }
}

/// Takes the space before a closing brace from the value that is the last no more.
pub fn taken_end(table: &mut dyn TableLike) -> String {
    let last = table
        .iter_mut()
        .last()
        .and_then(|(_, item)| item.as_value_mut());
    let Some(last) = last else {
        return String::new();
    };
    let end = last
        .decor()
        .suffix()
        .and_then(|s| s.as_str())
        .unwrap_or("")
        .to_owned();
    if end.is_empty() || !end.trim_matches(' ').is_empty() {
        return String::new();
    }
    last.decor_mut().set_suffix("");
    end
}

/// The new value where the old one stood, with its spaces and comment.
pub fn replace(old: &mut Value, mut new: Value) {
    *new.decor_mut() = old.decor().clone();
    *old = new;
}

/// The old value where it says the same, so that its digits stay; else the new one.
pub fn kept(old: Option<&Value>, new: Value) -> Value {
    match old {
        Some(old) if as_number(old).is_some() && as_number(old) == as_number(&new) => {
            plain(old.clone())
        }
        Some(old) if as_words(old).is_some() && as_words(old) == as_words(&new) => {
            plain(old.clone())
        }
        _ => new,
    }
}

/// A value without the spaces around it.
pub fn plain(mut value: Value) -> Value {
    value.decor_mut().clear();
    value
}

/// A text, or a date with or without quotation marks.
pub fn as_words(value: &Value) -> Option<String> {
    match value {
        Value::String(text) => Some(text.value().clone()),
        Value::Datetime(date) => Some(date.value().to_string()),
        _ => None,
    }
}

/// A number, whole or not.
pub fn as_number(value: &Value) -> Option<f64> {
    match value {
        Value::Float(float) => Some(*float.value()),
        Value::Integer(int) => Some(*int.value() as f64),
        _ => None,
    }
}
