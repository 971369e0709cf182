//! Names of sheets: how they are compared, and which are near.

/// A name without case and separators: `PA6-CF`, `pa6 cf` and `PA6_CF` are the same.
pub(super) fn plain(name: &str) -> String {
    name.chars()
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .collect()
}

/// Up to three of the words that are near to this one, nearest first.
pub(super) fn nearest<'a>(word: &str, known: impl Iterator<Item = &'a str>) -> Vec<&'a str> {
    let word: String = plain(word).chars().take(64).collect();
    let mut near: Vec<(usize, &str)> = known
        .filter_map(|other| {
            let plain = plain(other);
            let away = distance(&word, &plain);
            let within = plain.len() >= 3
                && word.len() >= 3
                && (plain.starts_with(&word) || word.starts_with(&plain));
            let allowed = 1 + word.chars().count().max(plain.chars().count()) / 4;
            (within || away <= allowed).then_some((away, other))
        })
        .collect();
    near.sort();
    near.dedup_by_key(|(_, word)| *word);
    near.into_iter().take(3).map(|(_, word)| word).collect()
}

/// Edit distance: insertions, deletions and replacements (V. I. Levenshtein, 1966), one row at a time.
fn distance(one: &str, other: &str) -> usize {
    let other: Vec<char> = other.chars().collect();
    let mut row: Vec<usize> = (0..=other.len()).collect();
    for (line, c) in one.chars().enumerate() {
        let mut left = line + 1;
        let mut next = Vec::with_capacity(row.len());
        next.push(left);
        for (pair, d) in row.windows(2).zip(&other) {
            if let [slant, above] = pair {
                left = (slant + usize::from(c != *d)).min(above + 1).min(left + 1);
                next.push(left);
            }
        }
        row = next;
    }
    row.last().copied().unwrap_or_default()
}
