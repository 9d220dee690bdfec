//! Finds every path that a Rust source names, with groups in `use` spelled out.

use super::lexer::Source;

/// A path as written, spelled out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named {
    /// Line, from 1.
    pub line: usize,
    /// Its words; a glob ends in `*`.
    pub words: Vec<String>,
    /// Inline modules around it, outermost first.
    pub modules: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Token {
    Word(String),
    Sep,
    Open,
    Close,
    Other(char),
}

/// All paths of two words or more, and all leaves of `use` groups.
pub fn named(source: &Source) -> Vec<Named> {
    let tokens = tokens(&source.code);
    let mut found = Vec::new();
    let mut around: Vec<Option<String>> = Vec::new();
    let mut pending = None;
    let mut idx = 0;
    while idx < tokens.len() {
        match &tokens[idx].1 {
            Token::Word(word) if word == "mod" => {
                if let Some((_, Token::Word(name))) = tokens.get(idx + 1) {
                    pending = Some(name.clone());
                }
                idx += 2;
            }
            Token::Word(_) => {
                let modules: Vec<String> = around.iter().flatten().cloned().collect();
                idx = spell_out(&tokens, idx, &[], &modules, &mut found);
            }
            Token::Open => {
                around.push(pending.take());
                idx += 1;
            }
            Token::Close => {
                around.pop();
                idx += 1;
            }
            Token::Other(';') => {
                pending = None;
                idx += 1;
            }
            Token::Sep | Token::Other(_) => idx += 1,
        }
    }
    found.retain(|path| path.words.len() > 1);
    found
}

/// Reads one path from `idx`, following groups; gives the place after it.
fn spell_out(
    tokens: &[(usize, Token)],
    mut idx: usize,
    before: &[String],
    modules: &[String],
    found: &mut Vec<Named>,
) -> usize {
    let mut words = before.to_vec();
    let line = tokens[idx].0;
    loop {
        match tokens.get(idx).map(|t| &t.1) {
            Some(Token::Word(word)) => words.push(word.clone()),
            Some(Token::Other('*')) => words.push("*".to_owned()),
            Some(Token::Open) => return group(tokens, idx + 1, &words, modules, found),
            _ => break,
        }
        idx += 1;
        match tokens.get(idx).map(|t| &t.1) {
            Some(Token::Sep) => idx += 1,
            _ => break,
        }
    }
    found.push(Named {
        line,
        words,
        modules: modules.to_vec(),
    });
    idx
}

/// Reads `a, b::c, d}` after an opening brace; gives the place after the closing one.
fn group(
    tokens: &[(usize, Token)],
    mut idx: usize,
    before: &[String],
    modules: &[String],
    found: &mut Vec<Named>,
) -> usize {
    while let Some((_, token)) = tokens.get(idx) {
        match token {
            Token::Close => return idx + 1,
            Token::Word(word) if word == "as" => idx += 2,
            Token::Word(_) | Token::Other('*') => {
                idx = spell_out(tokens, idx, before, modules, found);
            }
            Token::Open | Token::Sep | Token::Other(_) => idx += 1,
        }
    }
    idx
}

fn tokens(code: &[String]) -> Vec<(usize, Token)> {
    let mut tokens = Vec::new();
    for (number, line) in code.iter().enumerate() {
        let mut chars = line.chars().peekable();
        while let Some(c) = chars.next() {
            let token = match c {
                c if c.is_alphabetic() || c == '_' => {
                    let mut word = String::from(c);
                    while let Some(more) = chars.next_if(|c| c.is_alphanumeric() || *c == '_') {
                        word.push(more);
                    }
                    Token::Word(word)
                }
                ':' if chars.next_if_eq(&':').is_some() => Token::Sep,
                '{' => Token::Open,
                '}' => Token::Close,
                c if c.is_whitespace() => continue,
                c => Token::Other(c),
            };
            tokens.push((number + 1, token));
        }
    }
    tokens
}

#[cfg(test)]
mod tests {
    use super::super::lexer::split;
    use super::*;
    use crate::tree::TextFile;

    fn spelled(text: &str) -> Vec<String> {
        let file = TextFile {
            path: "crates/x/src/y.rs".to_owned(),
            text: text.to_owned(),
        };
        let named = named(&split(&file));
        named
            .iter()
            .map(|path| format!("{}:{}", path.line, path.words.join("::")))
            .collect()
    }

    #[test]
    fn groups_are_spelled_out() {
        assert_eq!(
            spelled("use crate::{tooth::Chain,\n  machine::{self, claim as c}};\n"),
            [
                "1:crate::tooth::Chain",
                "2:crate::machine::self",
                "2:crate::machine::claim"
            ]
        );
        assert_eq!(
            spelled("use std::{fs, io::*};"),
            ["1:std::fs", "1:std::io::*"]
        );
    }

    #[test]
    fn paths_in_expressions_are_seen() {
        assert_eq!(
            spelled("fn f() { let x = crate::limits::g(1); }"),
            ["1:crate::limits::g"]
        );
        assert_eq!(
            spelled("impl Foo { fn g(&self) -> T { T { a } } }"),
            Vec::<String>::new()
        );
    }

    #[test]
    fn inline_modules_are_known() {
        let file = TextFile {
            path: "crates/x/src/y.rs".to_owned(),
            text: "mod a { mod b { use super::c::D; } }\nuse super::e::F;\n".to_owned(),
        };
        let named = named(&split(&file));
        assert_eq!(named[0].modules, ["a", "b"]);
        assert!(named[1].modules.is_empty());
    }
}
