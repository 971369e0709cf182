//! Water in filament, temperatures in use and yields against published and independently computed
//! values. Marks as in `physics`.

use super::physics::agrees;
use meltgauge::physics::moisture::{self, Diffusion};
use meltgauge::physics::{bead, service, yields};

/// Roots of J0 and 4/α², 30-digit arithmetic (computed), and the function itself by a numerical
/// library of other hands.
#[test]
fn roots_of_the_bessel_function() {
    for (n, root, weight) in [
        (1, "2.404825558", "0.69166028"),
        (2, "5.52007811", "0.13127123"),
        (3, "8.653727913", "0.053413805"),
        (4, "11.79153444", "0.028768641"),
        (5, "14.93091771", "0.017942667"),
        (6, "18.07106397", "0.012248772"),
    ] {
        agrees("root", moisture::root(n), root);
        agrees("weight", 4.0 / moisture::root(n).powi(2), weight);
    }
    for n in 1..=400 {
        let value = libm::j0(moisture::root(n));
        assert!(value.abs() < 1e-9, "root {n}: J0 is {value}");
    }
}

/// J. Crank, *The Mathematics of Diffusion*, 1975, section 5.3: the series with 400 roots (computed).
/// Below Dt/a² = 0.005 the short-time form is taken, good to 0.003 %.
#[test]
fn uptake_of_a_long_cylinder() {
    for (reduced, share) in [
        (0.0001, "0.022467"),
        (0.0005, "0.049961"),
        (0.001, "0.070359"),
        (0.002, "0.098908"),
        (0.005, "0.154507"),
        (0.01, "0.215474"),
        (0.02, "0.298564"),
        (0.03, "0.359769"),
        (0.05, "0.452121"),
        (0.08, "0.552922"),
        (0.1, "0.605824"),
        (0.15, "0.708137"),
        (0.2, "0.782148"),
        (0.3, "0.877972"),
        (0.4, "0.931569"),
        (0.5, "0.961621"),
        (0.6, "0.978476"),
        (0.8, "0.993230"),
        (1.0, "0.997870"),
    ] {
        let shown = moisture::share(reduced);
        let printed: f64 = share.parse().unwrap();
        assert!(
            (shown - printed).abs() <= 1e-6 + 3e-5 * if reduced < 0.005 { printed } else { 0.0 },
            "{reduced}: {shown}"
        );
    }
    for (share, reduced) in [
        (0.1, "0.002045"),
        (0.25, "0.013686"),
        (0.5, "0.063058"),
        (0.632121, "0.111266"),
        (0.75, "0.176385"),
        (0.9, "0.334413"),
        (0.95, "0.454261"),
        (0.99, "0.732556"),
    ] {
        agrees("Dt/a²", moisture::reduced(share).unwrap(), reduced);
    }
}

/// A strand of 1.75 mm with D(23 °C) = 2e-13 m²/s and 55 kJ/mol, illustrative figures (computed).
#[test]
fn a_strand_takes_up_water_and_dries() {
    let water = Diffusion {
        coefficient: 2e-13,
        at: 23.0,
        energy: 55_000.0,
    };
    for (celsius, hours, d, reduced, share, mass) in [
        (23.0, 1.0, 2.0e-13, "0.000940408", 0.068260, 0.184302),
        (23.0, 12.0, 2.0e-13, "0.0112849", 0.228208, 0.616162),
        (23.0, 24.0, 2.0e-13, "0.0225698", 0.315756, 0.852542),
        (23.0, 168.0, 2.0e-13, "0.157989", 0.721546, 1.94818),
        (40.0, 24.0, 6.72435e-13, "0.0758836", 0.540849, 1.46029),
        (70.0, 8.0, 4.26278e-12, "0.160350", 0.725383, 1.95853),
        (80.0, 4.0, 7.35799e-12, "0.138390", 0.687385, 1.85594),
        (80.0, 8.0, 7.35799e-12, "0.276781", 0.860422, 2.32314),
        (80.0, 12.0, 7.35799e-12, "0.415171", 0.937317, 2.53076),
    ] {
        assert!(
            (water.at(celsius) / d - 1.0).abs() < 1e-5,
            "D at {celsius}: {}",
            water.at(celsius)
        );
        let seconds = hours * 3600.0;
        agrees("Dt/a²", water.reduced(1.75, celsius, seconds), reduced);
        let gone = moisture::share(water.reduced(1.75, celsius, seconds));
        assert!(
            (gone - share).abs() < 5e-6,
            "{celsius} °C, {hours} h: {gone}"
        );
        assert!((moisture::content(0.0, 2.7, gone) - mass).abs() < 2e-5);
        let back = water.seconds(1.75, celsius, gone).unwrap();
        assert!((back / seconds - 1.0).abs() < 1e-4, "{back}");
    }
}

/// Relative humidity of a dryer's own air and the floor it sets for PA6, linear through 2.7 % at 50 %
/// (computed from the Magnus form of Alduchov and Eskridge, 1996): 70 °C air from a 55 % room never
/// brings PA6 under about 0.26 %.
#[test]
fn a_dryer_that_only_heats_room_air_has_a_floor() {
    for (room, humidity, in_dryer, floors) in [
        (
            23.0,
            55.0,
            ["12.476", "7.702", "4.903", "3.210", "2.156"],
            ["0.416", "0.265", "0.173"],
        ),
        (
            23.0,
            50.0,
            ["11.342", "7.002", "4.457", "2.918", "1.960"],
            ["0.378", "0.241", "0.158"],
        ),
        (
            30.0,
            80.0,
            ["27.420", "16.927", "10.777", "7.055", "4.738"],
            ["0.914", "0.582", "0.381"],
        ),
    ] {
        for (to, printed) in [50.0, 60.0, 70.0, 80.0, 90.0].into_iter().zip(in_dryer) {
            // The table was rounded twice in places: 7.00148 is printed as 7.002.
            let shown = moisture::warmed(humidity, room, to);
            let printed: f64 = printed.parse().unwrap();
            assert!((shown - printed).abs() < 6e-4, "{shown} {printed}");
        }
        for (to, printed) in [60.0, 70.0, 80.0].into_iter().zip(floors) {
            let air = moisture::warmed(humidity, room, to);
            let floor = moisture::equilibrium(&[(50.0, 2.7)], air).unwrap();
            agrees("floor", floor, printed);
        }
    }
}

/// NIST SP 811, B.8: °F to °C (published table, recomputed).
#[test]
fn a_temperature_in_use_is_quoted_on_the_celsius_scale() {
    for (fahrenheit, celsius) in [
        (195.0, "90.5556"),
        (212.0, "100.000"),
        (220.0, "104.444"),
        (302.0, "150.000"),
    ] {
        let typed: meltgauge::quantity::Celsius = format!("{fahrenheit} °F").parse().unwrap();
        agrees("°C", typed.get(), celsius);
    }
    let room = service::room(150.0, 127.5);
    assert_eq!((room.kelvins, room.percent), (22.5, Some(15.0)));
}

/// References 4 (computed): mm per cm³, m per kg, and 19.4 % lighter is 24 % more parts a kilogram.
#[test]
fn yields_follow_from_density() {
    for (diameter, at_one, at_pla) in [(1.75, "415.752", "335.284"), (2.85, "156.755", "126.415")] {
        let metres = |density| yields::length(1000.0, density, diameter).unwrap() / 1000.0;
        agrees("m/kg", metres(1.0), at_one);
        agrees("m/kg", metres(1.24), at_pla);
    }
    agrees("lighter", yields::lighter(1.0, 1.24), "19.3548");
    agrees("more parts", yields::more_parts(1.0, 1.24), "24.0000");
    for (metres, diameter, density, mass) in [
        (10.0, 1.75, 1.24, "29.8255"),
        (10.0, 1.75, 1.0, "24.0528"),
        (3.5, 2.85, 1.14, "25.4538"),
        (123.456, 1.75, 1.05, "311.794"),
    ] {
        let volume = metres * 1000.0 * bead::filament_area(diameter);
        agrees("mass", bead::mass(volume, density), mass);
    }
}

/// Rule of mixtures with carbon fibre of 1.78 g/cm³ (computed): void-free densities, and the voids that a
/// stated 1.00 g/cm³ means.
#[test]
fn fibre_makes_it_denser() {
    for (matrix, share, free, voids) in [
        (1.02, 0.10, "1.06549", "6.14673"),
        (1.02, 0.15, "1.08980", "8.23970"),
        (1.02, 0.20, "1.11523", "10.3327"),
        (1.02, 0.30, "1.16985", "14.5186"),
        (1.14, 0.10, "1.18252", "15.4347"),
        (1.14, 0.15, "1.20499", "17.0116"),
        (1.14, 0.20, "1.22833", "18.5886"),
        (1.14, 0.30, "1.27783", "21.7426"),
    ] {
        let density = yields::void_free(matrix, 1.78, share);
        agrees("density", density, free);
        agrees("voids", 100.0 * (1.0 - 1.0 / density), voids);
    }
}
