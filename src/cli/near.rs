//! Which words are near to one that was mistyped.

/// Up to three of the known words, nearest first: those few letters away, then those that share a
/// part between hyphens.
pub(super) fn near<'a>(word: &str, known: impl Iterator<Item = &'a str>) -> Vec<&'a str> {
    let word: String = word.to_lowercase().chars().take(64).collect();
    let parts: Vec<&str> = word
        .split(['-', '_', ' '])
        .filter(|part| part.len() > 2)
        .collect();
    let mut found: Vec<(usize, usize, &str)> = known
        .filter_map(|other| {
            let away = distance(&word, other);
            let shared = other.split('-').filter(|part| parts.contains(part)).count();
            let is_near = away <= 1 + other.chars().count() / 5;
            (is_near || shared > 0).then_some((
                if is_near { 0 } else { 10 - shared.min(9) },
                away,
                other,
            ))
        })
        .collect();
    found.sort_unstable();
    found.into_iter().take(3).map(|(_, _, word)| word).collect()
}

/// Edit distance: insertions, deletions and replacements (V. I. Levenshtein, 1966), one row at a time.
fn distance(one: &str, other: &str) -> usize {
    let other: Vec<char> = other.chars().collect();
    let mut row: Vec<usize> = (0..=other.len()).collect();
    for (line, letter) in one.chars().enumerate() {
        let mut slant = line;
        let mut left = line + 1;
        for (cell, wanted) in row.iter_mut().skip(1).zip(&other) {
            let here = (slant + usize::from(letter != *wanted))
                .min(*cell + 1)
                .min(left + 1);
            slant = *cell;
            *cell = here;
            left = here;
        }
        if let Some(first) = row.first_mut() {
            *first = line + 1;
        }
    }
    row.last().copied().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances() {
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!(distance("", "abc"), 3);
        assert_eq!(distance("abc", ""), 3);
        assert_eq!(distance("abc", "abc"), 0);
    }

    #[test]
    fn slips_and_shared_parts_are_near() {
        let known = [
            "bed-above-machine",
            "hotend-above-machine",
            "hotend-below-sheet",
        ];
        let near = |word| super::near(word, known.into_iter());
        assert_eq!(
            near("hotend-bellow-sheet").first(),
            Some(&"hotend-below-sheet")
        );
        assert_eq!(
            near("HOTEND_BELOW_SHEET").first(),
            Some(&"hotend-below-sheet")
        );
        assert_eq!(
            near("machine"),
            ["bed-above-machine", "hotend-above-machine"]
        );
        assert!(near("zebra").is_empty());
    }
}
