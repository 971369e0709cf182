//! `traveler`: the page that goes with a job through the shop.

use super::args::HoldFrom;
use super::console::Console;
use super::formats::whole_file;
use super::{Exit, Fault, settings, sheet};
use crate::concession::Verdict;
use crate::job::{Settings, Source, Travel, guarded, name_of, traveler};
use crate::report::terminal;
use crate::report::traveler::{page, quoted};
use crate::sheet::{Application, load_application};
use std::ffi::OsString;
use std::path::{Path, PathBuf};

#[derive(Debug, clap::Args)]
pub(super) struct Typed {
    /// Job to make the page for, plain, gzip or zstd; `-` is the standard input
    #[arg(value_name = "JOB")]
    job: OsString,
    /// Where to write the page, one HTML file; `-` is the standard output
    #[arg(long, short = 'o', value_name = "FILE")]
    output: OsString,
    /// Material sheet: a name of the library or a file; by tool as `0=PA6-CF,1=PVAL`.
    /// Left out: the one the job declares
    #[arg(long, short = 'm', value_name = "SHEET")]
    material: Option<String>,
    /// Machine sheet: a name of the library or a file
    #[arg(long, short = 'M', value_name = "SHEET")]
    machine: Option<String>,
    /// The part's use, as an application sheet
    #[arg(long, value_name = "FILE")]
    application: Option<OsString>,
    /// Hold a job from this class of finding up [default: major]
    #[arg(long, value_enum, value_name = "CLASS")]
    hold_from: Option<HoldFrom>,
    /// Tell walls and infill too, and hold them against what the job declares
    #[arg(long)]
    walls: bool,
    /// Tell what carries loads along X, Y and Z, and walls with it
    #[arg(long)]
    section: bool,
    /// Show repairs too, which alter the print
    #[arg(long)]
    repair: bool,
    /// Configuration to use, instead of the meltgauge.toml found upward from the working directory
    #[arg(long, value_name = "FILE")]
    config: Option<PathBuf>,
}

impl Typed {
    /// The options that decide what the page says, as a shell reads them: first those that a rework has
    /// too, then the page's own.
    fn options(&self) -> [String; 2] {
        let mut text = String::new();
        let mut add = |option: &str, value: &str| {
            text.push_str(&format!(" {option} {}", quoted(value)));
        };
        if let Some(material) = &self.material {
            add("--material", material);
        }
        if let Some(machine) = &self.machine {
            add("--machine", machine);
        }
        if let Some(hold_from) = self.hold_from {
            add("--hold-from", crate::finding::Class::from(hold_from).word());
        }
        if let Some(config) = &self.config {
            add("--config", &config.to_string_lossy());
        }
        if self.repair {
            text.push_str(" --repair");
        }
        let mut own = String::new();
        if let Some(application) = &self.application {
            let file = application.to_string_lossy();
            own.push_str(&format!(" --application {}", quoted(&file)));
        }
        for (is_asked, option) in [(self.walls, " --walls"), (self.section, " --section")] {
            if is_asked {
                own.push_str(option);
            }
        }
        [text, own]
    }
}

pub(super) fn run(typed: &Typed, console: &Console) -> Result<Exit, Fault> {
    let settings = Settings {
        walls: typed.walls || typed.section,
        sections: typed.section,
        ..settings::of(
            &settings::Typed {
                material: typed.material.as_ref(),
                machine: typed.machine.as_ref(),
                config: typed.config.as_deref(),
                hold_from: typed.hold_from,
            },
            console,
        )?
    };
    let application = match &typed.application {
        Some(file) => load_application(file).map_err(|error| sheet::fault(&error, &console.err))?,
        None => Application::default(),
    };
    let travel = Travel {
        application: &application,
        repair: typed.repair,
        options: typed.options(),
    };
    let name = name_of(&typed.job);
    let made = Source::new(&typed.job, &name)
        .and_then(|source| traveler(&source, &name, &travel, &settings));
    let made = match made {
        Ok(made) => made,
        Err(failed) => return Err(Fault(terminal::failure(&failed, &console.err))),
    };
    let said = guarded(|| page(&made)).map_err(|panic| {
        let message = format!("the page could not be made: a fault in this program at {panic}");
        Fault(terminal::fault(
            &message,
            Some("report the fault"),
            &console.err,
        ))
    })?;
    if typed.output == "-" {
        let _ = console.write(&said);
    } else {
        whole_file(Path::new(&typed.output), said.as_bytes()).map_err(|fault| {
            let shown = PathBuf::from(&typed.output);
            let message = format!(
                "the page cannot be written to `{}`: {fault}",
                shown.display()
            );
            let help = "name a file in a folder that is there and may be written to";
            Fault(terminal::fault(&message, Some(help), &console.err))
        })?;
    }
    Ok(match made.checked().settlement.verdict {
        Verdict::Held => Exit::Held,
        Verdict::Released | Verdict::ReleasedByConcession => Exit::Released,
    })
}
