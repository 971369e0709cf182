//! How fast archives are audited, and how much memory that takes.
//!
//! `cargo bench --bench audit` makes an archive in a temporary folder, runs the program on it and prints
//! figures; `-- --heavy` adds a store of 300,000 jobs with 3 million findings. Nothing fails here: what a
//! disk and its neighbours do is no property of the program.

#![allow(clippy::expect_used, reason = "a bench may fail loudly")]

mod generate;

use rusqlite::Connection;
use std::fs::File;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant, SystemTime};

/// Jobs of the archive for throughput, and bytes of each.
const LARGE: (usize, usize) = (24, 10_000_000);

/// Small files of the archive that is looked at a second time.
const SMALL: usize = 20_000;

/// Jobs that are audited for the large store, and how often each is in it.
const SEEDS: (usize, usize) = (300, 1000);

/// Findings of every job in it.
const FINDINGS: usize = 10;

/// Writes a file that was there yesterday: one of just now is not known by its time.
fn put(path: &Path, bytes: &[u8]) {
    let yesterday = SystemTime::now() - Duration::from_secs(86_400);
    std::fs::create_dir_all(path.parent().expect("a folder")).expect("room");
    let mut file = File::create(path).expect("room");
    file.write_all(bytes).expect("room");
    file.set_modified(yesterday)
        .expect("a file system with times");
}

/// Seconds that a run takes, and the most memory it had, MiB (0 where the system does not say).
fn run(place: &Path, call: &[&str]) -> (f64, f64) {
    let begin = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_meltgauge"))
        .args(call)
        .current_dir(place)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("starts");
    let status = format!("/proc/{}/status", child.id());
    let mut most = 0.0;
    loop {
        if let Ok(text) = std::fs::read_to_string(&status)
            && let Some(line) = text.lines().find(|line| line.starts_with("VmHWM:"))
            && let Some(kib) = line.split_whitespace().nth(1)
        {
            most = f64::max(most, kib.parse::<f64>().unwrap_or(0.0) / 1024.0);
        }
        if child.try_wait().expect("is ours").is_some() {
            return (begin.elapsed().as_secs_f64(), most);
        }
        std::thread::sleep(Duration::from_millis(1));
    }
}

/// The least disturbed of three runs.
fn best(place: &Path, call: &[&str]) -> (f64, f64) {
    let runs = [0; 3].map(|_| run(place, call));
    let seconds = runs.iter().map(|run| run.0).fold(f64::INFINITY, f64::min);
    (seconds, runs.iter().map(|run| run.1).fold(0.0, f64::max))
}

fn main() {
    let is_heavy = std::env::args().any(|word| word == "--heavy");
    let place = tempfile::tempdir().expect("room");
    let place = place.path();
    plain(place);
    known(place);
    if is_heavy {
        store(place);
    }
}

/// Plain jobs on all cores beside one job on one; then their bytes once more.
fn plain(place: &Path) {
    const HELD: [&str; 4] = ["--material", "PLA", "--machine", "open-lined"];
    let (count, bytes) = LARGE;
    let job = generate::job(bytes);
    for number in 0..count {
        let text = format!("; job {number}\n{job}");
        put(
            &place.join(format!("large/{number}.gcode")),
            text.as_bytes(),
        );
    }
    let whole = (count * job.len()) as f64;
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let call = |words: &[&'static str]| [words, &HELD].concat();
    let (one, _) = best(place, &call(&["inspect", "--quiet", "large/0.gcode"]));
    let single = job.len() as f64 / one;
    let mut first = (f64::INFINITY, 0.0_f64);
    for _ in 0..3 {
        let _ = std::fs::remove_file(place.join("large.sqlite"));
        let (seconds, memory) = run(place, &call(&["audit", "--store", "large.sqlite", "large"]));
        first = (first.0.min(seconds), first.1.max(memory));
    }
    let share = whole / first.0 / (single * cores as f64);
    println!(
        "plain jobs: {:.0} MB/s on {cores} cores, {:.0} % of as many times one job's {:.0} MB/s; {:.0} MiB",
        whole / first.0 / 1e6,
        share * 100.0,
        single / 1e6,
        first.1
    );
    let verify = [
        "audit",
        "--store",
        "large.sqlite",
        "--threads",
        "1",
        "--verify",
        "large",
    ];
    let (seconds, memory) = best(place, &call(&verify));
    println!(
        "--verify: {:.2} GB/s on one thread; {memory:.0} MiB",
        whole / seconds / 1e9
    );
}

/// Files that are known by size and time.
fn known(place: &Path) {
    for number in 0..SMALL {
        let text = format!("; job {number}\n{}", SHORT);
        put(
            &place.join(format!("small/{}/{number}.gcode", number % 100)),
            text.as_bytes(),
        );
    }
    let call = [
        "audit",
        "--machine",
        "open-lined",
        "--store",
        "small.sqlite",
        "small",
    ];
    let (first, memory) = run(place, &call);
    println!(
        "first run: {:.0} files/s; {memory:.0} MiB",
        SMALL as f64 / first
    );
    let (seconds, memory) = best(place, &call);
    println!(
        "second run: {:.0} files/s; {memory:.0} MiB",
        SMALL as f64 / seconds
    );
}

/// A short job with several faults.
const SHORT: &str = "; material: PLA\nM140 S30\nM104 S180\nG21\nG90\nM83\nG28\nM190 S30\nM109 S180\n\
                     G1 X60 Y60 Z0.2 F6000\nG1 X140 Y60 E2.7 F6000\nG1 X140 Y140 E2.7\nG1 X60 Y140 E2.7\n\
                     G1 X60 Y60 E2.7\nG1 Z10 F600\n";

/// A large store, made from a small one.
fn store(place: &Path) {
    let (seeds, times) = SEEDS;
    for number in 0..seeds {
        let text = SHORT.replace("S30", &format!("S{}", 30 + number % 40));
        put(
            &place.join(format!("seeds/{number}.gcode")),
            format!("; {number}\n{text}").as_bytes(),
        );
    }
    let rules = [
        "--material",
        "PLA",
        "--machine",
        "open-lined",
        "--store",
        "store.sqlite",
    ];
    run(place, &[&["audit", "seeds"], &rules[..]].concat());
    let connection = Connection::open(place.join("store.sqlite")).expect("a store");
    let columns = |table: &str| -> Vec<String> {
        let question = format!("SELECT name FROM pragma_table_info('{table}')");
        let mut ask = connection.prepare(&question).expect("a table");
        let names = ask.query_map([], |row| row.get(0)).expect("columns");
        names.collect::<Result<_, _>>().expect("names")
    };
    // Findings that no sheet decides, until every job has its ten; then all of it many times over.
    let fill = format!(
        "WITH RECURSIVE n(k) AS (SELECT 1 UNION ALL SELECT k + 1 FROM n WHERE k < {FINDINGS}) \
         INSERT INTO _finding SELECT _job.id, 100 + k, 'unknown-word', 'observation', 1, 'words', k, \
         NULL, NULL, NULL, NULL, 'a word', 0 FROM _job, n \
         WHERE k <= {FINDINGS} - (SELECT count(*) FROM _finding WHERE job = _job.id)"
    );
    let mut all = vec!["PRAGMA synchronous = OFF; BEGIN".to_owned(), fill];
    for (table, shifted, named) in [
        ("_file", &["id"][..], "path"),
        ("_job", &["id", "file"], ""),
        ("_finding", &["job"], ""),
    ] {
        let columns = columns(table);
        let values = columns.iter().map(|column| match column.as_str() {
            column if shifted.contains(&column) => format!("{column} + k * {seeds}"),
            "key" => "CAST(path || '.' || k AS BLOB)".to_owned(),
            column if column == named => format!("{column} || '.' || k"),
            column => column.to_owned(),
        });
        let at = if table == "_finding" { "job" } else { "id" };
        all.push(format!(
            "WITH RECURSIVE n(k) AS (SELECT 1 UNION ALL SELECT k + 1 FROM n WHERE k < {times} - 1) \
             INSERT INTO {table} ({}) SELECT {} FROM n, {table} WHERE {at} <= {seeds}",
            columns.join(", "),
            values.collect::<Vec<_>>().join(", ")
        ));
    }
    all.push("COMMIT".to_owned());
    let begin = Instant::now();
    connection
        .execute_batch(&all.join(";\n"))
        .expect("room for it");
    let count = |table: &str| -> i64 {
        let question = format!("SELECT count(*) FROM {table}");
        connection
            .query_row(&question, [], |row| row.get(0))
            .expect("a table")
    };
    let (jobs, findings) = (count("_job"), count("_finding"));
    drop(connection);
    println!(
        "a store of {jobs} jobs and {findings} findings, made in {:.0} s",
        begin.elapsed().as_secs_f64()
    );
    for report in ["totals", "requirements"] {
        let (seconds, memory) = best(
            place,
            &["audit", "report", report, "--store", "store.sqlite"],
        );
        println!("report {report}: {seconds:.3} s; {memory:.0} MiB");
    }
    let sheet = "name = \"PLA\"\nfrom = \"PLA\"\ndate = \"2027-01-01\"\nby = \"workshop lead\"\n\
                 reason = \"a trial\"\nsource = \"workshop lead\"\nmark = \"chosen\"\n\
                 [bed]\nprint = [\"50 °C\", \"60 °C\"]\n";
    std::fs::write(place.join("my-pla.toml"), sheet).expect("room");
    let what_if = [
        &["audit", "--what-if", "my-pla.toml", "--instead-of", "PLA"],
        &rules[..],
    ]
    .concat();
    let said = Command::new(env!("CARGO_BIN_EXE_meltgauge"))
        .args(&what_if)
        .current_dir(place)
        .output();
    let said = String::from_utf8_lossy(&said.expect("starts").stderr).into_owned();
    let (seconds, memory) = best(place, &what_if);
    println!("what-if: {seconds:.2} s; {memory:.0} MiB; {}", said.trim());
}
