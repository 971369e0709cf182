use super::super::*;
use crate::finding::SourceMark;
use crate::quantity::{Celsius, Millimetres, Percent, Range};

fn material(text: &str) -> Material {
    match Material::parse("shop.toml", text) {
        Ok(sheet) => sheet,
        Err(fault) => panic!("{fault}"),
    }
}

fn machine(text: &str) -> Machine {
    match Machine::parse("shop.toml", text) {
        Ok(sheet) => sheet,
        Err(fault) => panic!("{fault}"),
    }
}

#[test]
fn a_range_and_whose_figure_it_is() {
    let sheet = material(
        r#"
        name = "PA6-CF"
        source = "our oven book, page 4"
        mark = "measured"
        [hotend]
        print = ["464 °F", "270 °C"]
        extrusion_floor = { value = "230 °C", mark = "memory" }
        first_layer = { value = ["245 °C", "255 °C"], source = "a handbook", mark = "published" }
        [bed]
        print = { value = ["70 °C", "110 °C"], source = "a neighbour" }
        [chamber]
        required = true
        softening = { value = "160 °C" }
        "#,
    );
    let print = sheet.hotend.print.unwrap();
    assert_eq!(
        print.value,
        Range {
            least: Celsius::new(240.0),
            most: Celsius::new(270.0)
        }
    );
    assert_eq!(
        (print.source.as_deref(), print.mark),
        (Some("our oven book, page 4"), SourceMark::Measured)
    );
    let floor = sheet.hotend.extrusion_floor.unwrap();
    assert_eq!(
        (floor.source.as_deref(), floor.mark),
        (Some("our oven book, page 4"), SourceMark::Memory)
    );
    let first = sheet.hotend.first_layer.unwrap();
    assert_eq!(
        (first.source.as_deref(), first.mark),
        (Some("a handbook"), SourceMark::Published)
    );
    // The sheet's mark speaks for the sheet's source, not for another.
    let bed = sheet.bed.print.unwrap();
    assert_eq!(
        (bed.source.as_deref(), bed.mark),
        (Some("a neighbour"), SourceMark::Chosen)
    );
    let softening = sheet.chamber.softening.unwrap();
    assert_eq!(
        (softening.source.as_deref(), softening.mark),
        (Some("our oven book, page 4"), SourceMark::Measured)
    );
    assert_eq!(sheet.chamber.required.map(|c| c.value), Some(true));
    assert_eq!(sheet.fan, Fan::default());
    assert_eq!(sheet.origin, Origin::Text("shop.toml".into()));
}

#[test]
fn what_a_sheet_does_not_say_is_none() {
    assert_eq!(
        material("name = \"X\""),
        Material {
            name: "X".into(),
            origin: Origin::Text("shop.toml".into()),
            digest: material("name = \"X\"").digest,
            ..Material::default()
        }
    );
    let sheet = machine("name = \"X\"");
    assert_eq!(sheet.ambient(), DEFAULT_AMBIENT);
    assert_eq!(sheet.part_fans(), [0]);
    assert_eq!(sheet.control, Control::default());
    assert_eq!(sheet.bed.printable_box(), None);
}

/// BLAKE3 of the empty text and of `abc` would be checked by its own crate; here: that the digest is
/// that of the sheet's bytes and moves with them.
#[cfg(feature = "cli")]
#[test]
fn the_digest_is_of_the_bytes() {
    let text = "name = \"X\"\n";
    assert_eq!(
        material(text).digest,
        Some(blake3::hash(text.as_bytes()).to_hex().to_string())
    );
    let base = library::text("PLA").unwrap();
    let over = "from = \"PLA\"\nname = \"X\"\n";
    let both = [base, over].concat();
    assert_eq!(
        material(over).digest,
        Some(blake3::hash(both.as_bytes()).to_hex().to_string())
    );
}

#[test]
fn over_a_base() {
    let base = library::material("PA6-CF").unwrap();
    let sheet = material(
        r#"
        from = "pa6 cf"
        name = "Shop blend"
        source = "our trials"
        mark = "measured"
        cautions = ["The spool is heavy."]
        [hotend]
        print = ["250 °C", "265 °C"]
        "#,
    );
    assert_eq!(sheet.name, "Shop blend");
    assert!(
        sheet.answers_to("PA6-CF")
            && sheet.answers_to("nylon_cf")
            && sheet.answers_to("shop-blend")
    );
    let print = sheet.hotend.print.as_ref().unwrap();
    assert_eq!(print.value.to_string(), "250 °C to 265 °C");
    assert_eq!(
        (print.source.as_deref(), print.mark),
        (Some("our trials"), SourceMark::Measured)
    );
    // The rest is the base's, with the base's marks.
    assert_eq!(sheet.bed, base.bed);
    assert_eq!(sheet.bed.print.as_ref().unwrap().mark, SourceMark::Practice);
    assert_eq!(sheet.hotend.extrusion_floor, base.hotend.extrusion_floor);
    assert_eq!(sheet.service, base.service);
    assert!(sheet.cautions.contains(&"The spool is heavy.".to_owned()));
    for caution in &base.cautions {
        assert!(
            sheet.cautions.contains(caution),
            "a base's caution is never lost: {caution}"
        );
    }
}

#[test]
fn over_a_machine() {
    let base = library::machine("two-tools").unwrap();
    let sheet = machine(
        r#"
        from = "two-tools"
        name = "ours"
        [[tools]]
        nozzle_material = "ruby"
        [control]
        dwell_p = "seconds"
        [control.macros.START]
        homes = true
        hotend = "HOTEND"
        bed = "60 °C"
        "#,
    );
    assert_eq!(sheet.tools.len(), 2);
    assert_eq!(sheet.tools[0].hard(), Some(true));
    assert_eq!(sheet.tools[0].bore, base.tools[0].bore);
    assert_eq!(sheet.tools[1], base.tools[1]);
    assert_eq!(sheet.tools[1].hard(), Some(false));
    assert_eq!(sheet.control.dwell_p, DwellUnit::Seconds);
    assert_eq!(
        sheet.control.cornering, base.control.cornering,
        "what the base's control says stays"
    );
    let start = &sheet.control.macros["START"];
    assert!(start.homes && !start.ends);
    assert_eq!(start.hotend, Some(MacroHeat::Parameter("HOTEND".into())));
    assert_eq!(start.bed, Some(MacroHeat::Fixed(Celsius::new(60.0))));
    assert_eq!(sheet.height, base.height);
}

#[test]
fn a_control_over_a_control() {
    let sheet = machine("from = \"closed-hardened\"\n[control]\nhas_arcs = false\n");
    assert_eq!(sheet.name, "closed-hardened");
    assert_eq!(sheet.control.has_arcs, Some(false));
    assert_eq!(sheet.control.has_chamber_words, Some(true));
}

#[test]
fn a_bed_of_another_shape_replaces_the_bases() {
    let wide = "reach_from = [\"-110 mm\", \"-110 mm\", \"0 mm\"]\n\
                reach_to = [\"110 mm\", \"110 mm\", \"205 mm\"]\n";
    for bed in [
        "shape = \"circle\"\ndiameter = \"200 mm\"",
        "diameter = \"200 mm\"",
    ] {
        let sheet = machine(&format!("from = \"open-lined\"\n{wide}[bed]\n{bed}\n"));
        assert_eq!(sheet.bed.shape(), Some(BedShape::Circle));
        assert_eq!(sheet.bed.printable_from, None);
        let base = library::machine("open-lined").unwrap();
        assert_eq!(sheet.bed.limit, base.bed.limit, "what is no shape stays");
    }
    // The same shape merges value by value.
    let sheet = machine("from = \"open-lined\"\n[bed]\nprintable_to = [\"180 mm\", \"180 mm\"]\n");
    assert!(sheet.bed.printable_from.is_some());
    assert_eq!(sheet.bed.shape(), Some(BedShape::Rectangle));
}

#[test]
fn beds() {
    let square = machine(
        "name = \"s\"\n[bed]\nprintable_from = [\"-10 mm\", \"0 mm\"]\nprintable_to = [\"10 in\", \"200 mm\"]\n",
    );
    let at = |sheet: &Machine, x: f64, y: f64| {
        sheet.bed.within(Millimetres::new(x), Millimetres::new(y))
    };
    assert_eq!(square.bed.shape(), Some(BedShape::Rectangle));
    assert_eq!(at(&square, 254.0, 200.0), Some(true));
    assert_eq!(at(&square, 254.1, 200.0), Some(false));
    assert_eq!(at(&square, -10.0, -0.1), Some(false));
    let round = machine("name = \"r\"\n[bed]\ndiameter = \"200 mm\"\n");
    assert_eq!(round.bed.shape(), Some(BedShape::Circle));
    assert_eq!(at(&round, 60.0, 80.0), Some(true));
    assert_eq!(at(&round, 80.0, 80.0), Some(false));
    assert_eq!(
        round.bed.printable_box().unwrap()[0],
        Millimetres::new(-100.0)
    );
    let away = machine(
        "name = \"r\"\n[bed]\nshape = \"circle\"\ndiameter = \"200 mm\"\ncentre = [\"100 mm\", \"100 mm\"]\n",
    );
    assert_eq!(at(&away, 1.0, 100.0), Some(true));
    assert_eq!(at(&away, -1.0, 100.0), Some(false));
}

#[test]
fn liners() {
    let sheet = machine(
        "name = \"l\"\n[[tools]]\nlined = true\n[[tools]]\nlined = false\n[[tools]]\n[[tools]]\nlined = true\nliner_limit = \"235 °C\"\n",
    );
    let limits: Vec<_> = sheet.tools.iter().map(Tool::liner_limit).collect();
    assert_eq!(
        limits,
        [
            Some(DEFAULT_LINER_LIMIT),
            None,
            None,
            Some(Celsius::new(235.0))
        ]
    );
}

#[test]
fn everything_a_machine_can_say() {
    let sheet = machine(
        r#"
        name = "all"
        part_fans = [0, 2]
        home = ["0 mm", "0 mm", "10 mm"]
        ambient = "25 °C"
        [bed]
        heating_rate = "0.3 K/s"
        [control]
        g10 = "coordinates"
        g28 = "move"
        program_ends = ["M2", "%"]
        tool_change = "at-m6"
        fan_full = 1
        e_follows_g90 = true
        wait_r_cools = false
        evaluates_braces = true
        has_probing_words = true
        has_retract_words = false
        longest_line = 95
        segments_per_second = 1000
        known_words = ["M141"]
        lacks_words = ["G2"]
        cornering = { kind = "per-axis", x = "8 mm/s", y = "8 mm/s", z = "24 mm/min" }
        [control.macros.END_ALL]
        ends = true
        absolute_e = false
        waits = true
        "#,
    );
    assert_eq!(sheet.part_fans(), [0, 2]);
    assert_eq!(sheet.ambient(), Celsius::new(25.0));
    assert_eq!(sheet.control.g10, G10Meaning::Coordinates);
    assert_eq!(sheet.control.g28, G28Meaning::Move);
    assert_eq!(
        sheet.control.program_ends,
        [ProgramEnd::M2, ProgramEnd::Fence]
    );
    assert_eq!(sheet.control.tool_change, ToolChange::AtM6);
    assert_eq!(sheet.control.cornering.unwrap().z.unwrap().get(), 0.4);
    let rows = sheet.rows();
    let row = |key: &str| {
        rows.iter()
            .find(|row| row.key == key)
            .map(|row| row.value.as_str())
    };
    assert_eq!(
        row("control.cornering"),
        Some("per-axis, X 8 mm/s, Y 8 mm/s, Z 0.4 mm/s")
    );
    assert_eq!(
        row("control.macros.END_ALL"),
        Some("waits, ends, E relative")
    );
    assert_eq!(row("control.longest_line"), Some("95"));
    assert_eq!(row("bed.heating_rate"), Some("0.3 K/s"));
    assert_eq!(row("home"), Some("0 mm, 0 mm, 10 mm"));
    assert_eq!(row("control.has_arcs"), None);
}

#[test]
fn rows_show_whose_figure_each_is() {
    let rows = show(&library::material("PLA").unwrap());
    let row = |key: &str| rows.iter().find(|row| row.key == key).unwrap();
    assert_eq!(row("hotend.print").value, "190 °C to 220 °C");
    assert_eq!(row("hotend.print").mark, Some(SourceMark::Practice));
    assert_eq!(row("service.heat_deflection at 0.45 MPa").value, "65 °C");
    assert_eq!(
        row("service.heat_deflection at 0.45 MPa").mark,
        Some(SourceMark::Published)
    );
    assert_eq!(row("fan.first_layers").value, "1");
    assert_eq!(row("nozzle.abrasive").value, "no");
    assert_eq!(row("name").mark, None);
}

#[test]
fn a_limit_carries_whose_figure_it_is() {
    let sheet = material(
        "name = \"X\"\nhotend.print = { value = [\"464 °F\", \"270 °C\"], source = \"us\", mark = \"measured\" }\n",
    );
    let limit = sheet
        .hotend
        .print
        .unwrap()
        .map(|range| range.least)
        .limit("material sheet X, hotend.print");
    assert_eq!(
        (limit.value, limit.unit, limit.mark),
        (240.0, "°C", SourceMark::Measured)
    );
    assert_eq!(
        (limit.source.as_deref(), limit.whose.as_str()),
        (Some("us"), "material sheet X, hotend.print")
    );
}

#[test]
fn a_byte_order_mark_and_crlf_are_read() {
    let sheet = material("\u{feff}name = \"X\"\r\n[fan]\r\nfirst_layers_most = \"10 %\"\r\n");
    assert_eq!(
        sheet.fan.first_layers_most.unwrap().value,
        Percent::new(10.0)
    );
}

#[test]
fn what_a_survey_is_held_against() {
    let sheet = material(
        r#"
        name = "Shop blend"
        from = "TPU"
        price = { value = "25 EUR/kg", source = "our order 17", mark = "measured" }
        spool = { mass = "0.75 kg", left = "310 g" }
        layer = { time_most = "4 min", height_most_share = "60 %" }
        "#,
    );
    let price = sheet.price.as_ref().unwrap();
    assert_eq!(
        (price.value.per_kilogram(), price.value.currency()),
        (25.0, "EUR")
    );
    assert_eq!(price.source.as_deref(), Some("our order 17"));
    let left = sheet.spool.left.as_ref().unwrap();
    assert_eq!(left.value.get(), 310.0);
    assert_eq!(sheet.layer.time_most.as_ref().unwrap().value.get(), 240.0);
    // What the base says and this sheet does not.
    let retraction = sheet.retraction.length_most.as_ref().unwrap();
    assert_eq!(
        (retraction.value.get(), retraction.mark),
        (1.0, SourceMark::Practice)
    );
    let rows: Vec<String> = sheet
        .rows()
        .into_iter()
        .map(|row| format!("{} = {}", row.key, row.value))
        .collect();
    for row in [
        "price = 25 EUR/kg",
        "spool.mass = 750 g",
        "spool.left = 310 g",
        "layer.time_most = 240 s",
        "layer.height_most_share = 60 %",
        "retraction.length_most = 1 mm",
    ] {
        assert!(
            rows.iter().any(|shown| shown == row),
            "{row} is not in {rows:#?}"
        );
    }
}

#[test]
fn what_a_planner_is_set_up_with() {
    let sheet = machine(
        r#"
        name = "Ours"
        from = "open-lined"
        allowance.homing.z = "25 s"
        tools = [{ retraction_most = "4 mm", retraction_speed_most = "45 mm/s" }]
        control.acceleration.travel = "2000 mm/s²"
        "#,
    );
    let held = sheet.control.acceleration;
    let figures = [held.print, held.travel, held.retract].map(|rate| rate.unwrap().get());
    assert_eq!(figures, [1000.0, 2000.0, 3000.0]);
    assert!(sheet.control.cornering.is_some());
    let homing = &sheet.allowance.homing;
    let times = [&homing.x, &homing.y, &homing.z].map(|time| time.as_ref().unwrap().value.get());
    assert_eq!(times, [5.0, 5.0, 25.0]);
    let rows: Vec<String> = sheet
        .rows()
        .into_iter()
        .map(|row| format!("{} = {}", row.key, row.value))
        .collect();
    for row in [
        "tools[0].retraction_most = 4 mm",
        "tools[0].retraction_speed_most = 45 mm/s",
        "allowance.homing.z = 25 s",
        "allowance.probing = 60 s",
        "control.acceleration = print 1000 mm/s², travel 2000 mm/s², retract 3000 mm/s²",
    ] {
        assert!(
            rows.iter().any(|shown| shown == row),
            "{row} is not in {rows:#?}"
        );
    }
    assert_eq!(
        machine("name = \"X\"").control.acceleration,
        Accelerations::default()
    );
}
