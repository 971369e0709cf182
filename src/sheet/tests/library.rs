use super::super::*;
use crate::finding::SourceMark;

const MATERIALS: [&str; 16] = [
    "ABS", "ASA", "PA12", "PA12-CF", "PA6", "PA6-CF", "PA66", "PC", "PEEK", "PEI", "PETG", "PLA",
    "POM", "PP", "PVAL", "TPU",
];
const MACHINES: [&str; 5] = [
    "closed-hardened",
    "heated-chamber",
    "large-285",
    "open-lined",
    "two-tools",
];

#[test]
fn every_sheet_reads() {
    for name in MATERIALS {
        match library::material(name) {
            Ok(sheet) => assert_eq!((sheet.name.as_str(), sheet.origin), (name, Origin::Library)),
            Err(fault) => panic!("{fault}"),
        }
    }
    for name in MACHINES {
        match library::machine(name) {
            Ok(sheet) => assert_eq!((sheet.name.as_str(), sheet.origin), (name, Origin::Library)),
            Err(fault) => panic!("{fault}"),
        }
    }
    assert!(
        library::materials()
            .iter()
            .map(|sheet| sheet.name.as_str())
            .eq(MATERIALS)
    );
    assert!(
        library::machines()
            .iter()
            .map(|sheet| sheet.name.as_str())
            .eq(MACHINES)
    );
    assert!(MATERIALS.is_sorted() && MACHINES.is_sorted());
}

#[test]
fn library_sheets_lie_over_nothing() {
    assert!(
        library::materials()
            .iter()
            .all(|sheet| sheet.from.is_none())
    );
    assert!(library::machines().iter().all(|sheet| sheet.from.is_none()));
}

#[test]
fn every_material_says_what_a_job_is_held_against() {
    for sheet in library::materials() {
        let said = sheet.density.is_some()
            && sheet.hotend.print.is_some()
            && sheet.hotend.extrusion_floor.is_some()
            && sheet.bed.print.is_some()
            && sheet.chamber.required.is_some()
            && sheet.fan.first_layers_most.is_some()
            && sheet.fan.print.is_some()
            && sheet.first_layer.speed_most.is_some()
            && sheet.flow.most.is_some()
            && sheet.nozzle.abrasive.is_some()
            && sheet.drying.temperature.is_some();
        assert!(said, "{}", sheet.name);
        assert!(
            !sheet.surfaces.is_empty() && !sheet.finishing.is_empty(),
            "{}",
            sheet.name
        );
        let cautions = sheet.cautions.join(" ");
        assert!(
            cautions.contains("local")
                && cautions.contains("burn")
                && cautions.contains("licensed"),
            "{cautions}"
        );
    }
}

/// A published value names its source; a practice has none.
#[test]
fn marks_are_honest() {
    for row in library::materials().iter().flat_map(Material::rows) {
        match row.mark {
            Some(SourceMark::Published | SourceMark::Memory | SourceMark::Chosen) => {
                // The bore of a chosen flow, and the like, carry a source too.
                assert!(
                    row.source.as_deref().is_some_and(|source| source.len() > 5),
                    "{row:?}"
                );
            }
            Some(SourceMark::Practice) => assert_eq!(row.source, None, "{row:?}"),
            Some(SourceMark::Measured) => panic!("nobody measured {row:?}"),
            None => {}
        }
    }
}

/// Hotend and bed ranges, common practice of the trade, no source.
#[test]
fn ranges_are_those_of_common_practice() {
    for (name, hotend, bed) in [
        ("PLA", (190.0, 220.0), (45.0, 60.0)),
        ("PETG", (225.0, 255.0), (70.0, 85.0)),
        ("ABS", (230.0, 260.0), (90.0, 110.0)),
        ("ASA", (230.0, 260.0), (90.0, 110.0)),
        ("PC", (260.0, 310.0), (100.0, 120.0)),
        ("PA6", (250.0, 280.0), (70.0, 110.0)),
        ("PA66", (250.0, 280.0), (70.0, 110.0)),
        ("PA12", (240.0, 270.0), (70.0, 100.0)),
        ("PA6-CF", (240.0, 270.0), (70.0, 110.0)),
        ("PA12-CF", (240.0, 270.0), (70.0, 110.0)),
        ("PP", (210.0, 250.0), (80.0, 105.0)),
        ("TPU", (210.0, 240.0), (30.0, 60.0)),
        ("POM", (200.0, 220.0), (100.0, 130.0)),
        ("PVAL", (185.0, 210.0), (45.0, 60.0)),
        ("PEI", (350.0, 390.0), (140.0, 180.0)),
        ("PEEK", (370.0, 420.0), (120.0, 160.0)),
    ] {
        let sheet = library::material(name).unwrap();
        let ends = |range: &Cited<crate::quantity::Range<crate::quantity::Celsius>>| {
            (range.value.least.get(), range.value.most.get())
        };
        assert_eq!(ends(sheet.hotend.print.as_ref().unwrap()), hotend, "{name}");
        assert_eq!(ends(sheet.bed.print.as_ref().unwrap()), bed, "{name}");
    }
}

/// Densities of solid polymer: published ranges of property tables.
#[test]
fn densities_lie_in_published_ranges() {
    for (name, least, most) in [
        ("PLA", 1.21, 1.43),
        ("ABS", 1.02, 1.08),
        ("ASA", 1.05, 1.21),
        ("PETG", 1.20, 1.30),
        ("PC", 1.20, 1.22),
        ("PA6", 1.12, 1.15),
        ("PA66", 1.12, 1.16),
        ("PA12", 1.01, 1.03),
        ("PP", 0.900, 0.915),
        ("TPU", 1.18, 1.22),
        ("POM", 1.41, 1.42),
        ("PVAL", 1.19, 1.31),
    ] {
        let density = library::material(name)
            .unwrap()
            .density
            .unwrap()
            .value
            .get();
        assert!(least <= density && density <= most, "{name}: {density}");
    }
}

#[test]
fn found_by_any_spelling() {
    for (word, name) in [
        ("PA6-CF", "PA6-CF"),
        ("pa6 cf", "PA6-CF"),
        ("PA6_CF", "PA6-CF"),
        ("pa6cf", "PA6-CF"),
        ("PVA", "PVAL"),
        ("nylon 12", "PA12"),
        ("TPU-95A", "TPU"),
        (" pla ", "PLA"),
        ("PLA+", "PLA"),
    ] {
        assert_eq!(
            library::material(word)
                .map(|sheet| sheet.name)
                .ok()
                .as_deref(),
            Some(name),
            "{word}"
        );
    }
    assert_eq!(library::machine("Open Lined").unwrap().name, "open-lined");
}

#[test]
fn a_spelling_that_several_share_names_none() {
    let fault = library::material("nylon-cf").unwrap_err();
    assert!(matches!(fault, Error::Shared { .. }));
    assert_eq!(
        fault.to_string(),
        "`nylon-cf` may be any of PA12-CF, PA6-CF"
    );
    assert!(fault.advice().is_some());
    assert!(library::material("PA6-CF").unwrap().answers_to("NYLON_CF"));
}

#[test]
fn an_unknown_word_is_told_what_is_near() {
    let fault = library::material("PEKE").unwrap_err();
    assert_eq!(
        fault.to_string(),
        "the library has no material sheet `PEKE`"
    );
    assert!(
        fault.advice().unwrap().contains("`PEEK`"),
        "{:?}",
        fault.advice()
    );
    let fault = library::machine("open-line").unwrap_err();
    assert!(fault.advice().unwrap().contains("`open-lined`"));
    let fault = library::machine("\u{1b}[31mzzzzzzzz").unwrap_err();
    assert!(!fault.to_string().contains('\u{1b}'));
    assert!(!fault.advice().unwrap().contains("did you mean"));
    assert!(library::material("").is_err() && library::machine("--").is_err());
}

#[cfg(feature = "cli")]
mod files {
    use super::*;
    use std::io::Write;

    #[test]
    fn a_word_or_a_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ours.toml");
        std::fs::write(&path, "from = \"PLA\"\nname = \"ours\"\n").unwrap();
        assert_eq!(load_material(&path).unwrap().name, "ours");
        assert_eq!(
            load_material(&path).unwrap().origin,
            Origin::File(path.display().to_string())
        );
        assert_eq!(load_material("pla").unwrap().origin, Origin::Library);
        assert_eq!(load_machine("two-tools").unwrap().tools.len(), 2);
    }

    #[test]
    fn files_that_are_no_sheet() {
        let folder = tempfile::tempdir().unwrap();
        assert!(matches!(
            load_material(folder.path()),
            Err(Error::Directory { .. })
        ));
        assert!(matches!(
            load_material(folder.path().join("none.toml")),
            Err(Error::Missing { .. })
        ));
        assert!(matches!(
            load_machine("no-such.toml"),
            Err(Error::Missing { .. })
        ));
        let empty = folder.path().join("empty.toml");
        std::fs::write(&empty, "").unwrap();
        assert!(matches!(load_machine(&empty), Err(Error::Empty { .. })));
        let binary = folder.path().join("binary.toml");
        std::fs::write(&binary, [0x1f, 0x8b, 8, 0]).unwrap();
        assert!(matches!(
            load_machine(&binary),
            Err(Error::NotUtf8 { byte: 1, .. })
        ));
        let large = folder.path().join("large.toml");
        let mut file = std::fs::File::create(&large).unwrap();
        file.write_all(&vec![b'#'; 2 << 20]).unwrap();
        assert!(matches!(load_machine(&large), Err(Error::TooLarge { .. })));
    }

    /// The schema is JSON Schema 2020-12, knows every key that a library sheet uses, and is closed.
    #[test]
    fn the_schema_knows_every_key_of_the_library() {
        for (kind, names) in [
            (Kind::Material, MATERIALS.as_slice()),
            (Kind::Machine, MACHINES.as_slice()),
        ] {
            let schema = schema(kind);
            assert_eq!(
                schema["$schema"],
                "https://json-schema.org/draft/2020-12/schema"
            );
            assert_eq!(schema["additionalProperties"], false);
            for name in names {
                let sheet: toml::Table = library::text(name).unwrap().parse().unwrap();
                known(&schema, &schema, &toml::Value::Table(sheet), name);
            }
        }
    }

    /// The schemas in `corpus/` are those of this program. To write them anew, run the tests with
    /// `MELTGAUGE_WRITE_SCHEMAS=1`.
    #[test]
    fn the_committed_schemas_are_these() {
        for (kind, name) in [
            (Kind::Material, "material"),
            (Kind::Machine, "machine"),
            (Kind::Application, "application"),
        ] {
            let path = format!(
                "{}/corpus/{name}-sheet.schema.json",
                env!("CARGO_MANIFEST_DIR")
            );
            let text = format!("{:#}\n", schema(kind));
            if std::env::var_os("MELTGAUGE_WRITE_SCHEMAS").is_some() {
                std::fs::write(&path, &text).unwrap();
            }
            assert!(
                std::fs::read_to_string(&path).unwrap() == text,
                "{path} is of another version"
            );
        }
    }

    /// Every key of the sheet has a property in the schema, through `$ref` and `anyOf`.
    fn known(root: &serde_json::Value, schema: &serde_json::Value, value: &toml::Value, at: &str) {
        let mut forms = vec![schema];
        let mut open = Vec::new();
        while let Some(form) = forms.pop() {
            if let Some(to) = form["$ref"].as_str() {
                forms.push(root.pointer(to.trim_start_matches('#')).unwrap());
            }
            forms.extend(form["anyOf"].as_array().into_iter().flatten());
            open.push(form);
        }
        match value {
            toml::Value::Table(table) => {
                for (key, value) in table {
                    let form = open.iter().find_map(|form| form["properties"].get(key));
                    let form = form.or_else(|| {
                        open.iter()
                            .find_map(|form| form.get("additionalProperties"))
                    });
                    let form = form.filter(|form| form.is_object());
                    known(
                        root,
                        form.unwrap_or_else(|| panic!("{at}.{key} is not in the schema")),
                        value,
                        &format!("{at}.{key}"),
                    );
                }
            }
            toml::Value::Array(values) => {
                let form = open.iter().find_map(|form| form.get("items"));
                let form = form.unwrap_or_else(|| panic!("{at} is no array in the schema"));
                for value in values {
                    known(root, form, value, at);
                }
            }
            toml::Value::String(_) => {
                let kinds: Vec<_> = open
                    .iter()
                    .filter(|form| {
                        form["type"] == "string"
                            || form.get("enum").is_some()
                            || form.get("const").is_some()
                            || form.get("oneOf").is_some()
                            || form["type"]
                                .as_array()
                                .is_some_and(|types| types.contains(&"string".into()))
                    })
                    .collect();
                assert!(!kinds.is_empty(), "{at} is no text in the schema: {open:?}");
            }
            _ => {}
        }
    }
}
