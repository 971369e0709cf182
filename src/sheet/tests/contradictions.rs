use super::super::*;
use super::faults::{fault, held, machine_fault};
use miette::Diagnostic;

/// Each pair: a sheet whose two values just fit, and the one step that makes them contradict.
#[test]
fn contradictions() {
    for (fits, contradicts, key) in [
        (
            "hotend={print=[\"240 °C\",\"270 °C\"],extrusion_floor=\"240 °C\"}",
            "hotend={print=[\"240 °C\",\"270 °C\"],extrusion_floor=\"241 °C\"}",
            "hotend.extrusion_floor",
        ),
        (
            "hotend={first_layer=[\"240 °C\",\"270 °C\"],extrusion_floor=\"240 °C\"}",
            "hotend={first_layer=[\"240 °C\",\"270 °C\"],extrusion_floor=\"241 °C\"}",
            "hotend.extrusion_floor",
        ),
        (
            "hotend.print=[\"240 °C\",\"270 °C\"]\nbed.print=[\"70 °C\",\"240 °C\"]",
            "hotend.print=[\"240 °C\",\"270 °C\"]\nbed.print=[\"70 °C\",\"241 °C\"]",
            "bed.print",
        ),
        (
            "chamber={print=[\"45 °C\",\"70 °C\"],softening=\"70 °C\"}",
            "chamber={print=[\"45 °C\",\"70 °C\"],softening=\"69 °C\"}",
            "chamber.print",
        ),
        (
            "chamber={print=[\"45 °C\",\"70 °C\"],jams_above=\"70 °C\"}",
            "chamber={print=[\"45 °C\",\"70 °C\"],jams_above=\"69 °C\"}",
            "chamber.print",
        ),
        (
            "hotend.print=[\"240 °C\",\"270 °C\"]\nchamber.softening=\"240 °C\"",
            "hotend.print=[\"240 °C\",\"270 °C\"]\nchamber.softening=\"241 °C\"",
            "chamber.softening",
        ),
        (
            "hotend.print=[\"240 °C\",\"270 °C\"]\ndrying.temperature=\"240 °C\"",
            "hotend.print=[\"240 °C\",\"270 °C\"]\ndrying.temperature=\"241 °C\"",
            "drying.temperature",
        ),
        (
            "service={continuous=\"90 °C\",short_term=\"90 °C\"}",
            "service={continuous=\"90 °C\",short_term=\"89 °C\"}",
            "service.continuous",
        ),
        (
            "fan.first_layers_most=\"100 %\"",
            "fan.first_layers_most=\"101 %\"",
            "fan.first_layers_most",
        ),
        (
            "fan.print=[\"0 %\",\"100 %\"]",
            "fan.print=[\"0 %\",\"101 %\"]",
            "fan.print",
        ),
        (
            "fan.bridge=[\"0 %\",\"100 %\"]",
            "fan.bridge=[\"0 %\",\"101 %\"]",
            "fan.bridge",
        ),
        (
            "drying.highest_moisture=\"100 %\"",
            "drying.highest_moisture=\"101 %\"",
            "drying.highest_moisture",
        ),
        (
            "filament_diameter=\"0.1 mm\"",
            "filament_diameter=\"0 mm\"",
            "filament_diameter",
        ),
        (
            "nozzle.smallest=\"0.1 mm\"",
            "nozzle.smallest=\"-0.1 mm\"",
            "nozzle.smallest",
        ),
        (
            "flow.most=\"0.1 mm³/s\"",
            "flow.most=\"0 mm³/s\"",
            "flow.most",
        ),
        (
            "first_layer.speed_most=\"1 mm/s\"",
            "first_layer.speed_most=\"0 mm/s\"",
            "first_layer.speed_most",
        ),
        (
            "layer={time_least=\"8 s\",time_most=\"8 s\"}",
            "layer={time_least=\"8 s\",time_most=\"7 s\"}",
            "layer.time_least",
        ),
        (
            "layer.time_most=\"1 s\"",
            "layer.time_most=\"0 s\"",
            "layer.time_most",
        ),
        (
            "layer.speed_floor=\"1 mm/s\"",
            "layer.speed_floor=\"0 mm/s\"",
            "layer.speed_floor",
        ),
        (
            "layer={height_least_share=\"25 %\",height_most_share=\"25 %\"}",
            "layer={height_least_share=\"26 %\",height_most_share=\"25 %\"}",
            "layer.height_least_share",
        ),
        (
            "layer.height_most_share=\"100 %\"",
            "layer.height_most_share=\"101 %\"",
            "layer.height_most_share",
        ),
        (
            "layer.height_least_share=\"1 %\"",
            "layer.height_least_share=\"0 %\"",
            "layer.height_least_share",
        ),
        (
            "bead={width_least_share=\"100 %\",width_most_share=\"100 %\"}",
            "bead={width_least_share=\"101 %\",width_most_share=\"100 %\"}",
            "bead.width_least_share",
        ),
        (
            "bead.width_least_share=\"90 %\"\nfirst_layer.width_most_share=\"90 %\"",
            "bead.width_least_share=\"90 %\"\nfirst_layer.width_most_share=\"89 %\"",
            "bead.width_least_share",
        ),
        (
            "bead.width_most_share=\"1 %\"",
            "bead.width_most_share=\"0 %\"",
            "bead.width_most_share",
        ),
        (
            "retraction.length_most=\"0 mm\"",
            "retraction.length_most=\"-1 mm\"",
            "retraction.length_most",
        ),
        (
            "retraction.speed_most=\"1 mm/s\"",
            "retraction.speed_most=\"0 mm/s\"",
            "retraction.speed_most",
        ),
        (
            "spool={mass=\"750 g\",left=\"0.75 kg\"}",
            "spool={mass=\"750 g\",left=\"0.751 kg\"}",
            "spool.left",
        ),
        (
            "spool={mass=\"1 g\",left=\"0 g\"}",
            "spool={mass=\"0 g\",left=\"0 g\"}",
            "spool.mass",
        ),
        (
            "service.heat_deflection=[{stress=\"1.8 MPa\",temperature=\"60 °C\"},{stress=\"0.45 MPa\",temperature=\"60 °C\"}]",
            "service.heat_deflection=[{stress=\"1.8 MPa\",temperature=\"60 °C\"},{stress=\"0.45 MPa\",temperature=\"59 °C\"}]",
            "service.heat_deflection[1].temperature",
        ),
    ] {
        assert!(
            Material::parse("x", &format!("name=\"X\"\n{fits}\n")).is_ok(),
            "{fits}"
        );
        let fault = fault(&format!("name=\"X\"\n{contradicts}\n"));
        assert!(matches!(fault, Error::Contradiction(_)), "{fault:?}");
        assert_eq!(fault.spot().unwrap().key.as_deref(), Some(key), "{fault}");
        assert!(fault.spot().unwrap().bytes.is_some() && fault.help().is_some());
    }
}

#[test]
fn machine_contradictions() {
    for (fits, contradicts, key) in [
        (
            "bed={printable_from=[\"0 mm\",\"0 mm\"],printable_to=[\"1 mm\",\"1 mm\"]}",
            "bed={printable_from=[\"0 mm\",\"1 mm\"],printable_to=[\"1 mm\",\"1 mm\"]}",
            "bed.printable_from",
        ),
        (
            "bed={shape=\"circle\",diameter=\"9 mm\"}",
            "bed={shape=\"rectangle\",diameter=\"9 mm\"}",
            "bed.diameter",
        ),
        (
            "bed.diameter=\"9 mm\"",
            "bed={diameter=\"9 mm\",printable_from=[\"0 mm\",\"0 mm\"]}",
            "bed.diameter",
        ),
        (
            "bed={shape=\"rectangle\",printable_from=[\"0 mm\",\"0 mm\"]}",
            "bed={shape=\"circle\",printable_from=[\"0 mm\",\"0 mm\"]}",
            "bed.printable_from",
        ),
        (
            "bed={printable_from=[\"0 mm\",\"0 mm\"],printable_to=[\"9 mm\",\"9 mm\"]}\nreach_from=[\"0 mm\",\"0 mm\",\"0 mm\"]",
            "bed={printable_from=[\"0 mm\",\"0 mm\"],printable_to=[\"9 mm\",\"9 mm\"]}\nreach_from=[\"0 mm\",\"1 mm\",\"0 mm\"]",
            "reach_from",
        ),
        (
            "bed={printable_from=[\"0 mm\",\"0 mm\"],printable_to=[\"9 mm\",\"9 mm\"]}\nreach_to=[\"9 mm\",\"9 mm\",\"9 mm\"]\nheight=\"9 mm\"",
            "bed={printable_from=[\"0 mm\",\"0 mm\"],printable_to=[\"9 mm\",\"9 mm\"]}\nreach_to=[\"9 mm\",\"9 mm\",\"9 mm\"]\nheight=\"10 mm\"",
            "reach_to",
        ),
        (
            "reach_from=[\"0 mm\",\"0 mm\",\"0 mm\"]\nreach_to=[\"1 mm\",\"1 mm\",\"1 mm\"]",
            "reach_from=[\"0 mm\",\"0 mm\",\"1 mm\"]\nreach_to=[\"1 mm\",\"1 mm\",\"1 mm\"]",
            "reach_from",
        ),
        (
            "chamber={kind=\"heated\",power=\"1 W\"}",
            "chamber={kind=\"closed\",power=\"1 W\"}",
            "chamber.power",
        ),
        (
            "chamber={kind=\"closed\",limit=\"60 °C\"}",
            "chamber={kind=\"none\",limit=\"60 °C\"}",
            "chamber.limit",
        ),
        (
            "tools=[{lined=true,liner_limit=\"240 °C\"}]",
            "tools=[{lined=false,liner_limit=\"240 °C\"}]",
            "tools[0].liner_limit",
        ),
        (
            "tools=[{bore=\"1.75 mm\",filament_diameter=\"1.75 mm\"}]",
            "tools=[{bore=\"1.76 mm\",filament_diameter=\"1.75 mm\"}]",
            "tools[0].bore",
        ),
        (
            "tools=[{bore=\"0.1 mm\"}]",
            "tools=[{},{bore=\"0 mm\"}]",
            "tools[1].bore",
        ),
        ("speed.z=\"1 mm/s\"", "speed.z=\"0 mm/s\"", "speed.z"),
        (
            "acceleration.e=\"1 mm/s²\"",
            "acceleration.e=\"0 mm/s²\"",
            "acceleration.e",
        ),
        ("height=\"1 mm\"", "height=\"0 mm\"", "height"),
        (
            "control.fan_full=100",
            "control.fan_full=256",
            "control.fan_full",
        ),
        (
            "control.longest_line=1",
            "control.longest_line=0",
            "control.longest_line",
        ),
        (
            "control.known_words=[\"M141\"]\ncontrol.lacks_words=[\"G2\"]",
            "control.known_words=[\"M141\"]\ncontrol.lacks_words=[\"M141\"]",
            "control.known_words",
        ),
        (
            "control.cornering={kind=\"vector\",speed=\"8 mm/s\"}",
            "control.cornering={kind=\"vector\",deviation=\"1 mm\"}",
            "control.cornering",
        ),
        (
            "tools=[{retraction_most=\"0 mm\"}]",
            "tools=[{retraction_most=\"-1 mm\"}]",
            "tools[0].retraction_most",
        ),
        (
            "tools=[{retraction_speed_most=\"1 mm/s\"}]",
            "tools=[{retraction_speed_most=\"0 mm/s\"}]",
            "tools[0].retraction_speed_most",
        ),
        (
            "allowance.homing.z=\"60 min\"",
            "allowance.homing.z=\"61 min\"",
            "allowance.homing.z",
        ),
        (
            "allowance={probing=\"1 h\",tool_change=\"0 s\"}",
            "allowance={probing=\"1 h\",tool_change=\"2 h\"}",
            "allowance.tool_change",
        ),
        (
            "control.acceleration={print=\"1 mm/s²\",travel=\"1 mm/s²\"}",
            "control.acceleration={print=\"1 mm/s²\",travel=\"0 mm/s²\"}",
            "control.acceleration.travel",
        ),
        (
            "control.cornering={kind=\"per-axis\",x=\"8 mm/s\",y=\"8 mm/s\"}",
            "control.cornering={kind=\"per-axis\",x=\"8 mm/s\"}",
            "control.cornering",
        ),
        (
            "head={reach=\"1 mm\",above=\"0 mm\"}",
            "head={reach=\"0 mm\",above=\"0 mm\"}",
            "head.reach",
        ),
        (
            "head={reach=\"1 mm\",above=\"0 mm\"}",
            "head={reach=\"1 mm\",above=\"-1 mm\"}",
            "head.above",
        ),
        (
            "head={reach=\"1 mm\",above=\"0 mm\"}",
            "head={reach=\"1 mm\"}",
            "head.reach",
        ),
        (
            "head={reach=\"1 mm\",above=\"9 mm\",rods_above=\"9 mm\",rods_along=\"x\",rods_reach=\"1 mm\"}",
            "head={reach=\"1 mm\",above=\"9 mm\",rods_above=\"8 mm\",rods_along=\"x\",rods_reach=\"1 mm\"}",
            "head.above",
        ),
        (
            "head={rods_above=\"9 mm\",rods_along=\"y\",rods_reach=\"1 mm\"}",
            "head={rods_above=\"9 mm\",rods_reach=\"1 mm\"}",
            "head.rods_above",
        ),
    ] {
        if let Err(fault) = Machine::parse("x", &format!("name=\"X\"\n{fits}\n")) {
            panic!("{fits}: {fault}");
        }
        let fault = machine_fault(&format!("name=\"X\"\n{contradicts}\n"));
        assert!(matches!(fault, Error::Contradiction(_)), "{fault:?}");
        assert_eq!(fault.spot().unwrap().key.as_deref(), Some(key), "{fault}");
        assert!(fault.spot().unwrap().bytes.is_some(), "{fault}");
    }
}

#[test]
fn a_contradiction_shows_both_places() {
    let text = "name = \"X\"\n[hotend]\nprint = [\"240 °C\", \"270 °C\"]\nextrusion_floor = { value = \"250 °C\" }\n";
    let fault = fault(text);
    held(
        &fault,
        text,
        "\"250 °C\"",
        "shop.toml, line 4, column 29: `hotend.extrusion_floor`: 250 °C is above 240 °C at `hotend.print`",
        "correct the one that is wrong",
    );
    let labels: Vec<_> = fault.labels().unwrap().collect();
    assert_eq!(labels.len(), 2);
    assert_eq!(
        text.get(labels[1].offset()..labels[1].offset() + labels[1].len()),
        Some("[\"240 °C\", \"270 °C\"]")
    );
}

#[test]
fn a_contradiction_with_the_base() {
    let fault =
        fault("from = \"PA6-CF\"\nname = \"X\"\n[hotend]\nprint = [\"200 °C\", \"220 °C\"]\n");
    assert!(matches!(fault, Error::Contradiction(_)), "{fault:?}");
    assert!(
        fault
            .to_string()
            .contains("230 °C is above 200 °C at `hotend.print`"),
        "{fault}"
    );
}
