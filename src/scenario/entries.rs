//! A scenario as written, entry by entry: what `--set` calls each of them, and its text.

use crate::base::diagnostic::Diagnostic;
use crate::document::problems::Problems;
use crate::document::tree::Table;
use crate::document::tree::Value;
use crate::scenario::files::Files;
use crate::scenario::load::put_together;
use crate::scenario::overlay::DefectKind;
use crate::scenario::overlay::TOP;
use crate::scenario::parts::KINDS;
use std::io;

/// One entry, bases and changes put together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// What `--set` calls it: "R1.resistor", "game.left"; of a part that has failed its name.
    pub path: String,
    /// Its text, without quotes; of a list as it stands in the file.
    pub text: String,
}

/// The path of a part's main value: "R1.resistor" of "R1".
#[must_use]
pub fn main_path(entries: &[Entry], part: &str) -> Option<String> {
    let mut paths = KINDS.into_iter().map(|kind| format!("{part}.{kind}"));
    paths.find(|path| entries.iter().any(|entry| entry.path == *path))
}

/// Reads the entries of a scenario in the order of the file, as [`load`](crate::scenario::load)
/// would read the scenario; it checks nothing but that it is TOML.
///
/// # Errors
///
/// Everything that is wrong, at least one [`Diagnostic`].
pub fn entries(
    path_name: &str,
    overrides: &[String],
    read: &mut dyn FnMut(&str) -> io::Result<String>,
) -> Result<Vec<Entry>, Vec<Diagnostic>> {
    let problems = Problems::default();
    let written = put_together(&mut Files { read, problems: &problems }, path_name, overrides);
    match written {
        Some(written) if problems.is_empty() => {
            let mut found = Vec::new();
            list("", &written.root, &mut found);
            found.extend(written.defects.into_iter().map(|defect| Entry {
                path: defect.part,
                text: match defect.kind {
                    DefectKind::Open => "open".to_owned(),
                    DefectKind::Short => "short".to_owned(),
                },
            }));
            Ok(found)
        }
        _ => Err(problems.into_sorted()),
    }
}

fn list(above: &str, table: &Table, found: &mut Vec<Entry>) {
    for entry in &table.entries {
        // A part is called by its name, unless a table of the scenario has that name.
        let path = match above {
            "" => entry.key.clone(),
            "board" if !TOP.contains(&entry.key.as_str()) => entry.key.clone(),
            above => format!("{above}.{}", entry.key),
        };
        let text = match &entry.item.value {
            Value::Table(inner) => {
                list(&path, inner, found);
                continue;
            }
            Value::Text(text) | Value::Number(text) => text.clone(),
            Value::Flag(flag) => flag.to_string(),
            Value::List(_) | Value::Moment => entry.item.span.text().to_owned(),
        };
        found.push(Entry { path, text });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BASE: &str = "title = \"t\"\n[game]\nball = [0.5, 0.4]\n[board.R1]\nresistor = \"1k\"\n\
                        from = \"a\"\nto = \"b\"\n[board.output]\nlead = 1\n";

    fn found(files: &[(&str, &str)], sets: &[&str]) -> Vec<(String, String)> {
        let sets: Vec<String> = sets.iter().map(|&set| set.to_owned()).collect();
        let mut read = |name: &str| {
            let found = files.iter().find(|(known, _)| *known == name);
            found.map(|(_, text)| (*text).to_owned()).ok_or(io::ErrorKind::NotFound.into())
        };
        let found = entries(files[0].0, &sets, &mut read).unwrap();
        found.into_iter().map(|entry| (entry.path, entry.text)).collect()
    }

    fn has(found: &[(String, String)], path: &str, text: &str) -> bool {
        found.iter().any(|(a, b)| a == path && b == text)
    }

    #[test]
    fn entries_have_the_names_that_set_takes_and_texts_as_written() {
        let found = found(&[("b.toml", BASE)], &["R1=2k2", "game.left=0.3", "R1=open"]);
        for (path, text) in [
            ("game.ball", "[0.5, 0.4]"),
            ("R1.resistor", "2k2"),
            ("R1.from", "a"),
            ("game.left", "0.3"),
            ("board.output.lead", "1"),
            ("R1", "open"),
        ] {
            assert!(has(&found, path, text), "{path}: {found:?}");
        }
    }

    #[test]
    fn a_variant_has_the_entries_of_its_base_with_its_changes() {
        let variant = "base = \"b.toml\"\n[change]\nR1 = \"3k3\"\ngame.right = 0.1\n";
        let found = found(&[("v.toml", variant), ("b.toml", BASE)], &[]);
        assert!(has(&found, "R1.resistor", "3k3") && has(&found, "game.right", "0.1"), "{found:?}");
    }

    #[test]
    fn what_cannot_be_read_is_said() {
        let nothing = &mut |_: &str| Err(io::ErrorKind::NotFound.into());
        assert!(entries("x.toml", &[], nothing).is_err());
    }
}
