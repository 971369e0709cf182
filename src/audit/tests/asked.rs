//! Asking a store, and stores that are none.

use super::*;
use crate::audit::{Error, REPORTS};

#[test]
fn a_question_can_only_read() {
    let (_place, folder, store) = place();
    generate(&folder, 3);
    run(&folder, &store, 1, false);
    let before = contents(&store);
    let other = store.with_extension("other");
    for question in [
        "DELETE FROM _job",
        "UPDATE _file SET path = ''",
        "INSERT INTO _run (began, version) VALUES ('', '') RETURNING id",
        "DROP VIEW jobs",
        "PRAGMA user_version = 9",
        "PRAGMA query_only = OFF",
        "PRAGMA journal_mode = DELETE",
        "VACUUM",
        &format!("ATTACH '{}' AS other", other.display()),
        &format!("VACUUM INTO '{}'", other.display()),
        "SELECT load_extension('x')",
        "SELEC",
        "",
    ] {
        let reader = Reader::open(&store).unwrap();
        let _ = reader.ask(question, |_| Ok(()), |_| Ok(()));
        assert!(
            reader.connection().execute("DELETE FROM _job", []).is_err(),
            "{question}"
        );
        assert!(!other.exists(), "{question}");
        assert_eq!(contents(&store), before, "{question}");
    }
    let reader = Reader::open(&store).unwrap();
    for question in ["DELETE FROM _job", "SELEC", ""] {
        let fault = reader.ask(question, |_| Ok(()), |_| Ok(())).unwrap_err();
        assert!(matches!(fault, Error::Question(_)), "{question}: {fault}");
    }
}

#[test]
fn every_ready_report_answers() {
    let (_place, folder, store) = place();
    generate(&folder, 60);
    run(&folder, &store, 1, false);
    for report in REPORTS {
        let answer = rows(&store, report.question);
        assert!(!answer.is_empty(), "{}", report.name);
        if let Some(bar) = report.bar {
            let mut names = Vec::new();
            let reader = Reader::open(&store).unwrap();
            let head = |all: &[String]| {
                names = all.to_vec();
                Ok(())
            };
            reader.ask(report.question, head, |_| Ok(())).unwrap();
            assert!(names.iter().any(|name| name == bar), "{}", report.name);
        }
    }
    let question = REPORTS
        .iter()
        .find(|report| report.name == "requirements")
        .unwrap()
        .question;
    // Twelve of sixty are multiples of five; one of those has a cold bed, too, and is held.
    assert_eq!(
        rows(&store, question)[0],
        r#"[Text("first-layer-fast"), Whole(12), Whole(1), Whole(12)]"#
    );
}

#[test]
fn what_is_no_store_is_left_alone() {
    let (place, folder, _) = place();
    generate(&folder, 1);
    let rules = rules();
    let into = |store: &Path| {
        audit(Call {
            what: What::Paths(vec![folder.clone()]),
            rules: &rules,
            store,
            threads: 1,
            verify: false,
            watch: &Nobody,
        })
    };
    let text = place.path().join("text");
    std::fs::write(
        &text,
        "no database, and long enough to look like one of some kind".repeat(50),
    )
    .unwrap();
    assert!(matches!(into(&text), Err(Error::Unopened { .. })));
    let foreign = place.path().join("foreign");
    let other = rusqlite::Connection::open(&foreign).unwrap();
    other
        .execute_batch("CREATE TABLE stock (part TEXT)")
        .unwrap();
    drop(other);
    let before = std::fs::read(&foreign).unwrap();
    assert!(matches!(into(&foreign), Err(Error::Foreign { .. })));
    assert!(matches!(Reader::open(&foreign), Err(Error::Foreign { .. })));
    let tables = rusqlite::Connection::open(&foreign).unwrap();
    let count: i64 = tables
        .query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))
        .unwrap();
    assert_eq!((count, before.is_empty()), (1, false));
    let newer = place.path().join("newer");
    into(&newer).unwrap();
    rusqlite::Connection::open(&newer)
        .unwrap()
        .execute_batch("PRAGMA user_version = 99")
        .unwrap();
    assert!(matches!(into(&newer), Err(Error::Newer { found: 99, .. })));
    assert!(matches!(
        Reader::open(&place.path().join("absent")),
        Err(Error::Missing { .. })
    ));
}
