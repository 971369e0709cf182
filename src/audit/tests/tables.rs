//! Tables for engines: answers that go out, and lines that come in.

use super::*;
use crate::audit::{Error, fold, fold_files, map, write_table};
use parquet::file::reader::{FileReader, SerializedFileReader};

fn table(store: &Path, question: &str, into: &Path) {
    let reader = Reader::open(store).unwrap();
    write_table(&reader, question, File::create(into).unwrap()).unwrap();
}

/// The rows of a table as its own library writes them.
fn read(path: &Path) -> Vec<String> {
    let file = SerializedFileReader::new(File::open(path).unwrap()).unwrap();
    let rows = file.get_row_iter(None).unwrap();
    rows.map(|row| row.unwrap().to_string()).collect()
}

#[test]
fn every_cell_goes_out_as_what_it_is() {
    let (place, folder, store) = place();
    generate(&folder, 3);
    run(&folder, &store, 1, false);
    let path = place.path().join("table.parquet");
    let question = "SELECT 1 AS whole, 1 AS mixed, 'a' AS text, NULL AS blank, 7 AS text \
                    UNION ALL SELECT NULL, 2.5, 'b', NULL, 'x' \
                    UNION ALL SELECT -9007199254740993, 1e300, '', NULL, 0.5";
    table(&store, question, &path);
    assert_eq!(
        read(&path),
        [
            r#"{whole: 1, mixed: 1.0, text: "a", blank: null, text:2: "7"}"#,
            r#"{whole: null, mixed: 2.5, text: "b", blank: null, text:2: "x"}"#,
            r#"{whole: -9007199254740993, mixed: 1E300, text: "", blank: null, text:2: "0.5"}"#,
        ]
    );
    table(&store, "SELECT path FROM jobs WHERE 0", &path);
    assert!(read(&path).is_empty());
    // More rows than go out at once.
    let many = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 70000) SELECT i FROM n";
    table(&store, many, &path);
    let rows = read(&path);
    assert_eq!(
        (rows.len(), rows.last().unwrap().as_str()),
        (70_000, "{i: 70000}")
    );
    let reader = Reader::open(&store).unwrap();
    let fault = write_table(&reader, "DELETE FROM _job", Vec::new()).unwrap_err();
    assert!(matches!(fault, Error::Question(_)), "{fault}");
}

#[test]
fn lines_come_in_from_files_and_tables_as_from_a_pipe() {
    let (place, folder, store) = place();
    generate(&folder, 40);
    run(&folder, &store, 1, false);
    let list = rows(&store, "SELECT path FROM jobs ORDER BY path");
    let list: Vec<&str> = list.iter().map(|row| &row[7..row.len() - 3]).collect();
    let mut lines = Vec::new();
    map(list.join("\n").as_bytes(), false, &rules(), &mut lines).unwrap();
    let text = String::from_utf8(lines.clone()).unwrap();
    let piped = place.path().join("piped");
    assert_eq!(fold(text.as_bytes(), &piped).unwrap(), 40);
    let file = place.path().join("lines.ndjson");
    std::fs::write(&file, &text).unwrap();
    // As an engine leaves them: tables in a folder, with a mark beside them that is none.
    let out = place.path().join("out");
    std::fs::create_dir(&out).unwrap();
    std::fs::write(out.join("_SUCCESS"), "").unwrap();
    let scratch = rusqlite::Connection::open(&store).unwrap();
    scratch
        .execute_batch("CREATE TABLE far (number INTEGER, line TEXT)")
        .unwrap();
    for (number, line) in text.lines().enumerate() {
        scratch
            .execute("INSERT INTO far VALUES (?1, ?2)", (number, line))
            .unwrap();
    }
    for part in 0..3 {
        let question =
            format!("SELECT number, line, 'other' AS text FROM far WHERE number % 3 = {part}");
        table(&store, &question, &out.join(format!("part-{part}.parquet")));
    }
    for paths in [
        vec![file.clone()],
        vec![out.clone()],
        vec![out.clone(), file],
    ] {
        let folded = place.path().join("folded");
        let _ = std::fs::remove_file(&folded);
        let count = if paths.len() == 2 { 80 } else { 40 };
        assert_eq!(fold_files(&paths, &folded).unwrap(), count);
        assert_eq!(contents(&folded), contents(&piped));
    }
    // What is damaged, or holds no lines, is told and stops nothing that came before.
    let damaged = place.path().join("damaged");
    let whole = std::fs::read(out.join("part-1.parquet")).unwrap();
    for cut in (0..whole.len()).step_by(whole.len() / 37 + 1) {
        let mut bytes = whole.clone();
        bytes[cut] ^= 0x5a;
        std::fs::write(&damaged, &bytes).unwrap();
        let fresh = place.path().join("fresh");
        let _ = std::fs::remove_file(&fresh);
        // One bit may do no harm where nobody looks, but never more than be told.
        let _ = fold_files(std::slice::from_ref(&damaged), &fresh);
        std::fs::write(&damaged, &whole[..cut]).unwrap();
        let fault = fold_files(&[out.join("part-0.parquet"), damaged.clone()], &fresh);
        if cut > 0 {
            assert!(fault.is_err(), "{cut}");
        }
        assert!(number(&fresh, "SELECT count(*) FROM jobs") >= 14);
    }
    table(&store, "SELECT number FROM far", &damaged);
    let fault = fold_files(&[damaged], &piped).unwrap_err();
    assert!(fault.to_string().contains("no column `line`"), "{fault}");
    let fault = fold_files(&[place.path().join("absent")], &piped).unwrap_err();
    assert!(matches!(fault, Error::Table { .. }), "{fault}");
}
