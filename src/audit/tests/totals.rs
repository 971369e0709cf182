//! Totals that are kept ready are those that all rows add up to.
//!
//! With `MELTGAUGE_LONG=1` of 300,000 jobs.

use super::beyond::{mapped, paths};
use super::*;
use crate::audit::line::Line;
use crate::audit::store::Store;

/// The totals, from all rows at once.
fn rebuilt() -> String {
    let of_jobs = |kind: &str, name: &str| {
        format!(
            "SELECT '{kind}', {name}, count(*), sum(state = 'released'), \
             sum(state = 'released-by-concession'), sum(state = 'held'), sum(state = 'failed'), \
             sum(state = 'no-rule'), sum(critical + major + minor + observations), sum(critical), \
             sum(major), sum(minor), sum(observations), coalesce(sum(bytes), 0), \
             coalesce(sum(time_ms), 0), coalesce(sum(filament_um), 0), coalesce(sum(filament_mg), 0) \
             FROM _job JOIN _file ON _file.id = file WHERE gone_run IS NULL AND {name} IS NOT NULL \
             GROUP BY 2"
        )
    };
    let of_requirements = "SELECT 'requirement', requirement, count(DISTINCT _job.id), \
         count(DISTINCT iif(state = 'released', _job.id, NULL)), \
         count(DISTINCT iif(state = 'released-by-concession', _job.id, NULL)), \
         count(DISTINCT iif(state = 'held', _job.id, NULL)), 0, 0, count(*), \
         sum(class = 'critical'), sum(class = 'major'), sum(class = 'minor'), \
         sum(class = 'observation'), 0, 0, 0, 0 \
         FROM _finding JOIN _job ON _job.id = job JOIN _file ON _file.id = file \
         WHERE gone_run IS NULL GROUP BY 2";
    [
        of_jobs("all", "''"),
        of_jobs("material", "material"),
        of_jobs("machine", "machine"),
        of_jobs("month", "month"),
        format!("{of_requirements} ORDER BY 1, 2"),
    ]
    .join(" UNION ALL ")
}

#[test]
fn totals_that_are_kept_are_totals_rebuilt() {
    let count = match std::env::var_os("MELTGAUGE_LONG") {
        Some(_) => 300_000,
        None => 600,
    };
    let (_place, folder, path) = place();
    generate(&folder, 120);
    let lines = mapped(&paths(&folder));
    let seeds: Vec<Line> = lines
        .lines()
        .map(|line| Line::read(line).unwrap())
        .collect();
    let mut store = Store::begin(&path, "2027-01-01").unwrap();
    let mut put = |number: usize, seed: usize| {
        let Line { mut site, job, .. } = seeds[seed % seeds.len()].clone();
        site.path = format!("jobs/{number}.gcode");
        site.month = Some(format!("2027-{:02}", number % 12 + 1));
        site.size = Some(seed as u64);
        let one = std::slice::from_ref(&job);
        if store.put(&site, one).unwrap().1 {
            store.commit().unwrap();
        }
    };
    (0..count).for_each(|number| put(number, number));
    // Some come to something else, and some go.
    (0..count)
        .step_by(7)
        .for_each(|number| put(number, number + 5));
    let (gone, _) = store.sweep(|id, _| id % 11 == 0).unwrap();
    assert!(gone as usize >= count / 11);
    drop(store);
    let kept = rows(&path, "SELECT * FROM totals ORDER BY kind, name");
    assert_eq!(kept, rows(&path, &rebuilt()));
    assert!(kept.len() > 12 + 4, "{kept:?}");
}
