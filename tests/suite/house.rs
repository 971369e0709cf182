//! The house's rules as tests: floors, absences, register, pages, sizes, style.

use meltgauge::inspection::REGISTER;
use std::path::{Path, PathBuf};

/// Rooms by floor; a room imports only from rooms below it.
const FLOORS: &[(u32, &str)] = &[
    (0, "quantity"),
    (0, "text"),
    (1, "grammar"),
    (1, "physics"),
    (1, "finding"),
    (2, "command"),
    (2, "concession"),
    (2, "edit"),
    (3, "sheet"),
    (4, "machine"),
    (5, "survey"),
    (6, "inspection"),
    (7, "course"),
    (7, "qualify"),
    (7, "rework"),
    (8, "report"),
    (9, "job"),
    (10, "gate"),
    (10, "audit"),
    (11, "cli"),
];

fn top() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn files(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(folder) = open.pop() {
        for entry in std::fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else if path.extension().is_some_and(|end| end == ending) {
                found.push(path);
            }
        }
    }
    found.sort();
    assert!(!found.is_empty(), "no .{ending} below {}", folder.display());
    found
}

/// The code of a file: without its tests, comments and texts for readers.
fn code(path: &Path) -> String {
    let text = std::fs::read_to_string(path).unwrap();
    let text = text.split("#[cfg(test)]").next().unwrap_or_default();
    text.lines()
        .filter(|line| !line.trim_start().starts_with("//"))
        .collect::<Vec<_>>()
        .join("\n")
}

fn is_test_file(path: &Path) -> bool {
    path.file_name().is_some_and(|name| name == "tests.rs")
        || path.components().any(|part| part.as_os_str() == "tests")
            && !path.starts_with(top().join("tests"))
}

#[test]
fn a_room_imports_only_from_floors_below() {
    let mut wrong = String::new();
    for (floor, room) in FLOORS {
        for path in files(&top().join("src").join(room), "rs") {
            if is_test_file(&path) {
                continue;
            }
            let code = code(&path);
            for (other_floor, other) in FLOORS {
                if other == room || other_floor < floor {
                    continue;
                }
                for form in [
                    format!("crate::{other}::"),
                    format!("crate::{other}:"),
                    format!("crate::{other};"),
                ] {
                    if code.contains(&form) {
                        wrong += &format!(
                            "{}: {room} (floor {floor}) imports {other}\n",
                            path.display()
                        );
                        break;
                    }
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn every_room_has_a_floor_and_says_what_is_absent() {
    for entry in std::fs::read_dir(top().join("src")).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            let room = path.file_name().unwrap().to_string_lossy().into_owned();
            assert!(
                FLOORS.iter().any(|(_, known)| *known == room),
                "{room} has no floor"
            );
        }
    }
    for room in [
        "grammar",
        "machine",
        "inspection",
        "finding",
        "report",
        "survey",
        "course",
        "command",
        "qualify",
    ] {
        let text = std::fs::read_to_string(top().join("src").join(room).join("mod.rs")).unwrap();
        assert!(
            text.contains("Absent here"),
            "{room} does not say what is absent"
        );
    }
}

/// Below the reports there are no threads and no clock, and no files but where `cli` brings them in.
#[test]
fn the_core_has_no_files_threads_or_clock() {
    for (floor, room) in FLOORS {
        if *floor >= 8 {
            continue;
        }
        for path in files(&top().join("src").join(room), "rs") {
            if is_test_file(&path) {
                continue;
            }
            let brought_in_by_cli = path.starts_with(top().join("src/text/opened"))
                || path.ends_with("src/sheet/load.rs");
            if brought_in_by_cli {
                continue;
            }
            let code = code(&path);
            for word in ["std::fs", "std::thread", "std::time"] {
                assert!(!code.contains(word), "{}: {word}", path.display());
            }
        }
    }
}

#[test]
fn without_default_features_nothing_is_built_from_c() {
    let tree = std::process::Command::new(env!("CARGO"))
        .args([
            "tree",
            "--offline",
            "--no-default-features",
            "-e",
            "normal,build",
            "--prefix",
            "none",
        ])
        .current_dir(top())
        .output()
        .unwrap();
    assert!(
        tree.status.success(),
        "{}",
        String::from_utf8_lossy(&tree.stderr)
    );
    let tree = String::from_utf8(tree.stdout).unwrap();
    assert!(tree.contains("nom v"), "{tree}");
    for line in tree.lines() {
        let name = line.split(' ').next().unwrap_or_default();
        assert!(!name.ends_with("-sys") && name != "cc", "{name} needs C");
    }
}

#[test]
fn the_register_is_sorted_and_silences_name_requirements() {
    for pair in REGISTER.windows(2) {
        assert!(
            pair[0].id < pair[1].id,
            "{} before {}",
            pair[0].id,
            pair[1].id
        );
    }
    for requirement in REGISTER {
        for silenced in requirement.silences {
            assert!(
                REGISTER.iter().any(|known| known.id == *silenced),
                "{} silences {silenced}, which is no requirement",
                requirement.id
            );
        }
    }
}

#[test]
fn one_requirement_has_its_three_places() {
    for requirement in REGISTER {
        let stem = requirement.id.replace('-', "_");
        for ending in ["rs", "md"] {
            let path = top()
                .join("src/inspection")
                .join(format!("{stem}.{ending}"));
            assert!(path.is_file(), "{} is missing", path.display());
        }
        let module =
            std::fs::read_to_string(top().join("src/inspection").join(format!("{stem}.rs")))
                .unwrap();
        assert!(
            module.lines().count() <= 260,
            "{stem}.rs is too long to read in a minute"
        );
    }
}

#[test]
fn files_stay_short() {
    for path in files(&top().join("src"), "rs") {
        let lines = std::fs::read_to_string(&path).unwrap().lines().count();
        assert!(lines <= 700, "{}: {lines} lines", path.display());
    }
}

#[test]
fn the_top_level_holds_what_the_card_allows() {
    let allowed = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "src",
        "grammar-notes",
        "tests",
        "corpus",
        "target",
    ];
    for entry in std::fs::read_dir(top()).unwrap() {
        let name = entry.unwrap().file_name().to_string_lossy().into_owned();
        assert!(
            name.starts_with('.') || allowed.contains(&name.as_str()),
            "{name} at the top"
        );
    }
}

/// Lower case, no final stop, help in the imperative's plain form.
#[test]
fn findings_keep_the_house_style() {
    use crate::jobs::inspect_noted;
    use meltgauge::inspection::page;
    let mut seen = 0;
    for requirement in REGISTER {
        for job in page::jobs(requirement.page, "Nonconforming") {
            for finding in inspect_noted(job).findings {
                let begin = finding.message.chars().next().unwrap();
                assert!(
                    !begin.is_uppercase()
                        || finding.message.starts_with(|c: char| c.is_ascii_uppercase()
                            && finding
                                .message
                                .chars()
                                .nth(1)
                                .is_some_and(|next| !next.is_lowercase())),
                    "{}: {}",
                    finding.requirement,
                    finding.message
                );
                for text in [&finding.message, &finding.help] {
                    assert!(!text.ends_with('.'), "{}: {text}", finding.requirement);
                    assert!(!text.is_empty(), "{}", finding.requirement);
                    assert!(!text.contains("0000000"), "{}: {text}", finding.requirement);
                }
                seen += 1;
            }
        }
    }
    assert!(seen >= REGISTER.len());
}

/// What `inspection/again.rs` says of a sheet's keys: the files that read them, and no others (the price tells
/// only what a job costs). A stored
/// value may stand for reading a job again only as long as that holds.
#[test]
fn what_another_sheet_touches_is_read_where_it_is_said() {
    const READ: &[(&str, &[&str])] = &[
        (
            "hotend.print",
            // `cold_deposit` names it in what to do; no verdict hangs on that.
            &[
                "cold_deposit",
                "heat",
                "hot_idle",
                "hotend_above_sheet",
                "hotend_below_sheet",
                "machine_short_of_sheet",
            ],
        ),
        (
            "hotend.first_layer",
            &["heat", "hotend_above_sheet", "hotend_below_sheet"],
        ),
        (
            "hotend_range",
            &["heat", "hotend_above_sheet", "hotend_below_sheet", "mod"],
        ),
        (
            "bed.print",
            &[
                "bed_above_sheet",
                "bed_below_sheet",
                "machine_short_of_sheet",
                "mod",
            ],
        ),
        ("first_layer.speed_most", &["first_layer_fast"]),
        (
            "fan.print",
            &[
                "fan_above_sheet",
                "fan_bands",
                "fan_below_sheet",
                "layer_too_quick",
            ],
        ),
        ("fan.bridge", &["fan_bands"]),
        ("fan.first_layers_most", &["fan_on_first_layers"]),
        ("flow.most", &["flow_above_sheet", "melt"]),
        (".answers_to", &["material_differs"]),
        (".also", &[]),
        (".price", &["filament"]),
        (".drying", &[]),
        (".exposure", &[]),
        (".service", &[]),
        (".water", &[]),
        (".chemicals", &[]),
        (".uv", &[]),
        (".flame", &[]),
        (".charge", &[]),
        (".shrinkage", &[]),
        (".changeover", &[]),
        (".supports", &[]),
        (".surfaces", &[]),
        (".finishing", &[]),
        (".cautions", &[]),
    ];
    let mut said = 0;
    for room in [
        "inspection",
        "survey",
        "machine",
        "command",
        "concession",
        "finding",
        "physics",
        "job",
    ] {
        for path in files(&top().join("src").join(room), "rs") {
            let name = path
                .file_stem()
                .unwrap_or_default()
                .to_string_lossy()
                .into_owned();
            if is_test_file(&path) || name == "again" || path.ends_with("job/rework.rs") {
                continue;
            }
            // A chain of fields may stand on several lines.
            let code: String = code(&path).split_whitespace().collect();
            for (key, readers) in READ {
                let is_read = code.match_indices(key).any(|(at, _)| {
                    let next = code.as_bytes().get(at + key.len());
                    next.is_none_or(|byte| !byte.is_ascii_alphanumeric() && *byte != b'_')
                });
                let is_said = readers.contains(&name.as_str());
                assert!(!is_read || is_said, "{} reads {key}", path.display());
                said += usize::from(is_read);
            }
        }
    }
    assert!(said > 20, "{said}: the keys are written otherwise now");
}
