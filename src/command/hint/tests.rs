//! What comments say, and what they do not.

use super::*;
use proptest::prelude::*;

fn told(comment: &[u8]) -> Vec<Hint> {
    let mut told = Vec::new();
    read(comment, &mut |hint| told.push(hint));
    told
}

fn setting(key: Key, value: &str) -> Hint {
    Hint::Setting(key, value.into())
}

fn layer(number: Option<u32>, z: Option<f64>) -> Vec<Hint> {
    vec![Hint::Layer { number, z }]
}

#[test]
fn layers() {
    assert_eq!(told(b";LAYER:3"), layer(Some(3), None));
    assert_eq!(told(b"; layer 3, Z = 0.8"), layer(Some(3), Some(0.8)));
    assert_eq!(told(b"; BEGIN_LAYER_OBJECT z=0.20"), layer(None, Some(0.2)));
    assert_eq!(told(b";LAYER_CHANGE\r"), layer(None, None));
    assert_eq!(told(b";LAYER:-2"), layer(None, None));
    assert_eq!(told(b"(layer 4)"), layer(Some(4), None));
    for nothing in [
        "; END_LAYER_OBJECT z=0.20",
        ";BEFORE_LAYER_CHANGE",
        "; layer 5 mm",
        "; layer 99999999999",
        "; layer 0.4",
        ";player: 3",
        ";layers",
    ] {
        assert_eq!(told(nothing.as_bytes()), [], "{nothing}");
    }
}

#[test]
fn paths() {
    for (comment, kind) in [
        (";TYPE:OuterWall", PathKind::OuterWall),
        ("; --- perimeter, outer ---", PathKind::OuterWall),
        (";TYPE:Wall, inner; 0.4 mm", PathKind::InnerWall),
        (";TYPE:Overhang wall", PathKind::Bridge),
        (";TYPE:Internal solid infill", PathKind::SolidInfill),
        (";TYPE:SKIN", PathKind::SolidInfill),
        (";TYPE:Skirt/Brim", PathKind::Skirt),
        (";TYPE:Support interface", PathKind::Support),
        (
            "; 'Skirt Path', 0.6 [feed mm/s], 10.0 [head mm/s]",
            PathKind::Skirt,
        ),
        ("; 'Crown Path', 0.6 [feed mm/s]", PathKind::Unsaid),
        (";TYPE:CUSTOM", PathKind::Unsaid),
        (";WIPE_START", PathKind::Wipe),
        (";WIPE_END", PathKind::Unsaid),
        ("; end of purge line", PathKind::Unsaid),
        ("(purge the nozzle)", PathKind::Purge),
    ] {
        assert_eq!(told(comment.as_bytes()), [Hint::Path(kind)], "{comment}");
    }
    for nothing in [
        "; wipe =",
        "; wipe = 1",
        "; the wall of fame",
        "; 'wall.txt'",
        "; wall thickness 2",
        "; support 20%",
        ";! skirt",
        "; nozzle",
        "; end",
    ] {
        assert_eq!(told(nothing.as_bytes()), [], "{nothing}");
    }
}

#[test]
fn settings() {
    for (comment, key, value) in [
        ("; LayerHeight: 0.20 mm", Key::LayerHeight, "0.2"),
        ("; layer height: 200 µm", Key::LayerHeight, "0.2"),
        (";Filament used: 1.67714m", Key::FilamentLengthMm, "1677.14"),
        (
            "; nozzle_diameter = 0.4,0.60",
            Key::NozzleDiameter,
            "0.4,0.6",
        ),
        (
            ";Filament Density #1: 1240.000",
            Key::FilamentDensity,
            "1.24",
        ),
        ("; density = 1.09 g/cm³", Key::FilamentDensity, "1.09"),
        (";Filament Type #2: Pla", Key::Material, "PLA"),
        ("; filament_type = PLA;PA6-CF", Key::Material, "PLA,PA6-CF"),
        ("; filament mass: 0.0125 kg", Key::FilamentMassG, "12.5"),
        ("; infill_density = 0.15", Key::InfillPercent, "15"),
        ("; temperature_C = 210", Key::HotendTemperature, "210"),
        ("; bed temp: 60 \u{b0}C", Key::BedTemperature, "60"),
        ("; bed_C = 0", Key::BedTemperature, "0"),
    ] {
        assert_eq!(told(comment.as_bytes()), [setting(key, value)], "{comment}");
    }
    assert_eq!(
        told(b";Filament used:     0.74m     6.62g"),
        [
            setting(Key::FilamentLengthMm, "740"),
            setting(Key::FilamentMassG, "6.62")
        ]
    );
    assert_eq!(
        told(b"; filament cost = 0.65; total filament used [g] = 32.46"),
        [setting(Key::FilamentMassG, "32.46")]
    );
    assert_eq!(
        told(b"; layer_height = 0.2, nozzle_diameter = 0.4"),
        [
            setting(Key::LayerHeight, "0.2"),
            setting(Key::NozzleDiameter, "0.4")
        ]
    );
    // In Latin-1.
    assert_eq!(
        told(b"; nozzle temperature: 240 \xB0C"),
        [setting(Key::HotendTemperature, "240")]
    );
    for nothing in [
        "; max_z_height: 4",
        "; fan_Z_mm = 3",
        "; layer_height = 0.2 or so",
        "; layer_height = 0",
        "; layer_height = 0.2 g",
        "; layers = 2.5",
        "; filament used [cm3] = 26.17",
        "; filament used: 1643.4",
        "; first_layer_temperature = 220",
        "; material_type = Tough",
        "; material: none",
        "; material: see the order sheet",
        "; fibre diameter = 0.007",
        "; nozzle: 1",
        "; infill: 3",
        "; start_words = M104 ; layer_height = 0.9",
    ] {
        assert_eq!(told(nothing.as_bytes()), [], "{nothing}");
    }
}

proptest! {
    #[test]
    fn any_bytes_are_read(comment in prop::collection::vec(any::<u8>(), 0..64)) {
        told(&comment);
    }

    #[test]
    fn any_run_of_known_pieces_is_read(
        pieces in prop::collection::vec(
            prop::sample::select(vec![
                ";", "(", ")", " ", "layer", "TYPE:", "wall", "-", "3", "0.", ".5", "=", ":", "'", "\"", ",", "#",
                "[", "]", "mm", "filament", "used", "density", "00000", "999999999999999999999999", "kg", "µ",
            ]),
            0..12,
        )
    ) {
        told(format!(";{}", pieces.concat()).as_bytes());
    }

    /// A length in mm says the same in m, whatever its digits.
    #[test]
    fn units_move_the_point_only(mm in 1_u64..10_000_000) {
        let metres = format!("; filament length: {}.{:03} m", mm / 1000, mm % 1000);
        let millimetres = format!("; filament length: {mm}.000 mm");
        prop_assert_eq!(told(metres.as_bytes()), [setting(Key::FilamentLengthMm, &mm.to_string())]);
        prop_assert_eq!(told(millimetres.as_bytes()), [setting(Key::FilamentLengthMm, &mm.to_string())]);
    }
}
