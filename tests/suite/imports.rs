//! Who uses whom in `src`, from the text: groups, globs, names that a `mod.rs` passes on, paths within
//! the code, and methods of a type that stand in another file than the type.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// The files of a tree and what each uses, tests left out.
pub(crate) struct Imports {
    /// From a file to the files it uses: names under `src`, such as "load/judge.rs".
    pub(crate) uses: BTreeMap<String, BTreeSet<String>>,
}

/// A path as `use` or the code has it, and the name it goes by here.
#[derive(Debug, Clone)]
struct Named {
    path: Vec<String>,
    alias: String,
}

/// A file as a module.
#[derive(Debug, Default)]
struct Module {
    file: String,
    tokens: Vec<String>,
    /// Names it defines itself.
    defines: BTreeSet<String>,
    /// What it imports for itself, and what it passes on to others.
    imports: Vec<Named>,
    passes_on: Vec<Named>,
    /// Methods it gives to types: the type's name here, the methods' names.
    gives: Vec<(String, BTreeSet<String>)>,
}

type Modules = BTreeMap<Vec<String>, Module>;

impl Imports {
    pub(crate) fn of(src: &Path) -> Self {
        let mut modules = Modules::new();
        read(src, src, &mut modules);
        let tests: Vec<Vec<String>> =
            modules.iter().flat_map(|(at, one)| test_modules(at, one)).collect();
        modules.retain(|at, _| !tests.iter().any(|test| at.starts_with(test)));
        for module in modules.values_mut() {
            module.learn();
        }
        let mut uses: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
        for (at, module) in &modules {
            let own = uses.entry(module.file.clone()).or_default();
            own.extend(used_by(&modules, at, module));
            own.remove(&module.file);
        }
        for (at, module) in &modules {
            for (from, to) in methods_used(&modules, at, module) {
                uses.entry(from).or_default().insert(to);
            }
        }
        Self { uses }
    }

    /// The files of a room that lie on a circle within it.
    pub(crate) fn circle(&self, room: &str) -> BTreeSet<String> {
        let inside = |file: &str| file.starts_with(&format!("{room}/"));
        let own = || self.uses.keys().filter(|file| inside(file));
        own().filter(|file| self.way(file, file, &inside).is_some()).cloned().collect()
    }

    /// The shortest way from a file over others to a file, all of them inside.
    pub(crate) fn way(
        &self,
        from: &str,
        to: &str,
        inside: &dyn Fn(&str) -> bool,
    ) -> Option<Vec<String>> {
        let mut ways: Vec<Vec<String>> = vec![vec![from.to_owned()]];
        let mut seen = BTreeSet::new();
        let mut at = 0;
        while let Some(way) = ways.get(at).cloned() {
            at += 1;
            let last = way.last()?;
            for next in self.uses.get(last).into_iter().flatten().filter(|next| inside(next)) {
                let longer = [&way[..], std::slice::from_ref(next)].concat();
                if next == to {
                    return Some(longer);
                }
                if seen.insert(next.clone()) {
                    ways.push(longer);
                }
            }
        }
        None
    }
}

fn read(src: &Path, folder: &Path, modules: &mut Modules) {
    let mut entries: Vec<PathBuf> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            read(src, &path, modules);
            continue;
        }
        let file = path.strip_prefix(src).unwrap().to_string_lossy().into_owned();
        let Some(stem) = file.strip_suffix(".rs") else { continue };
        let mut at: Vec<String> = stem.split('/').map(str::to_owned).collect();
        if ["mod", "lib", "main"].contains(&at.last().unwrap().as_str()) {
            at.pop();
        }
        if file == "main.rs" {
            continue;
        }
        let tokens = tokens(&fs::read_to_string(&path).unwrap());
        modules.insert(at, Module { file, tokens, ..Module::default() });
    }
}

/// Words and marks of a Rust text, without comments, texts and letters in quotes.
fn tokens(text: &str) -> Vec<String> {
    let chars: Vec<char> = text.chars().collect();
    let mut all: Vec<String> = Vec::new();
    let mut at = 0;
    let is = |at: usize, mark: &str| {
        mark.chars().enumerate().all(|(more, one)| chars.get(at + more) == Some(&one))
    };
    while at < chars.len() {
        let one = chars[at];
        if is(at, "//") {
            while at < chars.len() && chars[at] != '\n' {
                at += 1;
            }
        } else if is(at, "/*") {
            while at < chars.len() && !is(at, "*/") {
                at += 1;
            }
            at += 2;
        } else if one == '"' {
            at += 1;
            while at < chars.len() && chars[at] != '"' {
                at += if chars[at] == '\\' { 2 } else { 1 };
            }
            at += 1;
        } else if (is(at, "r#") || is(at, "r\"")) && raw_end(&chars, at).is_some() {
            at = raw_end(&chars, at).unwrap();
        } else if one == '\'' {
            // A letter in quotes, or a lifetime.
            let is_letter = chars.get(at + 2) == Some(&'\'') || chars.get(at + 1) == Some(&'\\');
            if is_letter {
                at += if chars[at + 1] == '\\' { 3 } else { 2 };
                while chars[at] != '\'' {
                    at += 1;
                }
            }
            at += 1;
        } else if one.is_alphanumeric() || one == '_' {
            let from = at;
            while at < chars.len() && (chars[at].is_alphanumeric() || chars[at] == '_') {
                at += 1;
            }
            all.push(chars[from..at].iter().collect());
        } else if is(at, "::") {
            all.push("::".to_owned());
            at += 2;
        } else {
            if !one.is_whitespace() {
                all.push(one.to_string());
            }
            at += 1;
        }
    }
    all
}

/// Where a raw text ends that begins here.
fn raw_end(chars: &[char], at: usize) -> Option<usize> {
    let marks = chars[at + 1..].iter().take_while(|one| **one == '#').count();
    (chars.get(at + 1 + marks) == Some(&'"')).then_some(())?;
    let close: Vec<char> = std::iter::once('"').chain(std::iter::repeat_n('#', marks)).collect();
    let from = at + 2 + marks;
    let found = chars[from..].windows(close.len()).position(|window| window == close)?;
    Some(from + found + close.len())
}

/// The first place after an item that begins here: past its `;` or its block.
fn after_item(tokens: &[String], from: usize) -> usize {
    let mut depth = 0;
    for (at, token) in tokens.iter().enumerate().skip(from) {
        match token.as_str() {
            "{" => depth += 1,
            "}" => {
                depth -= 1;
                // A block ends the item, but not the group of a `use`.
                if depth == 0 && tokens.get(at + 1).is_none_or(|next| next != ";") {
                    return at + 1;
                }
            }
            ";" if depth == 0 => return at + 1,
            _ => {}
        }
    }
    tokens.len()
}

const TEST: [&str; 7] = ["#", "[", "cfg", "(", "test", ")", "]"];

/// Modules that are declared for tests only.
fn test_modules(at: &[String], module: &Module) -> Vec<Vec<String>> {
    let mut found = Vec::new();
    for start in 0..module.tokens.len() {
        if module.tokens[start..].iter().take(TEST.len()).eq(TEST.iter()) {
            let rest =
                &module.tokens[start + TEST.len()..after_item(&module.tokens, start + TEST.len())];
            if let Some(word) = rest.iter().position(|word| word == "mod") {
                found.push([at, &[rest[word + 1].clone()]].concat());
            }
        }
    }
    found
}

impl Module {
    /// Leaves out what is for tests, and finds what is defined, imported, passed on and given.
    fn learn(&mut self) {
        let mut kept = Vec::new();
        let mut at = 0;
        while at < self.tokens.len() {
            if self.tokens[at..].iter().take(TEST.len()).eq(TEST.iter()) {
                at = after_item(&self.tokens, at + TEST.len());
            } else {
                kept.push(self.tokens[at].clone());
                at += 1;
            }
        }
        self.tokens = kept;
        let tokens = &self.tokens;
        for (at, token) in tokens.iter().enumerate() {
            let next = || tokens.get(at + 1).cloned().unwrap_or_default();
            match token.as_str() {
                "struct" | "enum" | "trait" | "type" | "const" | "static" | "fn" => {
                    self.defines.insert(next());
                }
                // Not the `use<..>` of a bound.
                "use" if next() != "<" => {
                    let is_public = at > 0 && (tokens[at - 1] == "pub" || tokens[at - 1] == ")");
                    let mut named = Vec::new();
                    tree(tokens, &mut (at + 1), &[], &mut named);
                    if is_public { &mut self.passes_on } else { &mut self.imports }.extend(named);
                }
                "impl" => {
                    if let Some(given) = inherent(tokens, at) {
                        self.gives.push(given);
                    }
                }
                _ => {}
            }
        }
    }
}

/// The names of a `use` from a place on.
fn tree(tokens: &[String], at: &mut usize, before: &[String], named: &mut Vec<Named>) {
    let mut path = before.to_vec();
    while let Some(token) = tokens.get(*at) {
        *at += 1;
        match token.as_str() {
            "::" => {}
            "{" => {
                while tokens.get(*at).is_some_and(|token| token != "}" && token != ";") {
                    tree(tokens, at, &path, named);
                    if tokens.get(*at).is_some_and(|token| token == ",") {
                        *at += 1;
                    }
                }
                *at += 1;
                return;
            }
            "as" => {
                let alias = tokens[*at].clone();
                *at += 1;
                named.push(Named { path, alias });
                return;
            }
            "," | "}" | ";" => {
                *at -= 1;
                break;
            }
            _ => path.push(token.clone()),
        }
    }
    if path.last().is_some_and(|last| last == "self") && path.len() > 1 {
        path.pop();
    }
    let alias = path.last().cloned().unwrap_or_default();
    named.push(Named { path, alias });
}

/// The type and the methods of an `impl` that is of no trait.
fn inherent(tokens: &[String], at: usize) -> Option<(String, BTreeSet<String>)> {
    let open = at + tokens[at..].iter().position(|token| token == "{")?;
    let head = &tokens[at + 1..open];
    if head.iter().any(|token| token == "for") {
        return None;
    }
    let mut depth = 0;
    let mut name = None;
    for token in head {
        match token.as_str() {
            "<" => depth += 1,
            ">" => depth -= 1,
            "where" => break,
            word if depth == 0 && word != "::" => name = Some(word.to_owned()),
            _ => {}
        }
    }
    let end = after_item(tokens, open);
    let body = &tokens[open..end];
    let methods =
        body.windows(2).filter(|pair| pair[0] == "fn").map(|pair| pair[1].clone()).collect();
    Some((name?, methods))
}

/// The module that a path leads to, seen from another: where its last name is defined.
fn resolve(
    modules: &Modules,
    from: &[String],
    path: &[String],
    depth: usize,
) -> Option<Vec<String>> {
    if depth == 0 {
        return None;
    }
    let (first, mut rest) = path.split_first()?;
    let mut at = match first.as_str() {
        "crate" => Vec::new(),
        "self" => from.to_vec(),
        "super" => from[..from.len().checked_sub(1)?].to_vec(),
        _ => {
            let child = [from, std::slice::from_ref(first)].concat();
            if !modules.contains_key(&child) {
                return None;
            }
            child
        }
    };
    while let Some((name, more)) = rest.split_first() {
        if name == "super" {
            at.pop();
            rest = more;
            continue;
        }
        let child = [&at[..], std::slice::from_ref(name)].concat();
        if modules.contains_key(&child) {
            at = child;
            rest = more;
            continue;
        }
        let module = modules.get(&at)?;
        if name == "*" || module.defines.contains(name) {
            break;
        }
        let passed = module.passes_on.iter().chain(&module.imports).find_map(|named| {
            if named.alias == *name {
                return resolve(modules, &at, &named.path, depth - 1);
            }
            if named.alias == "*" {
                let target = resolve(modules, &at, &named.path, depth - 1)?;
                return modules[&target].defines.contains(name).then_some(target);
            }
            None
        });
        return Some(passed.unwrap_or(at));
    }
    Some(at)
}

/// The files that a module's imports and paths lead to.
fn used_by(modules: &Modules, at: &[String], module: &Module) -> BTreeSet<String> {
    let mut files = BTreeSet::new();
    let mut add = |path: &[String]| {
        let Some(target) = resolve(modules, at, path, 9) else { return };
        let file = &modules[&target].file;
        // The list of a room is used only by a name of its own.
        let is_list = file.ends_with("mod.rs") || file == "lib.rs";
        let by_name = path.last().is_some_and(|last| modules[&target].defines.contains(last));
        if !is_list || by_name {
            files.insert(file.clone());
        }
    };
    for named in &module.imports {
        add(&named.path);
    }
    let tokens = &module.tokens;
    let mut place = 0;
    while place < tokens.len() {
        if tokens[place] == "use" {
            while place < tokens.len() && tokens[place] != ";" {
                place += 1;
            }
        }
        let starts = place + 1 < tokens.len() && tokens[place + 1] == "::";
        let is_first = place == 0 || tokens[place - 1] != "::";
        if starts && is_first {
            let mut path = vec![tokens[place].clone()];
            while place + 2 < tokens.len() && tokens[place + 1] == "::" {
                path.push(tokens[place + 2].clone());
                place += 2;
            }
            // A module that was imported goes by its own name.
            if let Some(named) = module.imports.iter().find(|named| named.alias == path[0]) {
                path.splice(0..1, named.path.iter().cloned());
            }
            for length in 2..=path.len() {
                add(&path[..length]);
            }
        }
        place += 1;
    }
    files
}

/// Who uses the methods that a module gives to a type of another file: the type's own file, and those
/// that import the type.
fn methods_used(modules: &Modules, at: &[String], module: &Module) -> Vec<(String, String)> {
    let mut found = Vec::new();
    for (name, methods) in &module.gives {
        if module.defines.contains(name) {
            continue;
        }
        let Some(import) = module.imports.iter().find(|named| named.alias == *name) else {
            continue;
        };
        let Some(home) = resolve(modules, at, &import.path, 9) else { continue };
        for (other, user) in modules {
            let knows = *other == home
                || user.imports.iter().any(|named| {
                    named.path.last() == import.path.last()
                        && resolve(modules, other, &named.path, 9).as_ref() == Some(&home)
                });
            let calls = user
                .tokens
                .windows(2)
                .any(|pair| (pair[0] == "." || pair[0] == "::") && methods.contains(&pair[1]));
            if knows && calls && user.file != module.file {
                found.push((user.file.clone(), module.file.clone()));
            }
        }
    }
    found
}
