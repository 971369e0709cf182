//! Lines instead of a store: `map` and `fold`.

use super::*;
use crate::audit::{Error, fold, map};

pub(super) fn paths(folder: &Path) -> Vec<String> {
    let mut all = Vec::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(folder) = open.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path)
            } else {
                all.push(path.display().to_string())
            }
        }
    }
    all.sort();
    all
}

pub(super) fn mapped(paths: &[String]) -> String {
    let mut out = Vec::new();
    let list = paths.join("\n");
    map(list.as_bytes(), false, &rules(), &mut out).unwrap();
    String::from_utf8(out).unwrap()
}

/// Only what a store says of its jobs; a fold has no history of what is gone.
const JOBS: &str = "SELECT path, member, digest, size, month, terms, state, error, material, machine, \
                    critical, major, minor, observations, not_held, bytes, lines, packing, time_s, \
                    filament_mm, filament_g, layers FROM jobs ORDER BY path, member";

const FINDINGS: &str = "SELECT path, member, number, requirement, class, count, counts, line, amount, \
                        limit_value, unit, whose, message, conceded FROM findings \
                        ORDER BY path, member, number";

#[test]
fn folded_lines_are_the_store_of_an_audit_in_any_order_and_any_number_of_times() {
    let (_place, folder, store) = place();
    generate(&folder, 100);
    let mut zip = zip::ZipWriter::new(File::create(folder.join("plates.zip")).unwrap());
    for name in ["a.gcode", "b.gcode"] {
        zip.start_file(name, zip::write::SimpleFileOptions::default())
            .unwrap();
        zip.write_all(GOOD.as_bytes()).unwrap();
    }
    zip.finish().unwrap();
    run(&folder, &store, 2, false);
    let list = paths(&folder);
    assert_eq!(list.len(), 101);
    let lines = mapped(&list);
    let folded = store.with_extension("folded");
    assert_eq!(fold(lines.as_bytes(), &folded).unwrap(), 102);
    for question in [JOBS, FINDINGS, "SELECT * FROM totals ORDER BY kind, name"] {
        assert_eq!(rows(&folded, question), rows(&store, question));
    }
    let once = contents(&folded);
    let mut backwards: Vec<&str> = lines.lines().collect();
    backwards.reverse();
    fold(backwards.join("\n").as_bytes(), &folded).unwrap();
    assert_eq!(contents(&folded), once);
    let anew = store.with_extension("anew");
    // As an engine may give them: in pieces, some of them twice.
    for piece in backwards.chunks(30).chain(backwards.chunks(50)) {
        fold(piece.join("\n").as_bytes(), &anew).unwrap();
    }
    for question in [JOBS, FINDINGS, "SELECT * FROM totals ORDER BY kind, name"] {
        assert_eq!(rows(&anew, question), rows(&store, question));
    }
}

#[test]
fn lines_come_in_the_order_of_the_paths_and_bad_jobs_have_theirs() {
    let (_place, folder, _) = place();
    generate(&folder, 97);
    let list: Vec<String> = [
        "3/job-3.gcode",
        "17/job-97.gcode",
        "no/such.gcode",
        "6/job-6.gcode",
        ".",
    ]
    .iter()
    .map(|name| folder.join(name).display().to_string())
    .collect();
    let lines = mapped(&list);
    let read: Vec<serde_json::Value> = lines
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    let seen: Vec<(&str, bool)> = read
        .iter()
        .map(|line| {
            (
                line["site"]["path"].as_str().unwrap(),
                line["record"]["verdict"].is_string(),
            )
        })
        .collect();
    let wanted: Vec<(String, bool)> = list
        .iter()
        .zip([true, false, false, true, false])
        .map(|(path, is)| (std::path::absolute(path).unwrap().display().to_string(), is))
        .collect();
    let seen: Vec<(String, bool)> = seen
        .into_iter()
        .map(|(path, is)| (path.to_owned(), is))
        .collect();
    assert_eq!(seen, wanted);
    assert_eq!(mapped(&list), lines);
}

#[test]
fn what_is_no_line_ends_the_fold_and_what_came_before_is_kept() {
    let (_place, folder, store) = place();
    generate(&folder, 2);
    let lines = mapped(&paths(&folder)) + "{\"schema\":\"another\"}\n";
    let fault = fold(lines.as_bytes(), &store).unwrap_err();
    assert!(matches!(fault, Error::Line { line: 3, .. }), "{fault}");
    assert_eq!(number(&store, "SELECT count(*) FROM jobs"), 2);
}
