//! File names with `*` and `?`.

/// Whether `name` is what `pattern` describes: `*` stands for any letters, `?` for one.
///
/// Goes back to the last `*` only, so that its time is at most the product of the two lengths.
#[must_use]
pub fn fits(pattern: &str, name: &str) -> bool {
    let pattern: Vec<char> = pattern.chars().collect();
    let name: Vec<char> = name.chars().collect();
    let (mut p, mut n) = (0, 0);
    let mut star: Option<(usize, usize)> = None;
    while let Some(letter) = name.get(n) {
        match pattern.get(p) {
            Some('*') => {
                star = Some((p, n));
                p += 1;
            }
            Some(wanted) if *wanted == '?' || wanted == letter => {
                p += 1;
                n += 1;
            }
            _ => {
                let Some((at, taken)) = star else {
                    return false;
                };
                star = Some((at, taken + 1));
                p = at + 1;
                n = taken + 1;
            }
        }
    }
    pattern
        .get(p..)
        .is_some_and(|rest| rest.iter().all(|letter| *letter == '*'))
}

#[cfg(test)]
mod tests {
    use super::fits;

    #[test]
    fn stars_and_question_marks() {
        assert!(fits("lid-*.gcode", "lid-7.gcode"));
        assert!(fits("lid-?.gcode", "lid-7.gcode"));
        assert!(!fits("lid-?.gcode", "lid-17.gcode"));
        assert!(!fits("lid-*.gcode", "slid-7.gcode"));
        assert!(fits("*", ""));
        assert!(!fits("", "a"));
        assert!(fits("*a*b", "xaybzab"));
        assert!(!fits("*a*b", "xaybza"));
        // What would take for ever with one step back per star.
        let (pattern, name) = ("*a".repeat(40) + "c", "a".repeat(4000));
        assert!(!fits(&pattern, &name));
    }
}
