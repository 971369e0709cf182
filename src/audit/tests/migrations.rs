//! Stores of earlier versions.

use super::*;

/// Writes a store as version 1 left it: its own schema, and rows that its program wrote.
fn first(store: &Path) {
    let connection = rusqlite::Connection::open(store).unwrap();
    connection
        .execute_batch(include_str!("../store/first.sql"))
        .unwrap();
    connection
        .execute_batch(include_str!("first_store.sql"))
        .unwrap();
    connection
        .execute_batch("PRAGMA application_id = 1296523637; PRAGMA user_version = 1;")
        .unwrap();
}

#[test]
fn a_store_of_version_1_is_brought_up_to_date_and_loses_nothing() {
    let (_place, folder, store) = place();
    first(&store);
    // Reading it is enough to bring it there, and twice is once.
    for _ in 0..2 {
        assert_eq!(
            rows(
                &store,
                "SELECT path, state, material, declared, major, minor, time_s FROM jobs ORDER BY path"
            ),
            [
                r#"[Text("/archive/shop/fast.gcode"), Text("held"), Text("PLA"), Null, Whole(1), Whole(1), Real(161.271)]"#,
                r#"[Text("/archive/shop/lid.gcode"), Text("released"), Text("PLA"), Null, Whole(0), Whole(0), Real(174.017)]"#,
            ]
        );
        assert_eq!(number(&store, "PRAGMA user_version"), 2);
    }
    for (question, count) in [
        ("SELECT count(*) FROM findings", 2),
        ("SELECT count(*) FROM gone_jobs", 1),
        ("SELECT count(*) FROM changes", 4),
        ("SELECT count(*) FROM runs", 2),
        ("SELECT jobs FROM totals WHERE kind = 'all'", 2),
        ("SELECT count(*) FROM held_values", 0),
    ] {
        assert_eq!(number(&store, question), count, "{question}");
    }
    // It goes on as a store: what lies elsewhere comes beside, what version 1 knew stays.
    generate(&folder, 10);
    run(&folder, &store, 1, false);
    assert_eq!(number(&store, "SELECT count(*) FROM jobs"), 12);
    assert_eq!(
        number(&store, "SELECT jobs FROM totals WHERE kind = 'all'"),
        12
    );
    let values = "SELECT count(DISTINCT path), count(DISTINCT name) FROM held_values";
    assert_eq!(rows(&store, values), ["[Whole(10), Whole(14)]"]);
}

/// A job that version 1 knew is read again, so that its values are there.
#[test]
fn what_version_1_knew_is_looked_at_again() {
    let (_place, folder, store) = place();
    put(&folder.join("lid.gcode"), GOOD.as_bytes());
    first(&store);
    let key = folder.join("lid.gcode");
    let key = key.to_str().unwrap();
    let connection = rusqlite::Connection::open(&store).unwrap();
    let moved = "UPDATE _file SET path = ?1, key = CAST(?1 AS BLOB) WHERE id = 1";
    assert_eq!(connection.execute(moved, [key]).unwrap(), 1);
    drop(connection);
    assert_eq!(run(&folder, &store, 1, false).counts.inspected, 1);
    let one =
        "SELECT value FROM held_values WHERE name = 'hotend.least' AND path LIKE '%lid.gcode'";
    assert_eq!(rows(&store, one), ["[Real(210.0)]"]);
    assert_eq!(run(&folder, &store, 1, false).counts.inspected, 0);
}
