use super::*;

fn parts(line: &[u8]) -> Vec<(Kind, String, Fault)> {
    let mut words = Words::default();
    let rest = read_line(line, &mut words);
    assert!(rest.is_empty(), "{:?}", String::from_utf8_lossy(rest));
    words
        .iter()
        .map(|word| {
            (
                word.kind,
                String::from_utf8_lossy(word.bytes(line)).into_owned(),
                word.fault,
            )
        })
        .collect()
}

fn numbers(line: &[u8]) -> Vec<(char, f64)> {
    let mut words = Words::default();
    read_line(line, &mut words);
    words
        .iter()
        .filter(|word| word.kind == Kind::Number)
        .map(|word| (word.letter as char, word.to_f64()))
        .collect()
}

#[test]
fn an_e_is_never_an_exponent() {
    let read = parts(b"1E5X3");
    let kinds: Vec<&str> = read.iter().map(|(_, text, _)| text.as_str()).collect();
    assert_eq!(kinds, ["1", "E5", "X3"]);
    assert_eq!(read[0].2, Fault::LooseNumber);
    assert_eq!(
        numbers(b"G1X1E5Y2"),
        [('G', 1.0), ('X', 1.0), ('E', 5.0), ('Y', 2.0)]
    );
}

#[test]
fn blanks_inside_a_number_are_joined_and_said() {
    let mut words = Words::default();
    read_line(b"g0x +0. 12 34y 7", &mut words);
    let read: Vec<(u8, f64, Fault)> = words
        .iter()
        .map(|word| (word.letter, word.to_f64(), word.fault))
        .collect();
    assert_eq!(
        read,
        [
            (b'G', 0.0, Fault::None),
            (b'X', 0.1234, Fault::BlankInNumber),
            (b'Y', 7.0, Fault::None)
        ]
    );
}

#[test]
fn a_macro_keeps_its_parameters_apart() {
    let line = b"START_JOB BED=60 NAME=\"a b\" SHAPE=[[1, 2],[3]] quick ; go\r\n";
    let mut words = Words::default();
    read_line(line, &mut words);
    let kinds: Vec<Kind> = words.iter().map(|word| word.kind).collect();
    assert_eq!(
        kinds,
        [
            Kind::Name,
            Kind::Parameter,
            Kind::Parameter,
            Kind::Parameter,
            Kind::Argument,
            Kind::Comment,
            Kind::End
        ]
    );
    assert_eq!(words[1].key(line), b"BED");
    assert_eq!(words[1].parameter(line), b"60");
    assert_eq!(words[2].parameter(line), b"\"a b\"");
    assert_eq!(words[3].parameter(line), b"[[1, 2],[3]]");
}

#[test]
fn bare_words_text_and_placeholders() {
    assert_eq!(
        parts(b"G28 X Y")
            .iter()
            .map(|(kind, text, _)| (*kind, text.as_str().to_owned()))
            .collect::<Vec<_>>(),
        [
            (Kind::Number, "G28".to_owned()),
            (Kind::Bare, "X".to_owned()),
            (Kind::Bare, "Y".to_owned())
        ]
    );
    let text = parts(b"M117 Layer 3 X5;c");
    assert_eq!((text[1].0, text[1].1.as_str()), (Kind::Text, " Layer 3 X5"));
    let open = parts(b"M104 S{first");
    assert_eq!((open[1].0, open[1].2), (Kind::Placeholder, Fault::Unclosed));
    assert_eq!(parts(b"M104 S[hot_0]")[1].0, Kind::Placeholder);
}

#[test]
fn digits_beyond_what_is_kept_are_said_and_never_wrap() {
    let read = |line: &[u8]| {
        let mut words = Words::default();
        read_line(line, &mut words);
        (words[0].value, words[0].scale, words[0].fault)
    };
    assert_eq!(read(b"X99999999999999999999").2, Fault::TooLarge);
    assert_eq!(
        read(b"X1.0000000000000000000000"),
        (100_000_000_000_000_000, 17, Fault::None)
    );
    assert_eq!(read(b"X0000000000000000000000012.5"), (125, 1, Fault::None));
    assert_eq!(read(b"X1.23456789012345678901").2, Fault::TooLong);
    assert_eq!(read(b"X-.5"), (-5, 1, Fault::None));
    assert_eq!(read(b"X1.2.3").2, Fault::BadNumber);
}

#[test]
fn every_line_end_ends_a_line() {
    let mut words = Words::default();
    let job = b"G1\nG2\r\nG3\rG4";
    let mut rest = &job[..];
    let mut ends = Vec::new();
    while !rest.is_empty() {
        rest = read_line(rest, &mut words);
        ends.push(words.last().map(|word| (word.kind, word.len)));
    }
    assert_eq!(
        ends,
        [
            Some((Kind::End, 1)),
            Some((Kind::End, 2)),
            Some((Kind::End, 1)),
            Some((Kind::Number, 2))
        ]
    );
}

/// The worked checksums of references 2: seen in several tests and texts, else computed.
#[test]
fn checksums() {
    for line in [
        "N1 G28*18",
        "N3 T0*57",
        "N4 G92 E0*67",
        "N10 G1 X10.5 Y20 E0.42 F1800*18",
        "N10 G1X10.5Y20E0.42F1800*18",
        "N10 G1 X10.5 Y20 E0.42F1800*50",
        "N12 M191 S60*108",
    ] {
        let read = parts(line.as_bytes());
        assert_eq!(
            read.last().map(|part| (part.0, part.2)),
            Some((Kind::Checksum, Fault::None)),
            "{line}"
        );
    }
    assert_eq!(
        parts(b"N1 G28*19").last().map(|part| part.2),
        Some(Fault::WrongChecksum)
    );
    assert_eq!(
        parts(b"N1 G28*").last().map(|part| part.2),
        Some(Fault::BadChecksum)
    );
}

proptest::proptest! {
    #[test]
    fn parts_and_blanks_tile_any_line(job in proptest::collection::vec(proptest::sample::select(
        b"GXYEMNT019.+- \t;()[]{}*\"%/\n\r=_a\xff\x00#".to_vec()), 0..60)) {
        let mut words = Words::default();
        let mut rest = &job[..];
        let mut out = Vec::new();
        while !rest.is_empty() {
            let line = rest;
            rest = read_line(line, &mut words);
            let len = line.len() - rest.len();
            proptest::prop_assert!(len > 0);
            for (word, span) in words.tiles(len) {
                let bytes = &line[span];
                if word.is_none() {
                    proptest::prop_assert!(bytes.iter().all(|byte| matches!(byte, b' ' | b'\t')));
                }
                out.extend_from_slice(bytes);
            }
        }
        proptest::prop_assert_eq!(out, job);
    }
}
