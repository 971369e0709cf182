//! Notes on a sheet that can be used: values that do not fit together or are physically odd. A note is no
//! fault, and the sheet's author may know better.

use super::{Machine, Material, library};
use crate::physics::{moisture, yields};

/// Density of carbon and of glass fibre, g/cm³ (carbon 1.75 to 1.80, glass 2.5 to 2.6; memory).
const CARBON: f64 = 1.78;
const GLASS: f64 = 2.55;

/// The share of fibre where a name does not say, in per cent (chosen; usual for filament).
const USUAL_FIBRE: f64 = 15.0;

/// From this share of voids on a density is odd, in per cent: below, grades differ (chosen).
const ODD_VOIDS: f64 = 3.0;

/// Polymers that filament is made of weigh between these, g/cm³ (light ones float, mineral-filled ones are
/// heavy; chosen).
const DENSITIES: (f64, f64) = (0.85, 2.5);

/// A fibre-filled name in parts: the matrix, the fibre's density, its share in per cent.
fn filled(name: &str) -> Option<(&str, f64, f64)> {
    [("-CF", CARBON), ("-GF", GLASS)]
        .into_iter()
        .find_map(|(mark, fibre)| {
            let (matrix, rest) = name.split_once(mark)?;
            let digits: String = rest.chars().take_while(char::is_ascii_digit).collect();
            Some((matrix, fibre, digits.parse().unwrap_or(USUAL_FIBRE)))
        })
}

impl Material {
    /// What is odd about it, each a clause without a final stop.
    #[must_use]
    pub fn notes(&self) -> Vec<String> {
        let mut notes = Vec::new();
        if let Some(density) = &self.density {
            let value = density.value.get();
            if value < DENSITIES.0 || value > DENSITIES.1 {
                notes.push(format!("density: {} is no usual filament's", density.value));
            }
            notes.extend(self.voids(value));
        }
        let softening = self.chamber.softening.as_ref();
        if let (Some(dry), Some(soft)) = (&self.drying.temperature, softening)
            && dry.value > soft.value
        {
            notes.push(format!(
                "drying.temperature: at {} the material itself softens ({} at chamber.softening)",
                dry.value, soft.value
            ));
        }
        if let (Some(dry), Some(soft)) = (&self.drying.temperature, &self.spool.softening)
            && dry.value >= soft.value
        {
            notes.push(format!(
                "drying.temperature: at {} the spool softens ({})",
                dry.value, soft.value
            ));
        }
        let hottest = |read: fn(&Machine) -> Option<f64>| {
            library::machines()
                .iter()
                .filter_map(read)
                .fold(0.0, f64::max)
        };
        let of_hotends = |machine: &Machine| {
            machine
                .tools
                .iter()
                .filter_map(|tool| Some(tool.limit.as_ref()?.value.get()))
                .reduce(f64::max)
        };
        for (key, range, reached) in [
            ("hotend.print", &self.hotend.print, hottest(of_hotends)),
            (
                "bed.print",
                &self.bed.print,
                hottest(|machine| Some(machine.bed.limit.as_ref()?.value.get())),
            ),
        ] {
            if let Some(range) = range
                .as_ref()
                .filter(|range| range.value.least.get() > reached)
            {
                notes.push(format!(
                    "{key}: no class of machine of the library reaches {}; {reached} °C is the most",
                    range.value.least
                ));
            }
        }
        let mut water: Vec<_> = self
            .water
            .equilibrium
            .iter()
            .map(|point| (point.humidity.get(), point.content.value.get()))
            .collect();
        water.sort_by(|one, other| one.0.total_cmp(&other.0));
        if water
            .windows(2)
            .any(|pair| matches!(pair, [one, other] if one.1 > other.1))
        {
            notes.push("water.equilibrium: moister air must not hold less water".to_owned());
        }
        if let (Some(most), Some(at_rest)) = (
            &self.drying.highest_moisture,
            moisture::equilibrium(&water, 50.0),
        ) && self
            .drying
            .required
            .as_ref()
            .is_some_and(|required| required.value)
            && most.value.get() >= at_rest
        {
            notes.push(format!(
                "drying.highest_moisture: it holds no more than {at_rest} % in a room of 50 %, and yet drying.required is set"
            ));
        }
        if let (Some(least), Some(soft)) = (&self.service.continuous, &self.service.short_term)
            && least.value == soft.value
        {
            notes.push(
                "service: the same for long and for a short time; one of the two is a guess"
                    .to_owned(),
            );
        }
        notes
    }

    /// What a density below that of a void-free mix comes to.
    fn voids(&self, density: f64) -> Option<String> {
        let names = std::iter::once(&self.name).chain(&self.also);
        let (matrix, fibre, share) = names.into_iter().find_map(|name| filled(name))?;
        let matrix = library::material(matrix).ok()?.density?.value.get();
        let free = yields::void_free(matrix, fibre, share / 100.0);
        let voids = 100.0 * (1.0 - density / free);
        (voids > ODD_VOIDS).then(|| {
            format!(
                "density: with {share} % of fibre by mass it would be {free:.2} g/cm³ without voids; {density} g/cm³ \
                 means {voids:.0} % of voids, foaming or a light matrix"
            )
        })
    }
}

impl Machine {
    /// What is odd about it, each a clause without a final stop.
    #[must_use]
    pub fn notes(&self) -> Vec<String> {
        let mut notes = Vec::new();
        for (index, tool) in self.tools.iter().enumerate() {
            if let (Some(limit), Some(liner)) = (&tool.limit, tool.liner_limit())
                && limit.value.get() > liner.get() + 60.0
            {
                notes.push(format!(
                    "tools[{index}].limit: {} is far above what its liner stands, {liner}: is there a liner?",
                    limit.value
                ));
            }
            if let (Some(limit), Some(rest)) = (&tool.limit, &tool.reachable)
                && rest.value < limit.value
            {
                notes.push(format!(
                    "tools[{index}].limit: at full power it ends at {}, below its limit of {}",
                    rest.value, limit.value
                ));
            }
        }
        if let (Some(limit), Some(rest)) = (&self.bed.limit, &self.bed.reachable)
            && rest.value < limit.value
        {
            notes.push(format!(
                "bed.limit: at full power it ends at {}, below its limit of {}",
                rest.value, limit.value
            ));
        }
        if let (Some(chamber), Some(bed)) = (&self.chamber.limit, &self.bed.limit)
            && self.chamber.power.is_none()
            && chamber.value > bed.value
        {
            notes.push(format!(
                "chamber.limit: {} is above the bed that warms it, {}",
                chamber.value, bed.value
            ));
        }
        notes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn notes(text: &str) -> Vec<String> {
        Material::parse("x.toml", text).unwrap().notes()
    }

    /// The library's own sheets have nothing odd about them.
    #[test]
    fn the_library_is_not_odd() {
        for sheet in library::materials() {
            assert_eq!(sheet.notes(), Vec::<String>::new(), "{}", sheet.name);
        }
        for sheet in library::machines() {
            assert_eq!(sheet.notes(), Vec::<String>::new(), "{}", sheet.name);
        }
    }

    /// By the rule of mixtures the library's PA6 of 1.13 g/cm³ with 15 % of carbon fibre has 1.195 g/cm³
    /// (`outside::moisture` holds the rule); a stated 1.00 means 16.3 % of voids.
    #[test]
    fn a_light_fibre_filled_material_is_odd() {
        let of = |density: &str| {
            notes(&format!(
                "name = \"x\"\nfrom = \"PA6-CF\"\ndensity = \"{density} g/cm³\"\n"
            ))
        };
        assert!(
            of("1.00")
                .iter()
                .any(|note| note.contains("16 % of voids") && note.contains("1.20 g/cm³")),
            "{:?}",
            of("1.00")
        );
        assert_eq!(of("1.19"), Vec::<String>::new());
        assert_eq!(filled("PA12-GF30"), Some(("PA12", GLASS, 30.0)));
    }

    #[test]
    fn odd_values_are_noted() {
        for (text, words) in [
            (
                "name = \"x\"\nfrom = \"PLA\"\n[drying]\ntemperature = \"60 °C\"\n",
                "softens",
            ),
            (
                "name = \"x\"\nfrom = \"PLA\"\n[drying]\ntemperature = \"54 °C\"\n[spool]\nsoftening = \"50 °C\"\n",
                "the spool softens",
            ),
            (
                "name = \"x\"\n[hotend]\nprint = [\"450 °C\", \"480 °C\"]\n",
                "no class of machine",
            ),
            (
                "name = \"x\"\ndensity = \"0.5 g/cm³\"\n",
                "no usual filament",
            ),
        ] {
            let notes = notes(text);
            assert!(
                notes.iter().any(|note| note.contains(words)),
                "{words}: {notes:?}"
            );
        }
        let machine = Machine::parse(
            "m.toml",
            "name = \"m\"\nfrom = \"open-lined\"\n[[tools]]\nlimit = \"310 °C\"\n",
        )
        .unwrap();
        assert!(
            machine
                .notes()
                .iter()
                .any(|note| note.contains("is there a liner")),
            "{:?}",
            machine.notes()
        );
    }
}
