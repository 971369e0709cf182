//! Audits of generated archives: known faults give known counts, whatever happens on the way.

mod archives;
mod asked;
mod beyond;
mod kills;
mod migrations;
#[cfg(feature = "parquet")]
mod tables;
mod totals;
mod what_if;

use super::run::Ended;
use super::{Call, Point, Reader, Watch, What, audit};
use crate::concession::Date;
use crate::finding::Class;
use crate::job::{Rules, Settings};
use crate::report::NamedBy;
use std::collections::BTreeMap;
use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, SystemTime};

/// A job that fulfils every requirement: a square, three layers high.
const GOOD: &str = include_str!("good.gcode");

/// Nobody looks on.
struct Nobody;

impl Watch for Nobody {
    fn at(&self, _point: Point) {}
}

fn rules() -> Rules {
    let machine = crate::sheet::load_machine("closed-hardened").unwrap();
    Rules::from(Settings {
        materials: None,
        material_by: NamedBy::Nobody("not named".to_owned()),
        machine: Some(Arc::new(machine)),
        machine_by: NamedBy::CommandLine,
        hold_from: Class::Major,
        concessions: Arc::from([]),
        today: Date::new(2027, 1, 1).unwrap(),
        instead: None,
        walls: false,
        sections: false,
    })
}

/// The faults that a generated job is seeded with, by its number: every job differs, and what is
/// wrong with it follows from its number alone.
fn seeded(number: u32) -> (Vec<u8>, &'static str, Vec<&'static str>) {
    let mut text = GOOD.replace("G1 Z10 F600", &format!("; job {number}\nG1 Z10 F600"));
    let mut faults = Vec::new();
    let mut seed = |every: u32, from: &str, to: &str, requirement: &'static str| {
        if number.is_multiple_of(every) {
            assert!(text.contains(from));
            text = text.replace(from, to);
            faults.push(requirement);
        }
    };
    seed(5, "F1200", "F6000", "first-layer-fast");
    seed(7, "S210", "S180", "hotend-below-sheet");
    seed(11, "S60", "S30", "bed-below-sheet");
    seed(13, "M104 S0\n", "", "heater-left-on");
    if number.is_multiple_of(97) {
        return (
            b"; nothing but a comment\n".to_vec(),
            "gcode",
            vec!["failed"],
        );
    }
    let ending = match number % 3 {
        0 => "gcode",
        1 => "gcode.gz",
        _ => "gcode.zst",
    };
    let bytes = match ending {
        "gcode.gz" => {
            let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
            packed.write_all(text.as_bytes()).unwrap();
            packed.finish().unwrap()
        }
        "gcode.zst" => zstd::encode_all(text.as_bytes(), 1).unwrap(),
        _ => text.into_bytes(),
    };
    (bytes, ending, faults)
}

/// Writes a file as if it had been there for a day: what was written just now is not to be trusted.
fn put(path: &Path, bytes: &[u8]) {
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    let mut file = File::create(path).unwrap();
    file.write_all(bytes).unwrap();
    file.set_modified(SystemTime::UNIX_EPOCH + Duration::from_secs(1_790_000_000))
        .unwrap();
}

/// A folder of generated jobs; what is to be found in them: states and requirements, by count.
fn generate(folder: &Path, count: u32) -> BTreeMap<&'static str, u64> {
    let mut expected = BTreeMap::new();
    for number in 1..=count {
        let (bytes, ending, faults) = seeded(number);
        put(
            &folder.join(format!("{}/job-{number}.{ending}", number % 20)),
            &bytes,
        );
        let is_held = faults
            .iter()
            .any(|fault| ["bed-below-sheet", "heater-left-on"].contains(fault));
        let state = match () {
            () if faults.contains(&"failed") => "failed",
            () if is_held => "held",
            () => "released",
        };
        *expected.entry(state).or_default() += 1;
        for fault in faults.into_iter().filter(|fault| *fault != "failed") {
            *expected.entry(fault).or_default() += 1;
        }
    }
    expected
}

fn run(folder: &Path, store: &Path, threads: usize, verify: bool) -> Ended {
    let rules = rules();
    audit(Call {
        what: What::Paths(vec![folder.to_path_buf()]),
        rules: &rules,
        store,
        threads,
        verify,
        watch: &Nobody,
    })
    .unwrap()
}

/// The rows of a question, each as a line.
fn rows(store: &Path, question: &str) -> Vec<String> {
    let mut lines = Vec::new();
    let reader = Reader::open(store).unwrap();
    reader
        .ask(
            question,
            |_| Ok(()),
            |cells| {
                lines.push(format!("{cells:?}"));
                Ok(())
            },
        )
        .unwrap();
    lines
}

/// All that a store holds, but for the numbers of rows and runs, in an order that follows from what
/// it holds.
fn contents(store: &Path) -> Vec<String> {
    let mut all = Vec::new();
    for question in [
        "SELECT hex(key), path, size, modified, month, digest, terms, jobs, gone_run IS NULL, moved_from \
         FROM _file ORDER BY key",
        "SELECT path, member, state, error, material, material_digest, material_by, machine, \
         machine_digest, hold_from, critical, major, minor, observations, not_held, bytes, lines, packing, \
         time_ms, filament_um, filament_mg, layers, first_layer_mm, first_layer_mm_s, quickest_layer_s, \
         peak_flow_mm3_s, sustained_flow_mm3_s, footprint_x_mm, footprint_y_mm, longest_side_mm \
         FROM _job JOIN _file ON _file.id = file ORDER BY key, member",
        "SELECT path, member, number, requirement, class, count, counts, line, amount, limit_value, unit, \
         whose, message, conceded FROM _finding JOIN _job ON _job.id = job JOIN _file ON _file.id = file \
         ORDER BY key, member, number",
        "SELECT path, member, declared, held FROM _job JOIN _file ON _file.id = file ORDER BY key, member",
        "SELECT * FROM totals ORDER BY kind, name",
        "SELECT path, member, what, before, after FROM _change ORDER BY path, member, what",
    ] {
        all.extend(rows(store, question));
    }
    all
}

fn number(store: &Path, question: &str) -> u64 {
    let reader = Reader::open(store).unwrap();
    reader
        .connection()
        .query_row(question, [], |row| row.get(0))
        .unwrap()
}

fn counted(store: &Path, names: impl Iterator<Item = &'static str>) -> BTreeMap<&'static str, u64> {
    names
        .map(|name| {
            let question = match name {
                "held" | "released" | "failed" => {
                    format!("SELECT sum(state = '{name}') FROM jobs")
                }
                _ => format!("SELECT count(*) FROM findings WHERE requirement = '{name}'"),
            };
            (name, number(store, &question))
        })
        .collect()
}

fn place() -> (tempfile::TempDir, PathBuf, PathBuf) {
    let place = tempfile::tempdir().unwrap();
    let (folder, store) = (
        place.path().join("archive"),
        place.path().join("store.sqlite"),
    );
    (place, folder, store)
}

#[test]
fn five_thousand_jobs_with_seeded_faults_give_the_known_counts_and_are_read_once() {
    let (_place, folder, store) = place();
    let expected = generate(&folder, 5000);
    let ended = run(&folder, &store, 2, false);
    assert_eq!((ended.counts.inspected, ended.counts.known), (5000, 0));
    assert_eq!(counted(&store, expected.keys().copied()), expected);
    let of_all: u64 = [
        "first-layer-fast",
        "hotend-below-sheet",
        "bed-below-sheet",
        "heater-left-on",
    ]
    .iter()
    .map(|requirement| expected[requirement])
    .sum();
    assert_eq!(number(&store, "SELECT count(*) FROM findings"), of_all);
    // The totals that are kept ready say the same.
    assert_eq!(
        rows(
            &store,
            "SELECT jobs, released, held, failed, findings FROM totals WHERE kind = 'all'"
        ),
        rows(
            &store,
            "SELECT count(*), sum(state = 'released'), sum(state = 'held'), sum(state = 'failed'), \
             (SELECT count(*) FROM findings) FROM jobs"
        )
    );
    let before = contents(&store);
    // Nothing is read the second time: bytes that change behind an unchanged size and time are not
    // noticed, until they are asked for.
    let victim = folder.join("3/job-3.gcode");
    let text = std::fs::read_to_string(&victim).unwrap();
    put(&victim, text.replace("S60", "S30").as_bytes());
    let ended = run(&folder, &store, 2, false);
    assert_eq!(
        (
            ended.counts.inspected,
            ended.counts.known,
            ended.counts.copied
        ),
        (0, 5000, 0)
    );
    assert_eq!(contents(&store), before);
    let ended = run(&folder, &store, 2, true);
    assert_eq!(
        (
            ended.counts.inspected,
            ended.counts.known,
            ended.counts.copied
        ),
        (1, 4999, 0)
    );
    let question = "SELECT what, before, after FROM changes WHERE run = 3";
    assert_eq!(
        rows(&store, question),
        [r#"[Text("changed"), Text("released"), Text("held")]"#]
    );
    put(&victim, text.as_bytes());
    run(&folder, &store, 2, true);
    assert_eq!(counted(&store, expected.keys().copied()), expected);
}

#[test]
fn one_thread_or_many_give_the_same_store() {
    let (_place, folder, store) = place();
    generate(&folder, 120);
    run(&folder, &store, 1, false);
    let many = store.with_extension("many");
    run(&folder, &many, 7, false);
    assert_eq!(contents(&store), contents(&many));
    assert!(contents(&store).len() > 360);
}

#[test]
fn what_was_written_just_now_is_looked_at_again() {
    let (_place, folder, store) = place();
    generate(&folder, 3);
    let fresh = folder.join("fresh.gcode");
    std::fs::write(&fresh, GOOD).unwrap();
    run(&folder, &store, 1, false);
    // The same length, and perhaps the same time: not to be told from the file that was read.
    std::fs::write(&fresh, GOOD.replace("S60", "S30")).unwrap();
    let ended = run(&folder, &store, 1, false);
    assert_eq!((ended.counts.inspected, ended.counts.known), (1, 3));
    assert_eq!(
        rows(&store, "SELECT state FROM jobs WHERE path LIKE '%fresh%'"),
        [r#"[Text("held")]"#]
    );
}

#[test]
fn moved_files_are_recognised_and_deleted_ones_stay_in_the_history() {
    let (_place, folder, store) = place();
    generate(&folder, 30);
    run(&folder, &store, 2, false);
    let whole = contents(&store);
    let (from, to) = (
        folder.join("11/job-11.gcode.zst"),
        folder.join("elsewhere/lid.gcode.zst"),
    );
    std::fs::create_dir(folder.join("elsewhere")).unwrap();
    std::fs::rename(&from, &to).unwrap();
    std::fs::remove_file(folder.join("2/job-2.gcode.zst")).unwrap();
    let ended = run(&folder, &store, 2, false);
    let counts = ended.counts;
    assert_eq!(
        (counts.inspected, counts.copied, counts.gone, counts.moved),
        (0, 1, 2, 1)
    );
    assert_eq!(
        rows(
            &store,
            "SELECT what, before LIKE '%11/job-11.gcode.zst', after FROM changes WHERE run = 2 ORDER BY what"
        ),
        [
            r#"[Text("gone"), Whole(0), Null]"#,
            r#"[Text("moved"), Whole(1), Text("held")]"#
        ]
    );
    assert_eq!(number(&store, "SELECT count(*) FROM jobs"), 29);
    assert_eq!(number(&store, "SELECT count(*) FROM gone_jobs"), 2);
    assert_eq!(
        number(&store, "SELECT jobs FROM totals WHERE kind = 'all'"),
        29
    );
    // And back again.
    std::fs::rename(&to, &from).unwrap();
    put(&folder.join("2/job-2.gcode.zst"), &seeded(2).0);
    let ended = run(&folder, &store, 2, false);
    assert_eq!((ended.counts.inspected, ended.counts.gone), (0, 1));
    let jobs = |all: &[String]| -> Vec<String> {
        all.iter()
            .filter(|row| !row.contains("elsewhere") && row.contains("closed-hardened"))
            .cloned()
            .collect()
    };
    assert_eq!(jobs(&contents(&store)), jobs(&whole));
}

#[test]
fn files_below_what_cannot_be_looked_into_are_not_gone() {
    let (_place, folder, store) = place();
    generate(&folder, 5);
    run(&folder, &store, 1, false);
    // The folder is not there: a disk that is not mounted, perhaps.
    let away = folder.with_extension("away");
    std::fs::rename(&folder, &away).unwrap();
    let ended = run(&folder, &store, 1, false);
    assert_eq!((ended.troubles, ended.counts.gone), (1, 0));
    assert_eq!(number(&store, "SELECT count(*) FROM jobs"), 5);
    assert_eq!(
        number(
            &store,
            "SELECT count(*) FROM troubles WHERE message LIKE '%does not exist'"
        ),
        1
    );
    std::fs::rename(&away, &folder).unwrap();
    assert_eq!(run(&folder, &store, 1, false).counts.known, 5);
}

/// A folder that may not be read is told, and is not taken for one that is gone.
#[cfg(unix)]
#[test]
fn folders_that_may_not_be_read_are_told() {
    use std::os::unix::fs::PermissionsExt;
    let (_place, folder, store) = place();
    generate(&folder, 40);
    run(&folder, &store, 1, false);
    let shut = folder.join("3");
    let allow = |mode| {
        std::fs::set_permissions(&shut, std::fs::Permissions::from_mode(mode)).unwrap();
    };
    allow(0o000);
    if std::fs::read_dir(&shut).is_ok() {
        eprintln!("skipped: whoever runs this may read every folder (root)");
        allow(0o755);
        return;
    }
    let ended = run(&folder, &store, 1, false);
    allow(0o755);
    assert_eq!((ended.troubles, ended.counts.gone), (1, 0));
    assert_eq!(number(&store, "SELECT count(*) FROM jobs"), 40);
}

#[test]
fn a_manifest_names_files_and_those_that_are_no_more() {
    let (_place, folder, store) = place();
    generate(&folder, 6);
    run(&folder, &store, 1, false);
    std::fs::remove_file(folder.join("3/job-3.gcode")).unwrap();
    let rules = rules();
    let list = format!(
        "{0}/3/job-3.gcode\r\n\n{0}/6/job-6.gcode\n",
        folder.display()
    );
    let listed = |list: String, is_nul| {
        audit(Call {
            what: What::Manifest {
                input: Box::new(std::io::Cursor::new(list)),
                is_nul,
            },
            rules: &rules,
            store: &store,
            threads: 1,
            verify: false,
            watch: &Nobody,
        })
        .unwrap()
    };
    let ended = listed(list, false);
    assert_eq!(
        (ended.counts.known, ended.counts.gone, ended.troubles),
        (1, 1, 1)
    );
    assert_eq!(number(&store, "SELECT count(*) FROM jobs"), 5);
    let odd = folder.join("a\nb.gcode");
    put(&odd, GOOD.as_bytes());
    let ended = listed(format!("{}\0", odd.display()), true);
    assert_eq!((ended.counts.inspected, ended.troubles), (1, 0));
}

/// Each would have the other wait; neither may give up.
#[test]
fn several_begin_a_new_store_at_once() {
    let place = tempfile::tempdir().unwrap();
    let begin = std::sync::Barrier::new(4);
    let failed = std::sync::atomic::AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for _ in 0..4 {
            scope.spawn(|| {
                for round in 0..100 {
                    let path = place.path().join(format!("{round}.sqlite"));
                    begin.wait();
                    let begun = super::store::Store::begin(&path, "2026-11-28T10:00:00Z");
                    if begun.is_err() {
                        failed.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                    }
                }
            });
        }
    });
    assert_eq!(failed.into_inner(), 0);
}

#[test]
fn two_audits_at_once_give_the_store_of_one() {
    let (_place, folder, store) = place();
    generate(&folder, 150);
    let alone = store.with_extension("alone");
    run(&folder, &alone, 2, false);
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| run(&folder, &store, 2, false));
        }
    });
    assert_eq!(contents(&store), contents(&alone));
}
