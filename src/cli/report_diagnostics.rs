//! Draws what is wrong with a file: the place, the line, a caret, what was expected and a hint.

use annotate_snippets::AnnotationKind;
use annotate_snippets::Group;
use annotate_snippets::Level;
use annotate_snippets::Renderer;
use annotate_snippets::Snippet;
use backporch::base::diagnostic::Diagnostic;
use backporch::base::diagnostic::Span;

/// Plain text, the same on every machine; one block for each diagnostic, an empty line between.
pub(crate) fn render(diagnostics: &[Diagnostic]) -> String {
    let renderer = Renderer::plain();
    let mut text = String::new();
    for (index, diagnostic) in diagnostics.iter().enumerate() {
        if index > 0 {
            text.push('\n');
        }
        for line in renderer.render(&[group(diagnostic)]).lines() {
            text.push_str(line.trim_end());
            text.push('\n');
        }
    }
    text
}

fn group(diagnostic: &Diagnostic) -> Group<'_> {
    let title = Level::ERROR.primary_title(diagnostic.message.as_str());
    let mut group = Group::with_title(title);
    if let Some(span) = &diagnostic.span {
        let label = Some(diagnostic.expected.as_str()).filter(|expected| !expected.is_empty());
        let caret = AnnotationKind::Primary.span(first_line(span)).label(label);
        let snippet = Snippet::source(span.source.text.as_str())
            .path(span.source.name.as_str())
            .annotation(caret);
        group = group.element(snippet);
    }
    if let Some(hint) = &diagnostic.hint {
        group = group.element(Level::HELP.with_name("hint").message(hint.as_str()));
    }
    group
}

/// The part of a span that lies on its first line: a caret under one line says where.
fn first_line(span: &Span) -> std::ops::Range<usize> {
    let length = span.text().find(['\r', '\n']).unwrap_or(span.range.len());
    span.range.start..span.range.start + length
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;
    use std::path::Path;

    /// What a user would see who loads the file from the top of the source tree.
    fn seen(name: &str, root: &Path) -> String {
        let mut read = |path: &str| fs::read_to_string(root.join(path));
        match backporch::scenario::load(name, &[], &mut read) {
            Ok(_) => "nothing is wrong with it\n".to_owned(),
            Err(diagnostics) => render(&diagnostics),
        }
    }

    #[test]
    fn every_bad_scenario_gets_the_message_beside_it() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let update = std::env::var_os("UPDATE_GOLDEN").is_some();
        let mut names: Vec<String> = fs::read_dir(root.join("tests/bad"))
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter(|name| name.ends_with(".toml"))
            .collect();
        names.sort();
        assert!(names.len() >= 10, "the bad scenarios are gone");
        let mut different = String::new();
        for name in names {
            let found = seen(&format!("tests/bad/{name}"), root);
            let path = root.join("tests/bad").join(name.replace(".toml", ".txt"));
            let expected = fs::read_to_string(&path).unwrap_or_default();
            if found != expected {
                different += &format!("{name}: expected\n{expected}\nfound\n{found}\n");
                if update {
                    fs::write(&path, found).unwrap();
                }
            }
        }
        assert!(different.is_empty(), "{different}");
    }

    /// Texts that are nearly a scenario, made by cutting, doubling and exchanging stretches of one.
    fn damaged(text: &str, seed: u64) -> String {
        let mut state = seed;
        let mut next = |below: usize| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            usize::try_from(state >> 33).unwrap() % below
        };
        let mut letters: Vec<char> = text.chars().collect();
        for _ in 0..=next(4) {
            let at = next(letters.len());
            let end = (at + next(12)).min(letters.len());
            match next(4) {
                0 => drop(letters.drain(at..end)),
                1 => letters.extend_from_within(at..end),
                2 => letters[at] = ['"', '[', '=', '\n', 'µ', '-', '.', '{'][next(8)],
                _ => letters.insert(at, ['9', ']', '\'', '#', 'Ω', ',', '}', '\r'][next(8)]),
            }
        }
        letters.into_iter().collect()
    }

    #[test]
    fn a_damaged_scenario_is_read_or_explained_and_never_a_panic() {
        let text = include_str!("../../scenarios/chapel-follower.toml");
        let mut refused = 0;
        for seed in 0..3000 {
            let damaged = damaged(text, seed);
            let sets = [damaged.chars().take(20).collect()];
            let sets = if seed % 5 == 0 { &sets[..] } else { &[] };
            let loaded = backporch::scenario::load("t.toml", sets, &mut |_| Ok(damaged.clone()));
            if let Err(diagnostics) = loaded {
                refused += 1;
                assert!(render(&diagnostics).starts_with("error: "), "{damaged}");
            }
        }
        assert!(refused > 1000, "{refused}");
    }

    #[test]
    fn a_diagnostic_without_a_place_is_one_line() {
        let message = "there is no file `x.toml`".to_owned();
        let alone = Diagnostic { message, span: None, expected: String::new(), hint: None };
        assert_eq!(render(&[alone]), "error: there is no file `x.toml`\n");
    }
}
