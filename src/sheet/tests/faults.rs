use super::super::*;
use miette::Diagnostic;
use proptest::prelude::*;

pub(super) fn fault(text: &str) -> Error {
    match Material::parse("shop.toml", text) {
        Ok(sheet) => panic!("{sheet:?}"),
        Err(fault) => fault,
    }
}

pub(super) fn machine_fault(text: &str) -> Error {
    match Machine::parse("shop.toml", text) {
        Ok(sheet) => panic!("{sheet:?}"),
        Err(fault) => fault,
    }
}

/// What the error says, at which text of the sheet.
#[track_caller]
pub(super) fn held(fault: &Error, text: &str, at: &str, says: &str, advises: &str) {
    let spot = fault.spot().unwrap();
    assert_eq!(
        spot.bytes.clone().and_then(|bytes| text.get(bytes)),
        Some(at),
        "{fault}"
    );
    assert_eq!(fault.to_string(), says);
    assert_eq!(fault.help().unwrap().to_string(), advises);
    let label = fault.labels().unwrap().next().unwrap();
    let span = spot.bytes.clone().unwrap();
    assert_eq!((label.offset(), label.len()), (span.start, span.len()));
}

#[test]
fn a_bare_number() {
    let text = "name = \"X\"\n[hotend]\nprint = [240, 270]\n";
    let fault = fault(text);
    assert!(matches!(fault, Error::Value(_)));
    held(
        &fault,
        text,
        "240",
        "shop.toml, line 3, column 10: `hotend.print[0]`: `240` has no unit",
        "write \"240 °C\"",
    );
}

#[test]
fn a_bare_number_in_a_table_and_between_quotes() {
    let text = "name = \"X\"\ndensity = { value = 1.24, mark = \"memory\" }\n";
    held(
        &fault(text),
        text,
        "1.24",
        "shop.toml, line 2, column 21: `density.value`: `1.24` has no unit",
        "write \"1.24 g/cm³\"",
    );
    let text = "name = \"X\"\nbed.print = [\"60\", \"70 °C\"]\n";
    held(
        &fault(text),
        text,
        "\"60\"",
        "shop.toml, line 2, column 14: `bed.print[0]`: `60` has no unit",
        "write \"60 °C\"",
    );
}

#[test]
fn no_finite_number() {
    for number in ["nan", "inf", "-inf", "+nan"] {
        let text = format!("name = \"X\"\n[hotend]\nextrusion_floor = {number}\n");
        let fault = fault(&text);
        assert!(matches!(fault, Error::Value(_)));
        assert_eq!(fault.spot().unwrap().bytes, Some(38..38 + number.len()));
        assert!(fault.to_string().contains("is not finite"), "{fault}");
    }
}

#[test]
fn a_wrong_unit() {
    let text = "name = \"X\"\n[hotend]\nextrusion_floor = \"230 mm\"\n";
    held(
        &fault(text),
        text,
        "\"230 mm\"",
        "shop.toml, line 3, column 19: `hotend.extrusion_floor`: `mm` is no unit of temperature here",
        "use °C, C, °F, F",
    );
}

#[test]
fn out_of_bounds() {
    let text = "name = \"X\"\n[hotend]\nextrusion_floor = \"2300 °C\"\n";
    let fault = fault(text);
    assert_eq!(
        fault.to_string(),
        "shop.toml, line 3, column 19: `hotend.extrusion_floor`: `2300 °C` is no possible temperature, which is \
         -60 °C to 600 °C"
    );
}

#[test]
fn an_unknown_key() {
    let text = "name = \"X\"\n[hotend]\nprnt = [\"240 °C\", \"270 °C\"]\n";
    let fault = fault(text);
    assert!(matches!(fault, Error::UnknownKey(_)));
    held(
        &fault,
        text,
        "prnt",
        "shop.toml, line 3, column 1: `hotend.prnt`: no sheet has this key",
        "did you mean `print`? Keys here: print, first_layer, extrusion_floor",
    );
}

#[test]
fn an_unknown_key_beside_a_value_and_an_unknown_table() {
    let text = "name = \"X\"\ndensity = { value = \"1 g/cm3\", sorce = \"me\" }\n";
    held(
        &fault(text),
        text,
        "sorce",
        "shop.toml, line 2, column 32: `density.sorce`: no sheet has this key",
        "did you mean `source`? Keys here: value, source, mark",
    );
    let text = "name = \"X\"\n[oven]\nhot = true\n";
    let fault = fault(text);
    assert!(matches!(fault, Error::UnknownKey(_)));
    assert_eq!(fault.spot().unwrap().key.as_deref(), Some("oven"));
    assert_eq!(fault.spot().unwrap().line, 2);
}

#[test]
fn a_key_twice() {
    let text = "name = \"X\"\nfamily = \"PA\"\nfamily = \"PC\"\n";
    let fault = fault(text);
    assert!(matches!(fault, Error::DuplicateKey(_)), "{fault:?}");
    held(
        &fault,
        text,
        "family",
        "shop.toml, line 3, column 1: `family`: the key stands twice",
        "keep one of the two",
    );
}

#[test]
fn no_toml() {
    let text = "name = \"X\"\n[hotend\nprint = 1\n";
    let fault = fault(text);
    assert!(matches!(fault, Error::Syntax(_)), "{fault:?}");
    assert_eq!(fault.spot().unwrap().line, 2);
    assert!(fault.help().is_some());
    assert!(matches!(
        Material::parse("x", "G28\nG1 X10 Y10 F3000\n"),
        Err(Error::Syntax(_))
    ));
}

#[test]
fn a_range_the_wrong_way_round() {
    let text = "name = \"X\"\n[hotend]\nprint = [\"270 °C\", \"240 °C\"]\n";
    held(
        &fault(text),
        text,
        "[\"270 °C\", \"240 °C\"]",
        "shop.toml, line 3, column 9: `hotend.print`: the lower end 270 °C is above the upper end 240 °C",
        "write [\"240 °C\", \"270 °C\"]",
    );
    for (value, says) in [
        (
            "\"240 °C\"",
            "`240 °C` is one value where a range is wanted",
        ),
        ("[\"240 °C\"]", "a range of temperature has two ends, not 1"),
        (
            "[\"240 °C\", \"250 °C\", \"260 °C\"]",
            "a range of temperature has two ends, not 3",
        ),
    ] {
        let fault = fault(&format!("name = \"X\"\nhotend.print = {value}\n"));
        assert!(fault.to_string().ends_with(says), "{fault}");
    }
}

#[test]
fn a_word_of_a_closed_set() {
    let text = "name = \"X\"\n[[tools]]\nnozzle_material = \"gold\"\n";
    held(
        &machine_fault(text),
        text,
        "\"gold\"",
        "shop.toml, line 3, column 19: `tools[0].nozzle_material`: `gold` is none of the words known here",
        "write one of: brass, stainless-steel, plated-brass, hardened-steel, carbide, ruby",
    );
    let text = "name = \"X\"\nmark = \"sure\"\n";
    assert!(
        fault(text)
            .help()
            .unwrap()
            .to_string()
            .contains("published, practice, memory, measured, chosen")
    );
}

#[test]
fn values_of_the_wrong_kind() {
    for (value, key) in [
        ("required = \"yes\"", "chamber.required"),
        ("print = true", "chamber.print"),
        ("softening = [\"1 °C\"]", "chamber.softening"),
        ("softening = 1979-05-27", "chamber.softening"),
        ("required = 1", "chamber.required"),
        ("softening = { source = \"me\" }", "chamber.softening"),
        ("softening = {}", "chamber.softening"),
    ] {
        let fault = fault(&format!("name = \"X\"\n[chamber]\n{value}\n"));
        assert!(matches!(fault, Error::Value(_)), "{value}: {fault:?}");
        assert_eq!(fault.spot().unwrap().key.as_deref(), Some(key), "{fault}");
        assert_eq!(fault.spot().unwrap().line, 3, "{fault}");
        assert!(!fault.to_string().contains("__"), "{fault}");
        assert!(fault.help().is_some());
    }
    let fault = fault("name = \"X\"\n[fan]\nfirst_layers = -1\n");
    assert_eq!(
        fault.spot().unwrap().key.as_deref(),
        Some("fan.first_layers"),
        "{fault}"
    );
}

#[test]
fn a_needed_key_left_out() {
    let fault = fault("name = \"X\"\n[service]\nheat_deflection = [{ temperature = \"60 °C\" }]\n");
    assert_eq!(
        fault.spot().unwrap().key.as_deref(),
        Some("service.heat_deflection[0].stress"),
        "{fault}"
    );
    let fault = machine_fault("height = \"200 mm\"\n");
    assert_eq!(fault.spot().unwrap().key.as_deref(), Some("name"));
}

#[test]
fn an_unknown_base() {
    let text = "from = \"PA6-FC\"\nname = \"X\"\n";
    let fault = fault(text);
    assert!(matches!(fault, Error::UnknownBase(_)));
    assert_eq!(
        fault.to_string(),
        "shop.toml, line 1, column 8: `from`: the library has no material sheet `PA6-FC`"
    );
    assert!(fault.help().unwrap().to_string().contains("`PA6-CF`"));
    assert!(
        matches!(machine_fault("from = \"PA6-CF\"\n"), Error::UnknownBase(_)),
        "a material is no machine"
    );
}

#[test]
fn bytes_that_are_no_sheet() {
    for empty in ["", " \n\t\n", "\u{feff}"] {
        assert!(matches!(fault(empty), Error::Empty { .. }));
    }
    assert!(
        matches!(fault("# a comment\n"), Error::Value(_)),
        "only the name is missing"
    );
    let fault = Material::parse_bytes("x.toml", b"name = \"\xff\"").unwrap_err();
    assert!(matches!(fault, Error::NotUtf8 { byte: 8, .. }), "{fault:?}");
    assert!(matches!(
        Machine::parse_bytes("x", &vec![b'#'; 1 << 21]),
        Err(Error::TooLarge { .. })
    ));
    assert!(matches!(
        Machine::parse("x", &"#".repeat(1 << 21)),
        Err(Error::TooLarge { .. })
    ));
}

#[test]
fn nothing_reaches_a_terminal_that_it_would_obey() {
    for text in [
        "name = \"\\u001b[31mX\"\n",
        "name = \"X\"\ncautions = [\"a\\u0007b\"]\n",
        "name = \"X\"\n\"h\\u001bt\" = 1\n",
        "name = \"X\"\nnote = \"\\u202etxt.exe\"\n",
    ] {
        let fault = fault(text);
        assert!(matches!(fault, Error::Value(_)), "{fault:?}");
        assert!(fault.to_string().contains("control character"), "{fault}");
    }
    let fault = Material::parse("a\u{1b}[2Jb", "na\u{1b}[31mme = 1\u{9b}5m\u{7f}\r\n").unwrap_err();
    let shown = format!("{:?}", miette::Report::new(fault));
    assert!(
        shown
            .chars()
            .all(|c| !c.is_control() || c == '\n' || c == '\u{1b}'),
        "{shown:?}"
    );
    assert!(
        !shown.contains("\u{1b}[2J") && !shown.contains('\u{9b}'),
        "{shown:?}"
    );
}

#[cfg(feature = "cli")]
#[test]
fn shown_with_its_line() {
    let fault = fault("name = \"X\"\n\n[hotend]\nprint = [240, 270] # über\n");
    let mut page = String::new();
    miette::GraphicalReportHandler::new_themed(miette::GraphicalTheme::unicode_nocolor())
        .render_report(&mut page, &fault)
        .unwrap();
    assert!(
        page.contains("print = [240, 270] # über") && page.contains("help: write \"240 °C\""),
        "{page}"
    );
    assert!(page.contains("shop.toml:4:10"), "{page}");
}

#[cfg(feature = "cli")]
#[test]
fn a_line_too_long_to_show_is_still_named() {
    let text = format!(
        "name = \"{}\"\nfan.first_layers_most = 3\n",
        "x".repeat(70_000)
    );
    let fault = fault(&text);
    let mut page = String::new();
    miette::GraphicalReportHandler::new_themed(miette::GraphicalTheme::unicode_nocolor())
        .render_report(&mut page, &fault)
        .unwrap();
    assert!(page.contains("line 2") && page.len() < 1000, "{page}");
}

proptest! {
    /// Whatever the text, it is a sheet or a described fault; never a panic, and the place is in it.
    #[test]
    fn any_text(text in "(name = \"X\"\n)?[\\PC\n\"=\\[\\].{}\u{1b}\u{0}]{0,60}") {
        for fault in [Material::parse("x", &text).err(), Machine::parse("x", &text).err()].into_iter().flatten() {
            prop_assert!(!fault.to_string().is_empty());
            if let Some(bytes) = fault.spot().and_then(|spot| spot.bytes.clone()) {
                prop_assert!(bytes.end <= text.len() && bytes.start <= bytes.end);
            }
        }
    }

    /// A good sheet with one character changed.
    #[test]
    fn nearly_a_sheet(at in 0usize..4000, with in "\\PC") {
        let good = library::text("PA6-CF").unwrap();
        let bad: String = good.chars().enumerate().map(|(n, c)| if n == at % good.chars().count() { with.clone() } else { c.to_string() }).collect();
        if let Err(fault) = Material::parse("x", &bad) {
            prop_assert!(fault.help().is_some(), "{}", fault);
        }
    }
}

/// Every fault at once, in the text's order, and none that only follows from another.
#[test]
fn all_faults_are_stated() {
    let text = r#"
name = "x"
densty = "1.2 g/cm³"
[hotend]
print = ["240", "270 °C"]
first_layer = { value = "warm", mark = "chosen" }
extrusion_floor = { valu = "200 °C" }
[bed]
print = ["90 °C", "70 °C"]
[nozle]
smallest = "0.4 mm"
[fan]
print = ["0 %", "130 %"]
"#;
    let faults = Material::check("x.toml", text).unwrap_err();
    let at: Vec<(usize, &str)> = faults
        .iter()
        .map(|fault| {
            let spot = fault.spot().unwrap();
            (spot.line, spot.key.as_deref().unwrap_or(""))
        })
        .collect();
    let lines: Vec<usize> = at.iter().map(|(line, _)| *line).collect();
    assert_eq!(lines, [3, 5, 6, 7, 9, 10, 13], "{at:?}");
    // One alone is the one that reading states.
    let one = Material::check("x.toml", "name = \"x\"\ndensty = \"1 g/cm³\"\n").unwrap_err();
    let first = Material::parse("x.toml", "name = \"x\"\ndensty = \"1 g/cm³\"\n").unwrap_err();
    assert_eq!(one.len(), 1);
    assert_eq!(one[0].to_string(), first.to_string());
    // What is no TOML, and what has no name.
    assert_eq!(
        Material::check("x.toml", "name = \nx").unwrap_err().len(),
        1
    );
    assert_eq!(Material::check("x.toml", "also = []").unwrap_err().len(), 1);
    assert_eq!(
        Material::check("x.toml", "name = 5\nalso = 6")
            .unwrap_err()
            .len(),
        2
    );
    assert_eq!(
        Machine::check("x.toml", "from = \"nothing\"\nbd = 1")
            .unwrap_err()
            .len(),
        2
    );
    let tools = "name = \"m\"\n[[tools]]\nbore = \"0.4\"\n[[tools]]\nboer = \"0.4 mm\"\nbore = 4\n";
    assert_eq!(Machine::check("x.toml", tools).unwrap_err().len(), 3);
    for sheet in library::materials() {
        assert!(Material::check("x.toml", &format!("from = \"{}\"", sheet.name)).is_ok());
    }
}
