//! The name that was probably meant.

/// The closest of `names` to `word`, if it is close enough to be a slip of the pen.
///
/// One letter wrong, missing, extra or exchanged in a short word, two from seven letters on; the
/// case of letters counts for nothing.
#[must_use]
pub fn nearest<'a>(word: &str, names: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let lower = word.to_lowercase();
    names
        .into_iter()
        .filter(|name| *name != word)
        .map(|name| (strsim::damerau_levenshtein(&lower, &name.to_lowercase()), name))
        .filter(|(distance, _)| *distance <= allowance(word))
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, name)| name)
}

/// As [`nearest`], but not for names that differ in their digits: `n1` is no slip for `n2`.
#[must_use]
pub fn nearest_unnumbered<'a>(
    word: &str,
    names: impl IntoIterator<Item = &'a str>,
) -> Option<&'a str> {
    let digits = |text: &str| text.chars().filter(char::is_ascii_digit).collect::<String>();
    nearest(word, names.into_iter().filter(|name| digits(name) == digits(word)))
}

fn allowance(word: &str) -> usize {
    match word.chars().count() {
        0..=2 => usize::from(word.len() == 2),
        3..=6 => 1,
        _ => 2,
    }
}

/// The hint for a near match.
#[must_use]
pub fn did_you_mean(name: &str) -> String {
    format!("did you mean `{name}`?")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_is_found_and_a_different_word_is_not() {
        assert_eq!(nearest("mixx", ["mix", "drive"]), Some("mix"));
        assert_eq!(nearest("resitsor", ["resistor", "capacitor"]), Some("resistor"));
        assert_eq!(nearest("Ground", ["ground"]), Some("ground"));
        assert_eq!(nearest("plug", ["ground", "mix"]), None);
    }

    #[test]
    fn numbered_names_are_not_slips_of_each_other() {
        assert_eq!(nearest_unnumbered("n1", ["n2"]), None);
        assert_eq!(nearest_unnumbered("rial5", ["rail5"]), Some("rail5"));
    }
}
