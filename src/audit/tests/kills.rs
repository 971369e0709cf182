//! An audit that is killed at any point and run again gives the store of one that was not.

use super::*;
use std::process::Command;
use std::sync::atomic::{AtomicU64, Ordering};

/// Kills this process, with nothing closed or written out, at the moment of that number.
struct Killer {
    at: u64,
    passed: AtomicU64,
}

impl Watch for Killer {
    fn at(&self, _point: Point) {
        if self.passed.fetch_add(1, Ordering::SeqCst) + 1 == self.at {
            std::process::abort();
        }
    }
}

/// Not a test: the audit that is killed. The tests here start this very program with it.
#[test]
#[ignore = "it is started by the tests beside it"]
fn a_child_that_is_killed() {
    let given = |name: &str| std::env::var_os(name).map(PathBuf::from);
    let (Some(folder), Some(store), Some(at)) = (
        given("MELT_FOLDER"),
        given("MELT_STORE"),
        std::env::var("MELT_AT").ok(),
    ) else {
        return;
    };
    let killer = Killer {
        at: at.parse().unwrap(),
        passed: AtomicU64::new(0),
    };
    let rules = rules();
    audit(Call {
        what: What::Paths(vec![folder]),
        rules: &rules,
        store: &store,
        threads: 2,
        verify: false,
        watch: &killer,
    })
    .unwrap();
}

/// Runs an audit that is killed at a point; whether it came so far.
fn killed(folder: &Path, store: &Path, at: u64) -> bool {
    let status = Command::new(std::env::current_exe().unwrap())
        .args([
            "--exact",
            "--ignored",
            "audit::tests::kills::a_child_that_is_killed",
        ])
        .env("MELT_FOLDER", folder)
        .env("MELT_STORE", store)
        .env("MELT_AT", at.to_string())
        .output()
        .unwrap()
        .status;
    assert_ne!(status.code(), Some(101), "the child failed of itself");
    !status.success()
}

fn copy_of(store: &Path, at: u64) -> PathBuf {
    let copy = store.with_extension(format!("{at}"));
    if store.exists() {
        std::fs::copy(store, &copy).unwrap();
    }
    copy
}

/// Kills at every point in turn, runs again, and compares; how many points there were.
fn kill_everywhere(folder: &Path, before: &Path, undisturbed: &[String]) -> u64 {
    let mut at = 1;
    loop {
        let store = copy_of(before, at);
        let was_killed = killed(folder, &store, at);
        run(folder, &store, 2, false);
        assert!(contents(&store) == undisturbed, "killed at point {at}");
        assert_eq!(rows(&store, "PRAGMA integrity_check"), [r#"[Text("ok")]"#]);
        if !was_killed {
            return at - 1;
        }
        at += 1;
    }
}

#[test]
fn killed_at_any_point_and_run_again_is_as_if_undisturbed() {
    let (_place, folder, store) = place();
    generate(&folder, 14);
    run(&folder, &store, 2, false);
    let none = store.with_extension("none");
    let points = kill_everywhere(&folder, &none, &contents(&store));
    assert!(points > 14 * 4, "{points} points");
}

#[test]
fn killed_while_it_takes_up_changes_it_is_the_same() {
    let (_place, folder, store) = place();
    generate(&folder, 12);
    run(&folder, &store, 2, false);
    let before = store.with_extension("before");
    std::fs::copy(&store, &before).unwrap();
    std::fs::create_dir(folder.join("new")).unwrap();
    std::fs::rename(
        folder.join("5/job-5.gcode.zst"),
        folder.join("new/a.gcode.zst"),
    )
    .unwrap();
    std::fs::remove_file(folder.join("4/job-4.gcode.gz")).unwrap();
    put(
        &folder.join("6/job-6.gcode"),
        GOOD.replace("S60", "S30").as_bytes(),
    );
    put(&folder.join("new/b.gcode"), GOOD.as_bytes());
    let counts = run(&folder, &store, 2, false).counts;
    assert_eq!(
        (counts.inspected, counts.copied, counts.gone, counts.moved),
        (2, 1, 2, 1)
    );
    let points = kill_everywhere(&folder, &before, &contents(&store));
    assert!(points > 12, "{points} points");
}

#[test]
fn stopped_it_keeps_what_it_has_and_goes_on_from_there() {
    struct Stop(AtomicU64);
    impl Watch for Stop {
        fn at(&self, point: Point) {
            if point == Point::Put {
                self.0.fetch_add(1, Ordering::SeqCst);
            }
        }
        fn is_stopped(&self) -> bool {
            self.0.load(Ordering::SeqCst) >= 10
        }
    }
    let (_place, folder, store) = place();
    generate(&folder, 200);
    let rules = rules();
    let ended = audit(Call {
        what: What::Paths(vec![folder.clone()]),
        rules: &rules,
        store: &store,
        threads: 2,
        verify: false,
        watch: &Stop(AtomicU64::new(0)),
    })
    .unwrap();
    assert!(ended.is_stopped);
    let kept = number(&store, "SELECT count(*) FROM jobs");
    assert!((10..200).contains(&kept), "{kept}");
    assert_eq!(number(&store, "SELECT whole FROM runs"), 0);
    let ended = run(&folder, &store, 2, false);
    assert_eq!(
        (ended.counts.known, ended.counts.inspected),
        (kept, 200 - kept)
    );
    let undisturbed = store.with_extension("undisturbed");
    run(&folder, &undisturbed, 2, false);
    assert_eq!(contents(&store), contents(&undisturbed));
}
