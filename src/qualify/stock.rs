//! Spools: what one gives, how many a batch takes, and whether it goes onto the holder.

use super::figures::{plain, round, tenth};
use super::{Point, Question, Side, Standing};
use crate::physics::yields;
use crate::quantity::{Grams, Millimetres};
use crate::sheet::Cited;

/// The filament on one spool, as asked or as the sheet says.
fn spool<'a>(q: &Question<'a>) -> Option<(&'a Cited<Grams>, Side)> {
    if let Some(spool) = &q.application.batch.spool {
        return Some((
            spool,
            Side::asked(q.application, "batch.spool", spool, plain(spool.value)),
        ));
    }
    let spool = q.material.spool.mass.as_ref()?;
    Some((
        spool,
        Side::material(q.material, "spool.mass", spool, plain(spool.value)),
    ))
}

/// The diameter of the filament: the spool's, or the drive's.
fn diameter(q: &Question<'_>) -> Option<Millimetres> {
    q.material
        .filament_diameter
        .as_ref()
        .or_else(|| q.tool()?.filament_diameter.as_ref())
        .map(|diameter| diameter.value)
}

/// Length, volume and cost of a spool.
pub(super) fn one_spool(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "spool";
    let (mass, side) = spool(q)?;
    let Some(density) = &q.material.density else {
        return Some(Point::unsaid(ID, "material sheet", "density").needs(side));
    };
    let volume = mass.value.get() / density.value.get();
    let mut says = format!("{} are {} cm³", plain(mass.value), tenth(volume));
    if let Some(diameter) = diameter(q)
        && let Some(length) = yields::length(mass.value.get(), density.value.get(), diameter.get())
    {
        says.push_str(&format!(
            ", {} m of {}",
            tenth(length / 1000.0),
            plain(diameter)
        ));
    }
    match &q.material.price {
        Some(price) => says.push_str(&format!(
            "; they cost {} {}",
            round(price.value.of(mass.value), 2),
            price.value.currency()
        )),
        None => says.push_str("; the sheet does not say what they cost"),
    }
    let text = plain(density.value);
    Some(
        Point::new(ID, Standing::Told, says)
            .needs(side)
            .has(Side::material(q.material, "density", density, text)),
    )
}

/// Parts a spool, and spools for a batch with its scrap.
pub(super) fn batch(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "batch";
    let of = &q.application;
    let part = of.part.mass.as_ref();
    if of.batch.parts.is_none() && part.is_none() {
        return None;
    }
    let Some(part) = part else {
        let says = "what one part weighs is not asked: how many a spool gives cannot be told";
        return Some(
            Point::new(ID, Standing::Told, says).action("give --part-mass, or the job with --job"),
        );
    };
    let needs = Side::asked(
        of,
        "part.mass",
        part,
        format!("{} a part", plain(part.value)),
    );
    let Some((spool, side)) = spool(q) else {
        let says = "how much is on a spool is not said: how many parts one gives cannot be told";
        return Some(
            Point::new(ID, Standing::Told, says)
                .needs(needs)
                .action("give --spool"),
        );
    };
    let a_spool = yields::parts(spool.value.get(), part.value.get())?;
    if a_spool == 0 {
        let says = format!("one part takes more than a spool of {}", plain(spool.value));
        return Some(
            Point::new(ID, Standing::Change, says)
                .needs(needs)
                .has(side)
                .by(spool.value.get() - part.value.get(), "g")
                .action("take a larger spool, or split the part; a change of spool in the middle leaves a seam"),
        );
    }
    let mut says = format!(
        "a spool gives {a_spool} part{}",
        if a_spool == 1 { "" } else { "s" }
    );
    if let Some(parts) = &of.batch.parts {
        let scrap = of
            .batch
            .scrap
            .as_ref()
            .map_or(0.0, |scrap| scrap.value.get());
        let starts = yields::starts(parts.value, scrap)?;
        let spools = yields::spools(starts, a_spool)?;
        let mass = f64::from(starts) * part.value.get();
        let with = if scrap > 0.0 {
            format!(" with {} % scrap, {starts} prints,", tenth(scrap))
        } else {
            String::new()
        };
        says.push_str(&format!(
            "; {} good parts{with} take {} kg, {spools} spool{}",
            parts.value,
            round(mass / 1000.0, 3),
            if spools == 1 { "" } else { "s" }
        ));
        if let Some(price) = &q.material.price {
            says.push_str(&format!(
                ", {} {} for what is printed, {} a part",
                round(price.value.of(Grams::new(mass)), 2),
                price.value.currency(),
                round(price.value.of(Grams::new(mass / f64::from(parts.value))), 2)
            ));
        }
    }
    Some(
        Point::new(ID, Standing::Told, says)
            .needs(needs)
            .has(side)
            .action("count 5 to 10 % more for purge and what stays on the spool (common practice)"),
    )
}

/// Whether the spool goes onto the holder and into the dryer.
pub(super) fn spool_size(q: &Question<'_>) -> Option<Point> {
    const ID: &str = "spool-size";
    let machine = q.machine?;
    let spool = q.material.spool.diameter.as_ref()?;
    let needs = Side::material(
        q.material,
        "spool.diameter",
        spool,
        format!("{} across", plain(spool.value)),
    );
    let holder = machine
        .holder
        .diameter_most
        .as_ref()
        .map(|most| ("holder.diameter_most", most));
    let dry_box = machine
        .dry_box
        .diameter_most
        .as_ref()
        .map(|most| ("dry_box.diameter_most", most));
    let Some((key, most)) = [holder, dry_box]
        .into_iter()
        .flatten()
        .min_by(|one, other| one.1.value.get().total_cmp(&other.1.value.get()))
    else {
        return Some(Point::unsaid(ID, "machine sheet", "holder.diameter_most").needs(needs));
    };
    let room = (most.value - spool.value).get();
    let point = if room < 0.0 {
        Point::new(ID, Standing::Change, "the spool is too large for it").action(
            "hang it beside the machine so that it turns freely, or wind it onto a smaller spool",
        )
    } else {
        Point::new(ID, Standing::Fits, "the spool goes in")
    };
    Some(
        point
            .needs(needs)
            .has(Side::machine(machine, key, most, plain(most.value)))
            .by(room, "mm"),
    )
}
