//! Jobs that end where no page's job can: inside a word, inside a line, without a line ending.

use meltgauge::inspection::{Held, inspect};

/// A whole job of four layers; its end is left out.
fn job() -> String {
    let mut job = String::from("M109 S210\nG28\nG90\nM83\n");
    for layer in 1..=4 {
        job += &format!("G0 X10 Y10 Z0.{} F3000\n", layer * 2);
        job += "G1 X60 Y10 E2\nG1 X60 Y60 E2\nG1 X10 Y60 E2\nG1 X10 Y10 E2\n";
    }
    job
}

/// What job-cut-short says, and the words it points at.
fn cut(job: &str) -> Option<(String, String)> {
    let found = inspect(job.as_bytes(), Held::default()).findings;
    let finding = found
        .into_iter()
        .find(|finding| finding.requirement == "job-cut-short")?;
    let first = finding.extent.first.expect("a place");
    let text = String::from_utf8_lossy(&first.text).into_owned();
    Some((finding.message, text))
}

#[test]
fn a_job_that_ends_inside_a_word_is_cut_short() {
    for end in ["G1 X60 Y", "G1 X-", "G1 X60 Y.", "M", "G1 X60 Y10 E\"a"] {
        let (message, text) = cut(&(job() + end)).expect(end);
        assert_eq!(
            (message.as_str(), text.as_str()),
            ("the job ends inside a word", end)
        );
        // With a line ending the same line is a malformed word, and nothing is cut.
        assert_eq!(cut(&(job() + end + "\n")), None, "{end}");
    }
}

#[test]
fn the_word_that_was_cut_off_is_no_malformed_word_too() {
    let malformed = |job: String| {
        let found = inspect(job.as_bytes(), Held::default()).findings;
        found
            .iter()
            .any(|finding| finding.requirement == "malformed-word")
    };
    assert!(!malformed(job() + "G1 X60 Y"));
    assert!(malformed(job() + "G1 X60 Y\n"));
}

#[test]
fn a_job_that_ends_inside_a_line_is_cut_short_while_it_is_hot() {
    for end in ["G1 X60", "N5 G1 X60", "X60"] {
        let (message, text) = cut(&(job() + end)).expect(end);
        assert!(
            message.starts_with("the job ends inside a line"),
            "{message}"
        );
        assert_eq!(text, end);
    }
    // Ended by a word, by a macro, never hot, or with one layer only.
    assert_eq!(cut(&(job() + "M104 S0\nG1 X60")), None);
    assert_eq!(cut(&(job() + "END_JOB\nG1 X60")), None);
    assert_eq!(cut(&(job().replace("M109 S210\n", "") + "G1 X60")), None);
    assert_eq!(
        cut("M109 S210\nG28\nG90\nM83\nG1 X10 Y10 Z0.2 F3000\nG1 X60 E2"),
        None
    );
}

#[test]
fn a_job_without_what_its_comments_promise_is_cut_short_while_it_is_hot() {
    let promised = |comment: &str| cut(&format!("; {comment}\n{}", job()));
    // It has 4 layers and 32 mm of filament: nine tenths of 35.5 mm.
    assert!(promised("filament used [mm] = 35.7").is_some());
    assert_eq!(promised("filament used [mm] = 35.5"), None);
    assert!(promised("layer count: 6").is_some());
    assert_eq!(promised("layer count: 5"), None);
}

#[test]
fn a_whole_job_without_an_end_of_its_own_is_not_cut_short() {
    assert_eq!(cut(&job()), None);
    assert_eq!(cut(&(job() + "M84 X Y E")), None);
    assert_eq!(cut(&(job() + "G28 X")), None);
    assert_eq!(
        cut(job().trim_end()).map(|(message, _)| message.starts_with("the job ends inside a line")),
        Some(true)
    );
}

/// Cut between two lines of its last layer, and hot: before half of it is laid that is seen, later only
/// where comments promise more.
#[test]
fn a_job_cut_between_lines_in_mid_layer_is_cut_short_while_it_is_hot() {
    let whole = job() + "G0 X10 Y10 Z1.0 F3000\n";
    let rest = [
        "G1 X60 Y10 E2\n",
        "G1 X60 Y60 E2\n",
        "G1 X10 Y60 E2\n",
        "G1 X10 Y10 E2\n",
    ];
    let cut_after = |moves: usize| cut(&(whole.clone() + &rest[..moves].concat()));
    let (message, _) = cut_after(1).expect("one of four moves");
    assert!(message.contains("in mid-layer"), "{message}");
    for moves in [0, 2, 3, 4] {
        assert_eq!(cut_after(moves), None, "{moves} of four moves");
    }
    let promised = |moves: usize| {
        cut(&format!(
            "; filament used [mm] = 48.0\n{whole}{}",
            rest[..moves].concat()
        ))
    };
    assert!(promised(3).is_some(), "38 of 48 mm");
    // An end of its own, by word or by macro, and a tip that grows smaller layer by layer.
    assert_eq!(cut(&(whole.clone() + rest[0] + "M104 S0\n")), None);
    assert_eq!(cut(&(whole + rest[0] + "END_JOB\n")), None);
    let mut tip = String::from("M109 S210\nG28\nG90\nM83\n");
    for layer in 1..=8 {
        let far = 90 - layer * 10;
        tip += &format!(
            "G0 X0 Y10 Z0.{:03} F3000\nG1 X{far} Y10 E{far}\n",
            layer * 120
        );
    }
    assert_eq!(cut(&tip), None);
}
