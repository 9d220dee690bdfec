//! Paths through a sheet, such as `stick.length`, `bucket[T75].tooth[left].at.x` or `cylinder[2].retracted`.

use super::leaf::is_name;

/// One step of a path: a key and, in a list, the entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// The key.
    pub key: String,
    /// The entry's name, or its place in the list from 1.
    pub entry: Option<String>,
}

/// The steps of a path. What is no path gives the steps up to where it stops being one.
pub fn steps(path: &str) -> Vec<Step> {
    let mut steps = Vec::new();
    let mut rest = path;
    while !rest.is_empty() {
        let key_end = rest.find(['.', '[']).unwrap_or(rest.len());
        let key = rest[..key_end].to_owned();
        rest = &rest[key_end..];
        let mut entry = None;
        if let Some(inside) = rest.strip_prefix('[') {
            let Some(close) = inside.find(']') else {
                return steps;
            };
            entry = Some(inside[..close].to_owned());
            rest = &inside[close + 1..];
        }
        steps.push(Step { key, entry });
        match rest.strip_prefix('.') {
            Some(more) => rest = more,
            None => break,
        }
    }
    steps
}

/// True for what is a path and nothing else.
pub fn is_path(text: &str) -> bool {
    let key =
        |key: &str| !key.is_empty() && key.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'_');
    let steps = steps(text);
    let again: Vec<String> = (steps.iter())
        .map(|step| match &step.entry {
            Some(entry) => format!("{}[{entry}]", step.key),
            None => step.key.clone(),
        })
        .collect();
    steps
        .iter()
        .all(|step| key(&step.key) && step.entry.as_ref().is_none_or(|e| is_name(e)))
        && again.join(".") == text
        && !text.is_empty()
}

/// The place of an entry in a list, from 0, given the names of its entries.
pub fn entry_idx(entry: &str, names: &[Option<String>]) -> Option<usize> {
    if let Some(idx) = names.iter().position(|n| n.as_deref() == Some(entry)) {
        return Some(idx);
    }
    let place: usize = entry.parse().ok()?;
    (1 <= place && place <= names.len()).then(|| place - 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(path: &str) -> String {
        let word = |s: Step| format!("{}/{}", s.key, s.entry.unwrap_or_default());
        steps(path)
            .into_iter()
            .map(word)
            .collect::<Vec<_>>()
            .join(" ")
    }

    #[test]
    fn steps_of_a_path() {
        assert_eq!(said("stick.length"), "stick/ length/");
        assert_eq!(
            said("bucket[T 7.5].tooth[left].at.x"),
            "bucket/T 7.5 tooth/left at/ x/"
        );
        assert_eq!(said(""), "");
        assert_eq!(said("a[b"), "");
    }

    #[test]
    fn what_is_a_path() {
        for path in [
            "stick.length",
            "sensor[S-boom].offset",
            "bucket[T75].tooth[left].at.x",
        ] {
            assert!(is_path(path), "{path}");
        }
        for path in [
            "",
            ".",
            "stick.",
            "stick length",
            "a[b",
            "a[]",
            "a[b]c",
            "a]b",
            "ä.b",
        ] {
            assert!(!is_path(path), "{path}");
        }
    }

    #[test]
    fn a_name_goes_before_a_place() {
        let names = [Some("2".to_owned()), None, None];
        assert_eq!(entry_idx("2", &names), Some(0));
        assert_eq!(entry_idx("3", &names), Some(2));
        assert_eq!(entry_idx("0", &names), None);
        assert_eq!(entry_idx("x", &names), None);
    }
}
