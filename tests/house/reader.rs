//! In: the sources. Out: their words, the paths by which they reach out of themselves, and the code of their examples.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// A Rust file under src/: its place, its module as folders and name, and its code without comments, texts and unit
/// tests.
pub struct Source {
    pub path: PathBuf,
    pub module: String,
    pub text: String,
    pub tokens: Vec<String>,
}

impl Source {
    pub fn is_front(&self) -> bool {
        self.path.ends_with("mod.rs")
    }

    pub fn room(&self) -> &str {
        self.module.split('/').next().unwrap_or_default()
    }
}

pub fn sources() -> Vec<Source> {
    let read = |path: PathBuf| {
        let below = path.strip_prefix("src").ok()?.with_extension("");
        let module = below.to_str()?.trim_end_matches("/mod").to_string();
        let text = fs::read_to_string(home().join(&path)).ok()?;
        let tokens = tokens(text.split("\n#[cfg(test)]\nmod ").next()?);
        (module != "lib").then_some(Source { path, module, text, tokens })
    };
    let sources: Vec<Source> = files(Path::new("src"), &["rs"]).into_iter().filter_map(read).collect();
    assert!(sources.len() > 10, "src/ was not found");
    sources
}

/// The modules that a file's paths lead to, its own aside; the empty one is the crate's root.
pub fn imports(source: &Source, modules: &BTreeSet<&str>) -> BTreeSet<String> {
    let here: Vec<String> = source.module.split('/').map(String::from).collect();
    let longest = |path: Vec<String>| {
        (0..=path.len())
            .rev()
            .map(|n| path[..n].join("/"))
            .find(|m| m.is_empty() || modules.contains(m.as_str()))
    };
    let found = reaches(&source.tokens, &here).into_iter().filter_map(longest);
    found.filter(|module| *module != source.module).collect()
}

pub fn home() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// All files with those endings below a folder of the project, by their path from its top.
pub fn files(folder: &Path, endings: &[&str]) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(home().join(folder)) else { return Vec::new() };
    let mut found = Vec::new();
    for entry in entries.flatten() {
        let path = folder.join(entry.file_name());
        // A link to a folder is skipped; the folder is read at its own path.
        if entry.file_type().is_ok_and(|kind| kind.is_dir()) {
            found.extend(files(&path, endings));
        } else if path.extension().is_some_and(|ending| endings.iter().any(|e| ending == *e)) {
            found.push(path);
        }
    }
    found.sort();
    found
}

/// Every path of a file that leaves it, from the crate's root on, whether in a `use` or in the code.
pub fn reaches(tokens: &[String], here: &[String]) -> Vec<Vec<String>> {
    let at = |i: usize| tokens.get(i).map_or("", String::as_str);
    let (mut found, mut open) = (Vec::new(), Vec::new());
    let mut i = 0;
    while i < tokens.len() {
        match at(i) {
            "{" => open.push(i >= 2 && at(i - 2) == "mod"),
            "}" => drop(open.pop()),
            "crate" if at(i + 1) == "::" => {
                found.extend(tree(tokens, i + 2).into_iter().map(|(path, _)| path));
            }
            "super" if at(i + 1) == "::" => {
                let mut up = 1;
                while at(i + 2) == "super" && at(i + 3) == "::" {
                    (up, i) = (up + 1, i + 2);
                }
                let inner = open.iter().filter(|is_mod| **is_mod).count();
                if up > inner {
                    let base = &here[..(here.len() + inner).saturating_sub(up)];
                    found.extend(
                        tree(tokens, i + 2).into_iter().map(|(path, _)| [base.to_vec(), path].concat()),
                    );
                }
            }
            _ => {}
        }
        i += 1;
    }
    found
}

/// The names that a file's `use` lines take from its own children: the name given, and the child.
pub fn uses(tokens: &[String]) -> BTreeMap<String, String> {
    let starts = (0..tokens.len()).filter(|&i| tokens[i] == "use");
    let paths = starts.flat_map(|i| tree(tokens, i + 1)).filter(|(path, _)| path.len() > 1);
    paths.map(|(path, given)| (given, path[0].clone())).collect()
}

/// The paths of a use tree, or the one path in the code, that begins at token `i`; each with the name it is given.
fn tree(tokens: &[String], i: usize) -> Vec<(Vec<String>, String)> {
    let at = |i: usize| tokens.get(i).map_or("", String::as_str);
    if at(i) == "{" {
        let (mut depth, mut found, mut i) = (1, tree(tokens, i + 1), i + 1);
        while depth > 0 && i < tokens.len() {
            match at(i) {
                "{" => depth += 1,
                "}" => depth -= 1,
                "," if depth == 1 => found.extend(tree(tokens, i + 1)),
                _ => {}
            }
            i += 1;
        }
        return found;
    }
    let name = at(i).to_string();
    if name != "*" && !name.starts_with(|c: char| c.is_alphabetic() || c == '_') {
        return Vec::new();
    }
    if at(i + 1) == "::" && at(i + 2) != "<" {
        let under = |(path, given): (Vec<String>, String)| ([vec![name.clone()], path].concat(), given);
        return tree(tokens, i + 2).into_iter().map(under).collect();
    }
    let given = if at(i + 1) == "as" { at(i + 2).into() } else { name.clone() };
    vec![(vec![name], given)]
}

/// Words and signs of Rust code, without comments, texts and characters.
pub fn tokens(code: &str) -> Vec<String> {
    let c: Vec<char> = code.chars().collect();
    let starts = |i: usize, what: &str| what.chars().enumerate().all(|(k, x)| c.get(i + k) == Some(&x));
    let past = |from: usize, what: &str| {
        (from..c.len()).find(|&i| starts(i, what)).map_or(c.len(), |i| i + what.len())
    };
    let is_word = |x: char| x.is_alphanumeric() || x == '_';
    let (mut found, mut i) = (Vec::new(), 0);
    while i < c.len() {
        if starts(i, "//") {
            i = past(i, "\n");
        } else if starts(i, "/*") {
            let mut depth = 1;
            i += 2;
            while depth > 0 && i < c.len() {
                let step = (i32::from(starts(i, "/*")), i32::from(starts(i, "*/")));
                depth += step.0 - step.1;
                i += if step == (0, 0) { 1 } else { 2 };
            }
        } else if c[i] == '"' {
            i += 1;
            while i < c.len() && c[i] != '"' {
                i += if c[i] == '\\' { 2 } else { 1 };
            }
            i += 1;
        } else if starts(i, "'\\") {
            i = past(i + 3, "'");
        } else if c[i] == '\'' && c.get(i + 2) == Some(&'\'') {
            i += 3;
        } else if starts(i, "::") {
            found.push("::".into());
            i += 2;
        } else if is_word(c[i]) {
            let end = (i..c.len()).find(|&k| !is_word(c[k])).unwrap_or(c.len());
            let word: String = c[i..end].iter().collect();
            let fence: String = c[end..].iter().take_while(|x| **x == '#').collect();
            if word.ends_with('r') && word.len() <= 2 && c.get(end + fence.len()) == Some(&'"') {
                i = past(end + fence.len() + 1, &format!("\"{fence}"));
            } else {
                found.push(word);
                i = end;
            }
        } else {
            if !c[i].is_whitespace() {
                found.push(c[i].into());
            }
            i += 1;
        }
    }
    found
}

/// The code of a file's doc examples that run.
pub fn examples(text: &str) -> String {
    let (mut code, mut open, mut runs) = (String::new(), false, false);
    for line in text.lines().map(str::trim) {
        let Some(doc) = line.strip_prefix("///").or_else(|| line.strip_prefix("//!")) else { continue };
        if let Some(info) = doc.trim().strip_prefix("```") {
            open = !open;
            runs = open && ["", "rust"].contains(&info);
        } else if runs {
            code.push_str(doc.trim_start_matches([' ', '#']));
            code.push('\n');
        }
    }
    code
}

#[test]
fn the_reader_of_sources_sees_imports_and_nothing_else() {
    let code = r##"
        //! Not [`crate::Ghost`].
        use crate::{Log, Meta as M, segment::{Pour, shape::Burst}};
        use super::sibling::thing;
        /* use crate::Ghost; /* nested */ */
        fn f<'a>(x: &'a str) -> char { let _ = "crate::Ghost \" {"; let _ = r#"crate::Ghost ""#; crate::math::g::<u8>(x); '{' }
        pub(crate) mod tests { use super::super::cousin; use super::inner; use super::super::super::flow::Flow; }
    "##;
    let here: Vec<String> = ["bed", "law"].map(String::from).to_vec();
    let found: Vec<String> = reaches(&tokens(code), &here).into_iter().map(|path| path.join("::")).collect();
    assert_eq!(
        found,
        [
            "Log",
            "Meta",
            "segment::Pour",
            "segment::shape::Burst",
            "bed::sibling::thing",
            "math::g",
            "bed::cousin",
            "flow::Flow"
        ]
    );
    let given = uses(&tokens("pub use fit::{Fit, group as Group}; use crate::Log;"));
    assert_eq!(given.get("Fit").map(String::as_str), Some("fit"));
    assert_eq!(given.get("Group").map(String::as_str), Some("fit"));
}
