use super::*;
use proptest::prelude::*;

fn near(written: f64, expected: f64) {
    // Six significant digits, as the table of references has them.
    assert!(
        (written - expected).abs() <= 5e-6 * expected.abs().max(1e-9),
        "{written} is not {expected}"
    );
}

/// t/°C = (t/°F − 32)/1.8: NIST SP 811 (2008), appendix B.8, from memory; figures computed.
#[test]
fn fahrenheit() {
    for (fahrenheit, celsius) in [
        ("0 °F", -17.7778),
        ("32 °F", 0.0),
        ("68 °F", 20.0),
        ("77 °F", 25.0),
        ("195 °F", 90.5556),
        ("212 °F", 100.0),
        ("220 °F", 104.444),
        ("248 °F", 120.0),
        ("302 °F", 150.0),
        ("392 °F", 200.0),
        ("464 °F", 240.0),
        ("500 °F", 260.0),
        ("518 °F", 270.0),
    ] {
        near(fahrenheit.parse::<Celsius>().unwrap().get(), celsius);
    }
    assert_eq!("464 °F".parse::<Celsius>().unwrap().to_string(), "240 °C");
    // The difference takes the factor alone: 10 °F apart are 5.55556 K (computed).
    let ends: [Celsius; 2] = ["212 °F".parse().unwrap(), "202 °F".parse().unwrap()];
    near((ends[0] - ends[1]).get(), 5.55556);
}

/// Psi: NIST SP 811 (2008), appendix B.8, published. Inch, pound and ounce: the same, from memory.
#[test]
fn other_units() {
    near("1 in".parse::<Millimetres>().unwrap().get(), 25.4);
    near("0.0002 in".parse::<Millimetres>().unwrap().get(), 0.00508);
    near("0.069 in".parse::<Millimetres>().unwrap().get(), 1.7526);
    near("1 psi".parse::<Megapascals>().unwrap().get(), 0.006894757);
    near("66 psi".parse::<Megapascals>().unwrap().get(), 0.455054);
    near("264 psi".parse::<Megapascals>().unwrap().get(), 1.820216);
    near("1000 psi".parse::<Megapascals>().unwrap().get(), 6.894757);
    near("10000 psi".parse::<Megapascals>().unwrap().get(), 68.94757);
    near("1 oz".parse::<Grams>().unwrap().get(), 28.349523);
    near(
        "0.1 lb/in3"
            .parse::<GramsPerCubicCentimetre>()
            .unwrap()
            .get(),
        2.7679905,
    );
    near(
        "0.01 in3/s"
            .parse::<CubicMillimetresPerSecond>()
            .unwrap()
            .get(),
        163.87064,
    );
    near(
        "1 in/min".parse::<MillimetresPerSecond>().unwrap().get(),
        0.423333,
    );
}

/// SI prefixes and minutes (exact).
#[test]
fn decimal_units() {
    near(
        "3600 mm/min".parse::<MillimetresPerSecond>().unwrap().get(),
        60.0,
    );
    near(
        "3 m/min".parse::<MillimetresPerSecond>().unwrap().get(),
        50.0,
    );
    near("10 min".parse::<Seconds>().unwrap().get(), 600.0);
    near("90 min".parse::<Hours>().unwrap().get(), 1.5);
    near(
        "1240 kg/m³"
            .parse::<GramsPerCubicCentimetre>()
            .unwrap()
            .get(),
        1.24,
    );
    near("400 µm".parse::<Millimetres>().unwrap().get(), 0.4);
    near(Seconds::from(Hours::new(2.0)).get(), 7200.0);
}

#[test]
fn spellings_of_a_unit() {
    for text in [
        "10 mm³/s",
        "10mm3/s",
        " 10  mm^3 / s ",
        "10 mm^3/s",
        "+10. mm3/s",
    ] {
        assert_eq!(
            text.parse::<CubicMillimetresPerSecond>().unwrap().get(),
            10.0,
            "{text}"
        );
    }
    for text in ["-5 °C", "−5 °C", "-5C", "-5 ℃", "-5 º C"] {
        assert_eq!(text.parse::<Celsius>().unwrap().get(), -5.0, "{text}");
    }
    assert_eq!(".5%".parse::<Percent>().unwrap().to_string(), "0.5 %");
}

#[test]
fn written() {
    assert_eq!(Celsius::new(240.0).to_string(), "240 °C");
    assert_eq!(Celsius::new(100.0).to_string(), "100 °C");
    assert_eq!(Celsius::new(-0.0).to_string(), "0 °C");
    assert_eq!(Celsius::new(-0.000_000_1).to_string(), "0 °C");
    assert_eq!(Millimetres::new(0.1 + 0.2).to_string(), "0.3 mm");
    assert_eq!(format!("{:.1}", Celsius::new(90.5556)), "90.6 °C");
    assert_eq!(format!("{:.0}", Celsius::new(200.0)), "200 °C");
    assert_eq!(
        Range::new(Celsius::new(240.0), Celsius::new(270.0))
            .unwrap()
            .to_string(),
        "240 °C to 270 °C"
    );
}

#[test]
fn a_bare_number_shows_the_fix() {
    for (text, fix) in [
        ("240", "write \"240 °C\""),
        ("1.5", "write \"1.5 °C\""),
        (" 240 ", "write \"240 °C\""),
    ] {
        let fault = text.parse::<Celsius>().unwrap_err();
        assert!(
            matches!(fault, Unreadable::Bare { .. }),
            "{text}: {fault:?}"
        );
        assert_eq!(fault.help(), fix);
    }
}

#[test]
fn what_is_refused() {
    let refused = |text: &str| text.parse::<Celsius>().unwrap_err();
    for text in [
        "",
        "  ",
        "hot",
        "nan °C",
        "NaN",
        "inf °C",
        "infinity",
        "°C 240",
        "\u{7f}240 °C",
    ] {
        assert!(
            matches!(refused(text), Unreadable::NoNumber { .. }),
            "{text:?}"
        );
    }
    for text in [
        "1e3 °C",
        "1E+2 °C",
        "1.2.3 °C",
        "1,24 °C",
        "1_000 °C",
        "- °C",
        "+-3 °C",
        "3-4 °C",
        "5'0 °C",
    ] {
        assert!(
            matches!(refused(text), Unreadable::NotPlain { .. }),
            "{text:?}"
        );
    }
    for text in ["240 mm", "240 °c", "240 °C °C", "240 K", "240 °", "240 ..."] {
        assert!(
            matches!(refused(text), Unreadable::WrongUnit { .. }),
            "{text:?}"
        );
    }
    assert_eq!(
        refused("240 mm").to_string(),
        "`mm` is no unit of temperature here; use °C, C, °F, F"
    );
    for text in ["601 °C", "-61 °C", "1113 °F"] {
        let fault = refused(text);
        assert!(matches!(fault, Unreadable::OutOfBounds { .. }), "{text:?}");
        assert!(fault.to_string().contains("-60 °C to 600 °C"), "{fault}");
    }
    assert!("600 °C".parse::<Celsius>().is_ok() && "-60 °C".parse::<Celsius>().is_ok());
    let endless = format!("{} °C", "9".repeat(400));
    assert!(matches!(refused(&endless), Unreadable::NotFinite { .. }));
    assert!(
        refused(&endless).to_string().chars().count() < 120,
        "a stranger's text is clipped"
    );
    assert!(!refused("\u{1b}[31m240 °C").to_string().contains('\u{1b}'));
}

#[test]
fn temperatures_are_points() {
    let rise = Celsius::new(240.0) - Celsius::new(22.0);
    assert_eq!(rise, Kelvins::new(218.0));
    assert_eq!(Celsius::new(22.0) + rise, Celsius::new(240.0));
    assert_eq!(Celsius::new(240.0) - rise, Celsius::new(22.0));
}

#[test]
fn ranges() {
    let range = Range::new(Celsius::new(240.0), Celsius::new(270.0)).unwrap();
    assert!(range.contains(Celsius::new(240.0)) && range.contains(Celsius::new(270.0)));
    assert!(!range.contains(Celsius::new(239.99)) && !range.contains(Celsius::new(270.01)));
    assert_eq!(range.middle(), Celsius::new(255.0));
    assert_eq!(Range::new(Celsius::new(270.0), Celsius::new(240.0)), None);
    assert!(Range::new(Celsius::new(240.0), Celsius::new(240.0)).is_some());
}

macro_rules! round_trip {
    ($($test:ident: $type:ident),+ $(,)?) => {
        proptest! {
            $(
                /// What is written reads back to six decimals, the writing's own precision.
                #[test]
                fn $test(share in 0.0..=1.0) {
                    let figure = $type::LEAST.get() + share * ($type::MOST.get() - $type::LEAST.get());
                    let text = $type::new(figure).to_string();
                    let back: $type = text.parse().unwrap();
                    prop_assert!((back.get() - figure).abs() <= 0.5e-6 + figure.abs() * 1e-15, "{} {} {}", text, figure, back);
                    prop_assert_eq!(back.to_string(), text);
                }
            )+
        }
    };
}

round_trip!(
    celsius: Celsius,
    kelvins: Kelvins,
    kelvins_per_second: KelvinsPerSecond,
    millimetres: Millimetres,
    square_millimetres: SquareMillimetres,
    speed: MillimetresPerSecond,
    acceleration: MillimetresPerSecondSquared,
    flow: CubicMillimetresPerSecond,
    grams: Grams,
    density: GramsPerCubicCentimetre,
    seconds: Seconds,
    hours: Hours,
    watts: Watts,
    conductance: WattsPerKelvin,
    capacity: JoulesPerKelvin,
    percent: Percent,
    stress: Megapascals,
);

proptest! {
    /// Whatever the text, reading it does not panic, and what is read is finite and within bounds.
    #[test]
    fn any_text(text in ".{0,24}") {
        if let Ok(read) = text.parse::<Celsius>() {
            prop_assert!(read >= Celsius::LEAST && read <= Celsius::MOST);
        }
    }

    #[test]
    fn nearly_a_figure(text in "[-+−]?[0-9.,eE]{0,6} ?(°C|°F|C|mm|)") {
        if let Ok(read) = text.parse::<Celsius>() {
            prop_assert!(read.get().is_finite());
        }
    }
}

#[test]
fn prices() {
    for (written, shown) in [
        ("25 EUR/kg", "25 EUR/kg"),
        ("24.50 €/kg", "24.5 €/kg"),
        (" 0.025EUR / g ", "25 EUR/kg"),
        ("10 US$/lb", "22.046226 US$/kg"),
        ("700000 VND/kg", "700000 VND/kg"),
        ("0 EUR/kg", "0 EUR/kg"),
    ] {
        assert_eq!(
            written.parse::<Price>().unwrap().to_string(),
            shown,
            "{written}"
        );
    }
    // 29.8255 g at 25 by the kilogram cost 0.745637 (computed).
    near(
        "25 EUR/kg"
            .parse::<Price>()
            .unwrap()
            .of(Grams::new(29.8255)),
        0.745637,
    );
}

#[test]
fn what_is_no_price() {
    for (written, said) in [
        ("25", "`25` has no unit; write \"25 EUR/kg\""),
        (
            "25 EUR",
            "`EUR` is no unit of price here; use EUR/kg, EUR/g, EUR/lb",
        ),
        (
            "25 CHF/m",
            "`CHF/m` is no unit of price here; use CHF/kg, CHF/g, CHF/lb",
        ),
        (
            "25 /kg",
            "`/kg` is no unit of price here; use EUR/kg, EUR/g, EUR/lb",
        ),
        (
            "25 much too long/kg",
            "`much too long/kg` is no unit of price here; use EUR/kg, EUR/g, EUR/lb",
        ),
        (
            "25 \u{202e}/kg",
            "`\u{fffd}/kg` is no unit of price here; use EUR/kg, EUR/g, EUR/lb",
        ),
        (
            "EUR 25/kg",
            "`EUR 25/kg` does not begin with a number; write a price like \"25 EUR/kg\"",
        ),
        (
            "24,50 EUR/kg",
            "`24,50 EUR/kg` is no plain decimal number; write a price like \"25 EUR/kg\"",
        ),
        (
            "1e3 EUR/kg",
            "`1e3 EUR/kg` is no plain decimal number; write a price like \"25 EUR/kg\"",
        ),
        (
            "-1 EUR/kg",
            "`-1 EUR/kg` is no possible price, which is 0 EUR/kg to 1000000000 EUR/kg; check the figure and its unit",
        ),
    ] {
        assert_eq!(written.parse::<Price>().unwrap_err().to_string(), said);
    }
}
