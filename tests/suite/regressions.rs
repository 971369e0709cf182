//! Faults that were found by reading or by trying, each as the smallest job that showed it.

use meltgauge::inspection::{Held, inspect};
use meltgauge::machine::{Line, Machine, Motion, Observer, Setup, State, Step, mm};

/// Watches and keeps the motions.
#[derive(Default)]
struct Log(Vec<Motion>);

impl Observer for Log {
    fn motion(&mut self, motion: &Motion, _: &State, _: &Line<'_>) {
        self.0.push(*motion);
    }
    fn step(&mut self, _: &Step<'_>, _: &State, _: &Line<'_>) {}
    fn remark(&mut self, _: &Line<'_>, _: &State) {}
}

fn after(job: &str) -> (State, Vec<Motion>) {
    let mut machine = Machine::new(Setup::default());
    let mut log = Log::default();
    machine.carry_out(job.as_bytes(), &mut log);
    (machine.state().clone(), log.0)
}

fn ids(job: &str) -> Vec<&'static str> {
    inspect(job.as_bytes(), Held::default())
        .findings
        .iter()
        .map(|finding| finding.requirement)
        .collect()
}

#[test]
fn words_with_axis_letters_of_their_own_move_nothing() {
    for line in [
        "M907 E538",
        "M906 X800 Y800",
        "M420 S1 Z10",
        "M145 S0 H180 B70 F0",
        "M593 F40",
    ] {
        let (state, motions) = after(&format!("G90\nM83\nG1 X1 Y1 Z1 F600\n{line}\n"));
        assert_eq!(motions.len(), 1, "{line}");
        assert_eq!(state.position.map(mm), [1.0, 1.0, 1.0], "{line}");
        assert_eq!(state.filament_total(), 0, "{line}");
        assert!((state.feed - 10.0).abs() < 1e-9, "{line}");
    }
    // A mode word before axis words is RS-274's way of moving.
    let (state, _) = after("G1 X1 F600\nG91 X5\n");
    assert!((mm(state.position[0]) - 6.0).abs() < 1e-9);
}

#[test]
fn the_clearest_parameter_of_a_macro_carries_the_temperature() {
    for (line, degrees) in [
        ("START_JOB PROBE_TEMP=150 EXTRUDER_TEMP=240", 240.0),
        ("START_JOB STANDBY_TEMP=160 TEMP=215", 215.0),
        ("START_JOB EXTRUDER=0 EXTRUDER_TEMP=240", 240.0),
        ("START_JOB HOTEND=235 BED=70", 235.0),
    ] {
        let (state, _) = after(&format!("{line}\n"));
        assert_eq!(
            state.conditions.hotend.target.get(),
            Some(degrees),
            "{line}"
        );
    }
}

#[test]
fn a_macro_that_switches_a_lamp_off_ends_no_job() {
    for name in ["LIGHT_OFF", "FAN_OFF", "CAMERA_STOP"] {
        let (state, _) = after(&format!("G28\nM104 S200\n{name}\n"));
        assert!(state.claims.end.is_none(), "{name}");
    }
    assert!(after("END_JOB\n").0.claims.end.is_some());
    assert!(after("BED_MESH_LOAD NAME=x\n").0.claims.start.is_none());
}

#[test]
fn modes_kept_by_a_macro_come_back() {
    let (state, _) = after("G90\nG1 X10 Y10\nSAVE_STATE\nG91\nG1 X1\nRESTORE_STATE\nG1 X5\n");
    assert!((mm(state.position[0]) - 5.0).abs() < 1e-9);
}

#[test]
fn z_named_anew_after_homing_is_a_trim() {
    let (state, _) = after("G28\nG92 Z1.2\nG1 Z0.2\n");
    assert!((mm(state.position[2]) - 0.2).abs() < 1e-9);
    assert!(
        !ids("G28\nM109 S200\nG92 Z1.2\nG90\nM83\nG1 Z0.2\nG1 X9 E1 F900\n").contains(&"below-bed")
    );
}

#[test]
fn honest_words_with_text_are_not_malformed() {
    for line in [
        "M115 U3.14.1",
        "M862.3 P \"ABC\"",
        "M486 Alid_G1.stl",
        "M110 N0",
        "M1002 set_x : 5",
        "M0 insert the nut, then go on",
        "M117 50% done * nearly",
    ] {
        let job = format!("G21\nG90\nG28\n{line}\nG1 X5 F900\n");
        assert!(
            !ids(&job).contains(&"malformed-word"),
            "{line}: {:?}",
            ids(&job)
        );
    }
}

#[test]
fn a_blank_does_not_make_one_word_of_two_numbers() {
    let (state, _) = after("M104 S200\nM104 215\n");
    assert_eq!(state.conditions.hotend.target.get(), Some(200.0));
    assert!(ids("G28\nM104 215\nG1 X5 F900\n").contains(&"malformed-word"));
}

#[test]
fn a_letter_twice_on_a_line_is_malformed() {
    assert!(ids("G90\nM82\nG28\nG1 X5 E1 F900\nG1 X6 E9.5e-07\n").contains(&"malformed-word"));
}

#[test]
fn reporting_words_switch_nothing() {
    assert!(after("M302\n").0.guards_off.is_empty());
    assert!(!after("M302 P1\n").0.guards_off.is_empty());
    assert!(!after("M84 S60\n").0.motors_off);
    assert!(!after("M84 E\n").0.motors_off);
    assert!(after("M84\n").0.motors_off);
    assert!(after("M200 S0 D1.75\n").0.volumetric.is_none());
}

#[test]
fn absurd_coordinates_neither_wrap_nor_panic() {
    let (state, _) = after(
        "G90\nG1 X-9000000000 F9\nG1 X9000000000\nG91\nG1 X99999999 E99999999\nG1 X99999999 E99999999\n",
    );
    assert!(state.position[0] >= 0);
}

#[test]
fn prose_and_tables_are_no_job() {
    for text in [
        "Dear shop, please print this.\nThank you.\n",
        "part,count\nlid,3\nbase,4\n",
        "1 2 3\n4 5 6\n",
    ] {
        assert!(
            inspect(text.as_bytes(), Held::default()).no_job.is_some(),
            "{text}"
        );
    }
}

/// One hostile line of a megabyte must not take time with its square.
#[test]
fn a_long_line_is_read_in_linear_time() {
    for piece in ["1 ", "[", "* ", "*1", "\"", "{", "(", "A ", "X1 1 "] {
        for front in ["X1 ", "A_B C=", "A_B ", "G1 "] {
            let line = format!("{front}{}", piece.repeat(400_000 / piece.len()));
            let begin = std::time::Instant::now();
            let mut words = meltgauge::grammar::Words::default();
            meltgauge::grammar::read_line(line.as_bytes(), &mut words);
            let seconds = begin.elapsed().as_secs_f64();
            assert!(seconds < 5.0, "{front}{piece}…: {seconds} s");
        }
    }
}

#[test]
fn relative_filament_that_only_a_macro_declares_is_seen() {
    let mut job = String::from("START_JOB HOTEND=210\nG1 Z0.2 F600\n");
    for turn in 0..40 {
        job += &format!(
            "G1 X{} Y{} E{}\n",
            10 + turn % 7,
            10 + turn,
            0.3 + 0.1 * f64::from(turn % 3)
        );
    }
    let (state, _) = after(&job);
    assert!(
        mm(state.filament_total()) > 5.0,
        "{} mm",
        mm(state.filament_total())
    );
    // Absolute numbers that nobody declares stay absolute.
    let mut job = String::from("START_JOB HOTEND=210\nG1 Z0.2 F600\n");
    for turn in 0..40 {
        job += &format!(
            "G1 X{} Y{} E{}\n",
            10 + turn % 7,
            10 + turn,
            0.3 * f64::from(turn)
        );
    }
    let (state, _) = after(&job);
    assert!((mm(state.filament_total()) - 11.7).abs() < 1e-6);
}

#[test]
fn a_macro_after_the_last_deposit_may_end_the_job() {
    let job = |last: &str| format!("G90\nM83\nG28\nM109 S210\nG1 Z0.2\nG1 X50 E5 F900\n{last}\n");
    assert!(ids(&job("")).contains(&"heater-left-on"));
    assert!(!ids(&job("CLEANUP")).contains(&"heater-left-on"));
    assert!(ids(&job("LIGHT_OFF")).contains(&"heater-left-on"));
}

#[test]
fn tools_that_share_a_hotend_share_its_heat() {
    let sheet = "name = \"four\"\ncontrol = { one_hotend = true }\n\
                 [[tools]]\nlimit = \"280 °C\"\n[[tools]]\nlimit = \"280 °C\"\n";
    let held = Held {
        materials: vec![Some(std::sync::Arc::new(crate::jobs::material("PLA", &[])))],
        machine: Some(std::sync::Arc::new(
            meltgauge::sheet::Machine::parse("four", sheet).unwrap(),
        )),
        ..Held::default()
    };
    let job = "G90\nM83\nG28\nM140 S60\nM109 S210\nT1\nG1 Z0.2\nG1 X50 E5 F900\nM104 S0\nM140 S0\n";
    let found: Vec<&str> = inspect(job.as_bytes(), held)
        .findings
        .iter()
        .map(|finding| finding.requirement)
        .collect();
    assert!(
        !found.contains(&"cold-deposit") && !found.contains(&"heater-left-on"),
        "{found:?}"
    );
}

#[test]
fn a_tool_heated_by_another_word_is_hot() {
    let (state, _) = after("M568 P0 S210 R150\n");
    assert_eq!(state.conditions.hotend.target.get(), Some(210.0));
}

#[test]
fn a_lost_line_end_is_malformed() {
    assert!(ids("G90\nM83\nG28\nG1 X5 E1 F900G1 X6 E1\n").contains(&"malformed-word"));
}

/// Beads of a few micrometres of filament each, on a cold hotend.
#[test]
fn small_cold_pushes_are_not_overlooked() {
    let mut job = String::from("G90\nM83\nG28\nM140 S60\nM104 S205\nM104 S100\nG1 Z0.2 F600\n");
    for turn in 0..60 {
        job += &format!("G1 X{} Y{} E0.0071 F900\n", 10 + turn % 7, 10 + turn);
    }
    let held = Held {
        materials: vec![Some(std::sync::Arc::new(crate::jobs::material("PLA", &[])))],
        machine: None,
        ..Held::default()
    };
    let found = inspect(job.as_bytes(), held).findings;
    let cold: Vec<u64> = found
        .iter()
        .filter(|finding| finding.requirement == "cold-deposit")
        .map(|finding| finding.extent.count)
        .collect();
    assert_eq!(cold, [1]);
}

fn of_pla(job: &str) -> Vec<(&'static str, u64)> {
    let held = Held {
        materials: vec![Some(std::sync::Arc::new(crate::jobs::material("PLA", &[])))],
        machine: None,
        ..Held::default()
    };
    inspect(job.as_bytes(), held)
        .findings
        .iter()
        .map(|finding| {
            let first = finding.extent.first.as_ref();
            (finding.requirement, first.map_or(0, |at| at.place.line))
        })
        .collect()
}

/// The letter O for a zero: no setpoint of 21 °C, and one finding.
#[test]
fn a_letter_for_a_zero_is_malformed_and_sets_nothing() {
    for word in [
        "M109 S21O",
        "M109 S2O5",
        "M109 S21o",
        "M109S21O",
        "M109 S20O.5",
    ] {
        let (state, _) = after(&format!("{word}\n"));
        assert_eq!(state.conditions.hotend.target.get(), None, "{word}");
        let job = format!(
            "G21\nG90\nM83\nM140 S60\nG28\n{word}\nG1 Z0.2 F1200\nG1 X50 E5 F900\nM104 S0\nM140 S0\n"
        );
        let found = of_pla(&job);
        let major = found.iter().filter(|(id, _)| *id != "bed-not-awaited");
        assert_eq!(
            major.collect::<Vec<_>>(),
            [&("malformed-word", 6)],
            "{word}"
        );
    }
    // Words of the language with that letter, and words without blanks.
    for line in ["G28 O", "G28 X0O", "M73P1O2", "G1 X5 F900 ; from S21O"] {
        let job = format!("G21\nG90\nG28\n{line}\nG1 X5 F900\n");
        assert!(!ids(&job).contains(&"malformed-word"), "{line}");
    }
    // A coordinate, too.
    for line in ["G1 X1O Y5 F900", "G1 X1O5 Y5 F900"] {
        let job = format!("G21\nG90\nG28\n{line}\nG1 X5\n");
        assert!(ids(&job).contains(&"malformed-word"), "{line}");
    }
}

/// A control that evaluates braces gets its temperature from them: nobody here knows which.
#[test]
fn a_setpoint_to_be_filled_in_is_not_taken_for_cold() {
    let found = of_pla("G21\nG90\nM83\nG28\nM109 S{first}\nG1 Z0.2 F1200\nG1 X50 E5 F900\n");
    assert!(
        found.iter().all(|(id, _)| *id != "cold-deposit"),
        "{found:?}"
    );
}

/// What is counted is moves, from the first to the last, though they lie in one stroke.
#[test]
fn moves_outside_the_area_are_counted_one_by_one() {
    let mut job =
        String::from("G90\nM83\nG28\nM109 S210\nG1 X100 Y100 Z0.2 F1200\nG1 X201 Y100 E3\n");
    for turn in 1..=50 {
        // The farthest in the middle.
        let x = 201.0 + f64::from(25 - (25_i32 - turn).abs()) / 100.0;
        job += &format!("G1 X{x} Y{} E0.1\n", 100 + turn);
    }
    job += "G1 X100 E3\nM104 S0\n";
    let held = Held {
        materials: Vec::new(),
        machine: Some(std::sync::Arc::new(crate::jobs::machine("open-lined", &[]))),
        ..Held::default()
    };
    let found = inspect(job.as_bytes(), held).findings;
    let outside = found
        .iter()
        .find(|finding| finding.requirement == "deposit-outside-area")
        .expect("outside");
    let extent = &outside.extent;
    assert_eq!((extent.count, extent.counts.word()), (51, "moves"));
    let at = |place: &Option<meltgauge::finding::Excerpt>| {
        let place = place.as_ref().unwrap();
        (
            place.place.line,
            String::from_utf8_lossy(&place.text).into_owned(),
        )
    };
    assert_eq!(at(&extent.first), (6, "G1 X201 Y100 E3".to_owned()));
    assert_eq!(at(&extent.last), (56, "G1 X201 Y150 E0.1".to_owned()));
    let worst = extent.worst.as_ref().unwrap();
    assert_eq!((worst.at.place.line, worst.amount), (31, 201.25));
}

/// A fan at nobody knows what is no fan at full.
#[test]
fn a_fan_that_cannot_be_read_is_left_as_it_is() {
    let job = "G21\nG90\nM83\nG28\nM190 S60\nM109 S210\nM106 S5O\nG1 Z0.2 F1200\nG1 X50 E5 F900\nM104 S0\nM140 S0\n";
    assert_eq!(of_pla(job), [("malformed-word", 7)]);
}

/// The findings of a job under library sheets: their ids.
fn ids_under(job: &str, material: &str, machine: &str) -> Vec<&'static str> {
    let held = Held {
        materials: vec![Some(std::sync::Arc::new(crate::jobs::material(
            material,
            &[],
        )))],
        machine: Some(std::sync::Arc::new(crate::jobs::machine(machine, &[]))),
        ..Held::default()
    };
    inspect(job.as_bytes(), held)
        .findings
        .iter()
        .map(|finding| finding.requirement)
        .collect()
}

#[test]
fn a_stroke_above_both_melting_limits_is_one_finding() {
    // 18 mm³/s: the hotend melts 15 of an easy material, and 8 of this one.
    let job = "M83\nG28\nM109 S260\nG1 X10 Y10 Z0.2 F9000\nG1 X110 E15 F3000\n";
    let flows = |material, machine| -> Vec<&str> {
        ids_under(job, material, machine)
            .into_iter()
            .filter(|id| id.starts_with("flow-above"))
            .collect()
    };
    assert_eq!(flows("PA6-CF", "closed-hardened"), ["flow-above-sheet"]);
    // Through 0.8 mm the material's figure is none; the hotend of 2.85 mm filament melts 30 of 48.
    assert_eq!(flows("PLA", "large-285"), ["flow-above-hotend"]);
}

#[test]
fn a_plate_of_small_objects_laid_one_after_another_has_cool_tops() {
    let object = |x: u32| {
        (1..=4).fold(String::new(), |job, layer| {
            let z = f64::from(layer) * 0.2;
            job + &format!(
                "G1 X{x} Y50 Z{z:.1} F9000\nG1 X{} E0.33 F1200\nG1 Y60 E0.33\nG1 X{x} E0.33\n\
                 G1 Y50 E0.33\n",
                x + 10
            )
        })
    };
    let head = "M83\nG28\nM109 S210\nM106 S255\n";
    // Two layers of each count: the first lies on the bed, and nothing lies on the last.
    let job = format!("{head}{}{}", object(50), object(100));
    assert!(!ids_under(&job, "PLA", "open-lined").contains(&"layer-too-quick"));
}

/// A control that ends the program at a word: what stands behind is not read as job, is cried over by
/// nobody, and is said once.
#[test]
fn lines_behind_the_programs_end_are_not_job() {
    let machine = |ends: &str| {
        let text = format!("name = \"m\"\n[control]\nprogram_ends = [{ends}]\n");
        meltgauge::sheet::Machine::parse("m.toml", &text).unwrap()
    };
    let job = b"%\nG28\nM104 S200\nG1 X1 F600\nM104 S0\nM2\nM104 S900\nWHAT_IS_THIS\nG1 X?\n; material = PLA\nG1 X";
    let of = |ends: &str| {
        let held = Held {
            machine: Some(std::sync::Arc::new(machine(ends))),
            ..Held::default()
        };
        inspect(job, held)
    };
    let ids = |ends: &str| -> Vec<&str> {
        let found = of(ends).findings;
        found.iter().map(|finding| finding.requirement).collect()
    };
    let ended = of("\"M2\"");
    assert_eq!((ended.ends_on, ended.unread, ended.lines), (Some(6), 4, 11));
    let behind = ["unknown-word", "malformed-word", "job-cut-short"];
    assert!(!ids("\"M2\"").iter().any(|id| behind.contains(id)));
    assert_eq!(of("").ends_on, None);
    assert!(
        behind.iter().all(|id| ids("").contains(id)),
        "{:?}",
        ids("")
    );
}
