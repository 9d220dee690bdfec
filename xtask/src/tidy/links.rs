//! Links in documents that lead nowhere: to a file that is not there, or to a heading it lacks.

use std::collections::{BTreeMap, BTreeSet};

use super::Remark;
use crate::tree::{self, TextFile};

/// Links between documents, and from documents to files of the tree.
pub fn look_at(files: &[TextFile]) -> Vec<Remark> {
    let pages: BTreeMap<&str, BTreeSet<String>> = files
        .iter()
        .filter(|file| file.ending() == "md")
        .map(|file| (file.path.as_str(), anchors(&file.text)))
        .collect();
    let mut remarks = Vec::new();
    for file in files.iter().filter(|file| file.ending() == "md") {
        for (line, link) in links(&file.text) {
            if let Some(says) = wrong(file, &link, &pages) {
                remarks.push(Remark::fails(&file.path, line, says));
            }
        }
    }
    remarks
}

/// What is wrong with a link, if anything. Links out of the tree are left alone: tests run offline.
fn wrong(file: &TextFile, link: &str, pages: &BTreeMap<&str, BTreeSet<String>>) -> Option<String> {
    if link.contains("://") || link.starts_with("mailto:") {
        return None;
    }
    let (path, anchor) = link.split_once('#').unwrap_or((link, ""));
    let target = if path.is_empty() {
        file.path.clone()
    } else {
        match joined(&file.path, path) {
            Some(target) => target,
            None => return Some(format!("{link} leads out of the project")),
        }
    };
    if !pages.contains_key(target.as_str()) && !tree::root().join(&target).exists() {
        return Some(format!("{link} leads nowhere; there is no {target}"));
    }
    let page = pages.get(target.as_str());
    let lacks = !anchor.is_empty() && page.is_some_and(|page| !page.contains(anchor));
    lacks.then(|| format!("{target} has no heading #{anchor}"))
}

/// `a/b.md` and `../c.md` give `c.md`.
fn joined(from: &str, link: &str) -> Option<String> {
    let mut parts: Vec<&str> = from.split('/').collect();
    parts.pop();
    for part in link.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                parts.pop()?;
            }
            part => parts.push(part),
        }
    }
    Some(parts.join("/"))
}

/// Targets of `[words](target)` outside code, with their lines.
fn links(text: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    for (number, line) in prose(text) {
        for (at, _) in line.match_indices("](") {
            let rest = &line[at + 2..];
            let Some(end) = rest.find([')', ' ']) else {
                continue;
            };
            // A link into the pages of the code is followed by rustdoc.
            if !rest[..end].contains("::") {
                found.push((number, rest[..end].to_owned()));
            }
        }
    }
    found
}

/// Lines of prose: code fences left out, and code in backquotes blanked.
fn prose(text: &str) -> Vec<(usize, String)> {
    let mut fenced = false;
    let mut lines = Vec::new();
    for (idx, line) in text.lines().enumerate() {
        if line.trim_start().starts_with("```") {
            fenced = !fenced;
        } else if !fenced {
            let pieces: Vec<String> = line
                .split('`')
                .enumerate()
                .map(|(nth, piece)| {
                    if nth % 2 == 0 {
                        piece.to_owned()
                    } else {
                        "x".to_owned()
                    }
                })
                .collect();
            lines.push((idx + 1, pieces.concat()));
        }
    }
    lines
}

/// Names under which the headings of a page can be reached.
fn anchors(text: &str) -> BTreeSet<String> {
    let mut fenced = false;
    let mut found = BTreeSet::new();
    for line in text.lines() {
        if line.trim_start().starts_with("```") {
            fenced = !fenced;
        }
        if fenced || !line.starts_with('#') {
            continue;
        }
        let heading = line.trim_start_matches('#').trim().to_lowercase();
        let anchor: String = heading
            .chars()
            .filter(|c| c.is_alphanumeric() || matches!(c, ' ' | '-' | '_'))
            .map(|c| if c == ' ' { '-' } else { c })
            .collect();
        found.insert(anchor);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn remarks(text: &str) -> Vec<String> {
        let page = |path: &str, text: &str| TextFile {
            path: path.to_owned(),
            text: text.to_owned(),
        };
        let files = [
            page("docs/guide/a.md", text),
            page(
                "docs/guide/b.md",
                "# The daily check\n\n## One, two: three\n",
            ),
        ];
        look_at(&files).iter().map(Remark::to_string).collect()
    }

    #[test]
    fn what_leads_somewhere_passes() {
        for good in [
            "[b](b.md)",
            "[b](b.md#the-daily-check), [again](b.md#one-two-three)",
            "[top](../../Cargo.toml)",
            "[far](https://example.org/x)",
            "`[b](nowhere.md)`",
            "```text\n[b](nowhere.md)\n```",
            "# Here\n[here](#here)",
            "[item](holdline::machine::claim)",
        ] {
            assert_eq!(remarks(good), Vec::<String>::new(), "{good}");
        }
    }

    #[test]
    fn what_leads_nowhere_is_named() {
        assert_eq!(
            remarks("\n[c](c.md)"),
            ["docs/guide/a.md:2: c.md leads nowhere; there is no docs/guide/c.md"]
        );
        assert_eq!(remarks("[b](b.md#weekly)").len(), 1);
        assert_eq!(remarks("[out](../../../x.md)").len(), 1);
    }
}
