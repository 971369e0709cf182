//! What the real program cannot be brought to at will: a job that changes between the rounds, and
//! terminals of any width.

use super::{Typed, settings, to};
use crate::cli::args::Color;
use crate::cli::console::Console;
use crate::job::{Settings, Source, Wish, rework_between};
use crate::report::paint::Look;
use crate::report::reworked::Reworked;
use crate::report::{Failed, terminal};
use crate::rework::Wanted;
use crate::text::Name;
use clap::Parser;
use std::path::{Path, PathBuf};

#[derive(Debug, Parser)]
struct Line {
    #[command(flatten)]
    typed: Typed,
}

const JOB: &str = "M190 S60\nM109 S165\nG28\nM83\nG1 X10 Y10 Z0.2 F1200\nG1 X60 Y10 E2\n\
                   G1 X60 Y60 E2\nG1 X10 Y60 E2\nG1 X10 Y10 E2\nM104 S0\nM140 S0\n";

struct Shop(tempfile::TempDir);

impl Shop {
    fn new() -> Self {
        let shop = Self(tempfile::tempdir().unwrap());
        std::fs::write(shop.job(), JOB).unwrap();
        shop
    }

    fn job(&self) -> PathBuf {
        self.0.path().join("lid.gcode")
    }

    fn files(&self) -> usize {
        std::fs::read_dir(self.0.path()).unwrap().count()
    }

    fn call(&self, more: &[&str]) -> (Typed, Settings, Name) {
        let job = self.job();
        let words = ["rework", "-m", "PLA", "-M", "open-lined"];
        let job = job.to_str().unwrap();
        let line = Line::parse_from(words.iter().chain(more).chain([&job]));
        let typed = settings::Typed {
            material: line.typed.material.as_ref(),
            machine: line.typed.machine.as_ref(),
            config: None,
            hold_from: None,
        };
        let settings = settings::of(&typed, &Console::new(Color::Never));
        let name = Name::Path(job.into());
        (line.typed, settings.ok().unwrap(), name)
    }

    fn between(&self, more: &[&str], meanwhile: impl FnOnce(&Path)) -> Result<Reworked, Failed> {
        let (typed, settings, name) = self.call(more);
        let job = self.job();
        done(&job, &name, &typed, &settings, || meanwhile(&job))
    }
}

fn done(
    job: &Path,
    name: &Name,
    typed: &Typed,
    settings: &Settings,
    between: impl FnOnce(),
) -> Result<Reworked, Failed> {
    let source = Source::new(job.as_os_str(), name)?;
    let wanted = Wanted {
        only: typed.only.clone(),
        repair: typed.repair,
    };
    let wish = Wish {
        to: to(typed),
        wanted: &wanted,
        accept: &|_| true,
        brief: false,
        meanwhile: None,
    };
    rework_between(&source, name, &wish, settings, || (), between).map(|(reworked, ())| reworked)
}

#[test]
fn a_job_that_changes_between_the_rounds_is_not_reworked() {
    type Meanwhile = fn(&Path);
    let ways: [(&str, Meanwhile); 4] = [
        ("replaced", |job| {
            let other = job.with_extension("new");
            std::fs::write(&other, JOB.replace("X60", "X61")).unwrap();
            std::fs::rename(other, job).unwrap();
        }),
        ("cut short", |job| {
            let file = std::fs::File::options().write(true).open(job).unwrap();
            file.set_len(JOB.len() as u64 - 20).unwrap();
        }),
        ("emptied", |job| std::fs::write(job, "").unwrap()),
        ("taken away", |job| std::fs::remove_file(job).unwrap()),
    ];
    for more in [&[][..], &["--in-place"], &["--diff"]] {
        for (way, meanwhile) in ways {
            let shop = Shop::new();
            let failed = shop.between(more, meanwhile).unwrap_err();
            assert!(!failed.message.is_empty() && !failed.help.is_empty());
            let left = usize::from(way != "taken away");
            assert_eq!(shop.files(), left, "{way}, {more:?}: {}", failed.message);
        }
    }
}

/// The same bytes under another number: what was planned still fits, but in place it would take the
/// place of a file that nobody asked about.
#[cfg(unix)]
#[test]
fn in_place_the_file_must_be_the_very_one() {
    let replace = |job: &Path| {
        let other = job.with_extension("new");
        std::fs::write(&other, JOB).unwrap();
        std::fs::rename(other, job).unwrap();
    };
    let shop = Shop::new();
    let failed = shop.between(&["--in-place"], replace).unwrap_err();
    assert!(
        failed.message.contains("changed while it was reworked"),
        "{}",
        failed.message
    );
    assert_eq!(std::fs::read_to_string(shop.job()).unwrap(), JOB);
    assert_eq!(shop.files(), 1);
    let shop = Shop::new();
    assert!(shop.between(&[], replace).unwrap().is_proven());
}

/// One job of every kind of outcome: put right, repaired, left alone, refused, nothing to do, held still,
/// with names and comments wider than the page.
#[test]
fn reports_keep_within_their_width() {
    let layer = |z: u32| {
        format!(
            "G1 X50 Y50 Z0.{z} F9000\nG1 X60 Y50 E0.33 F1200\nG1 Y60 E0.33\nG1 X50 E0.33\nG1 Y50 E0.33\n\
             G1 E-12 F1800\nG0 X70 Y70\nG1 E12\n"
        )
    };
    let layers: String = (1..=4).map(|z| layer(2 * z)).collect();
    let tower = format!("M190 S60\nM109 S210\nG28\nM83\nM106 S255\n{layers}M104 S0\nM140 S0\n");
    let fast = JOB.replace("S165", "S210").replace("F1200", "F9000");
    let jobs = [
        JOB.to_owned(),
        tower,
        fast,
        JOB.replace("S165", "S210"),
        format!("; material = PETG\n{JOB}"),
        JOB.replace("S165", &format!("S165 ; {}", "first layer, ".repeat(40))),
        JOB.replace("M104 S0\nM140 S0\n", ""),
        JOB.replace("G28\n", ""),
    ];
    let mut seen = Vec::new();
    for job in jobs {
        let shop = Shop::new();
        std::fs::write(shop.job(), &job).unwrap();
        for more in [&["--diff"][..], &["--diff", "--repair"]] {
            let (typed, settings, name) = shop.call(more);
            let reworked = done(&shop.job(), &name, &typed, &settings, || {}).unwrap();
            for width in 60..=120 {
                let look = Look {
                    colour: false,
                    width,
                };
                let text = terminal::rework(&reworked, &look);
                for line in text.lines() {
                    let is_path = line.contains('/') && !line.contains(": ");
                    let is_path = is_path || line.contains(shop.0.path().to_str().unwrap());
                    assert!(line.chars().count() <= width || is_path, "{width}: {line}");
                }
                if width == 100 {
                    let word = text.split("  ").next().unwrap_or_default().to_owned();
                    seen.push(word);
                }
            }
        }
    }
    for word in ["to rework", "to repair", "left as it is", "nothing to do"] {
        assert!(seen.iter().any(|one| one == word), "{word}: {seen:?}");
    }
}
