//! One job: a round that plans, a round past the result while it is written, the proof, the place.

use super::deliver::{Delivery, How, Real, Target, Undelivered, heed};
use super::inspect::{asked, checked, failed, glance, no_job};
use super::pack::{Sink, Sunk};
use super::{Settings, Source, ahead, guarded};
use crate::inspection::{Held, Round, Tap};
use crate::report::reworked::{Changed, Output, Reworked};
use crate::report::{Checked, Failed};
use crate::rework::{Done, First, Mending, Wanted};
use crate::text::{Name, Opened, PIECE, Packing, Stored, Threads, clean};
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// Where the result is wanted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum To {
    /// Nowhere: only the changes are to be shown.
    Nowhere,
    /// The standard output.
    StandardOutput,
    /// This file, in place of what lies there where that is said.
    File { path: PathBuf, overwrite: bool },
    /// A file beside the job, under its name with a word in it.
    Beside { overwrite: bool },
    /// The job's own place.
    InPlace { drop_original: bool },
}

/// What is wanted of a rework.
pub struct Wish<'a> {
    /// Where the result goes.
    pub to: To,
    /// Which reworks and repairs are done.
    pub wanted: &'a Wanted,
    /// Whether a proven result, inspected anew, is to go there.
    pub accept: &'a dyn Fn(&Checked) -> bool,
    /// Whether of a result that is only shown no more is asked than its findings.
    pub brief: bool,
    /// What is done with the job as it was, once that is known: on a thread of its own while the result
    /// is proven.
    pub meanwhile: Option<&'a (dyn Fn(&Checked) + Sync)>,
}

/// Where the result is to go.
enum Place {
    /// Nowhere.
    Shown,
    /// To the standard output, once it is proven.
    StandardOutput,
    /// Into its place, once it is proven.
    File(Target),
}

/// Where the result goes until it is proven.
enum Way {
    Nowhere,
    Spool(File),
    Beside(Delivery<Real>),
}

impl Write for Way {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self {
            Self::Nowhere => Ok(bytes.len()),
            Self::Spool(file) => file.write(bytes),
            Self::Beside(delivery) => delivery.write(bytes),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match self {
            Self::Nowhere => Ok(()),
            Self::Spool(file) => file.flush(),
            Self::Beside(delivery) => delivery.flush(),
        }
    }
}

fn place(source: &Source, name: &Name, to: &To) -> Result<Place, Failed> {
    let refused = |(message, help): (String, &str)| Failed {
        name: name.clone(),
        message,
        help: help.to_owned(),
    };
    let target = match (to, source.path()) {
        (To::Nowhere, _) => return Ok(Place::Shown),
        (To::StandardOutput, _) => return Ok(Place::StandardOutput),
        (To::File { path, overwrite }, job) => Target::file(path, job, *overwrite),
        (To::InPlace { drop_original }, Some(job)) => Target::in_place(job, *drop_original),
        (To::Beside { overwrite }, Some(job)) => Target::beside(job, *overwrite),
        (To::InPlace { .. } | To::Beside { .. }, None) => Err((
            "standard input has no file to write beside".to_owned(),
            "name the output: -o FILE, or -o - for the standard output",
        )),
    };
    Ok(Place::File(target.map_err(refused)?))
}

/// Reworks the job that a source holds.
pub fn rework(
    source: &Source,
    name: &Name,
    wish: &Wish<'_>,
    settings: &Settings,
) -> Result<Reworked, Failed> {
    rework_watched(source, name, wish, settings, || ()).map(|(reworked, ())| reworked)
}

/// As [`rework`]; somebody goes along with the round that plans, and comes back with what was seen.
pub fn rework_watched<T: Tap>(
    source: &Source,
    name: &Name,
    wish: &Wish<'_>,
    settings: &Settings,
    watch: impl Fn() -> T,
) -> Result<(Reworked, T), Failed> {
    guarded(|| rework_between(source, name, wish, settings, watch, || {})).unwrap_or_else(|panic| {
        Err(Failed {
            name: name.clone(),
            message: format!("{name} could not be reworked: a fault in this program at {panic}"),
            help: "nothing was written; report the fault with the job, if you may share it"
                .to_owned(),
        })
    })
}

/// As [`rework_watched`]; `between` is called between the rounds, where a test changes the job.
pub fn rework_between<T: Tap>(
    source: &Source,
    name: &Name,
    wish: &Wish<'_>,
    settings: &Settings,
    watch: impl Fn() -> T,
    between: impl FnOnce(),
) -> Result<(Reworked, T), Failed> {
    let Wish {
        to, wanted, accept, ..
    } = wish;
    let place = place(source, name, to)?;
    let mut held = Held {
        materials: settings.materials.clone().unwrap_or_default(),
        machine: settings.machine.clone(),
        walls: settings.walls,
        sections: settings.sections,
    };
    let mut material_by = settings.material_by.clone();
    let plan = |held: &Held| {
        plan(
            source.open(name, Threads::Two)?,
            name,
            held,
            wanted,
            watch(),
        )
    };
    if settings.materials.is_none() {
        held.materials = asked(&glance(source, name)?, settings).0;
    }
    let ((mut first, mut seen), stored) = plan(&held)?;
    if settings.materials.is_none() {
        let (materials, by) = asked(&first.inspected.declared, settings);
        material_by = by;
        // What stands behind the end of a program is seen at a glance, and is not the job's word.
        if materials != held.materials {
            held.materials = materials;
            let (again, now) = plan(&held)?;
            is_same(name, &stored, &now)?;
            (first, seen) = again;
        }
    }
    let edits = first
        .plan
        .edits()
        .iter()
        .map(|edit| (edit.group, edit.change.speeds))
        .collect();
    let mut reworked = Reworked {
        before: Box::new(checked(
            name,
            stored,
            held.clone(),
            material_by.clone(),
            settings,
            first.inspected.clone(),
        )),
        proposals: first.mended.proposals.clone(),
        edits,
        is_numbered: first.mended.is_numbered,
        change: None,
        output: Output::Nothing,
    };
    between();
    if first.is_done() {
        if let Some(meanwhile) = wish.meanwhile {
            meanwhile(&reworked.before);
        }
        if matches!(to, To::File { .. } | To::StandardOutput)
            && reworked.is_released()
            && accept(reworked.result())
        {
            reworked.output = pass_on(source, name, &reworked.before.stored, &place)?;
        }
        return Ok((reworked, seen));
    }
    let way = begin(&place, source)?;
    held = first.held_again(&held);
    let packing = match way {
        Way::Nowhere => Packing::Plain,
        _ => reworked.before.stored.packing,
    };
    let stored = &reworked.before.stored;
    let (done, sunk) = beside(wish.meanwhile, &reworked.before, || {
        let carry_out = |way, brief| {
            carry_out(
                source, name, stored, &first, &held, wanted, brief, way, packing, &place,
            )
        };
        let brief = wish.brief && matches!(way, Way::Nowhere);
        let (done, sunk) = carry_out(way, brief)?;
        match brief && !done.is_as_long(&first) {
            true => carry_out(Way::Nowhere, false),
            false => Ok((done, sunk)),
        }
    })?;
    let proof = done.prove(&first, settings.hold_from);
    let stored = Stored {
        bytes_stored: sunk.bytes_stored,
        bytes_unpacked: sunk.bytes_unpacked,
        digest_hex: sunk.digest_hex,
        packing,
    };
    let after = checked(name, stored, held, material_by, settings, done.inspected);
    if proof.is_ok() && accept(&after) {
        reworked.output = put(sunk.inner, &place, source)?;
    }
    reworked.change = Some(Changed {
        after: Box::new(after),
        hunks: done.spliced.hunks,
        beyond: done.spliced.beyond,
        proof,
    });
    Ok((reworked, seen))
}

/// Does `work`, and `meanwhile` on another thread; one after the other where the system has no thread left.
fn beside<W>(
    meanwhile: Option<&(dyn Fn(&Checked) + Sync)>,
    before: &Checked,
    work: impl FnOnce() -> W,
) -> W {
    let Some(meanwhile) = meanwhile else {
        return work();
    };
    std::thread::scope(|scope| {
        let builder = std::thread::Builder::new().name("beside".to_owned());
        if builder.spawn_scoped(scope, || meanwhile(before)).is_err() {
            meanwhile(before);
        }
        work()
    })
}

/// The first round.
fn plan<T: Tap>(
    mut opened: Opened,
    name: &Name,
    held: &Held,
    wanted: &Wanted,
    watch: T,
) -> Result<((First, T), Stored), Failed> {
    let mut round = Round::tapped(held.clone(), (Mending::new(held, wanted), watch));
    let packing = opened.packing();
    ahead::carry_out(&mut opened, packing, &mut round, Threads::Two)
        .map_err(|fault| failed(name, &fault))?;
    let (inspected, (mending, seen)) = round.finish_tapped();
    let first = First::of(inspected, mending);
    if let Some(reason) = first.inspected.no_job {
        return Err(no_job(name, reason));
    }
    let stored = opened.finish().ok_or_else(|| changed(name))?;
    Ok(((first, seen), stored))
}

/// The second round: what comes out goes its way, and is inspected.
#[allow(
    clippy::too_many_arguments,
    reason = "called once; a struct for it would only repeat the names"
)]
fn carry_out(
    source: &Source,
    name: &Name,
    before: &Stored,
    first: &First,
    held: &Held,
    wanted: &Wanted,
    brief: bool,
    way: Way,
    packing: Packing,
    place: &Place,
) -> Result<(Done, Sunk<Way>), Failed> {
    let unwritten = |fault: io::Error| unwritten(place, &fault);
    let mut sink = match way {
        Way::Nowhere => Sink::nowhere(way),
        _ => Sink::new(way, packing).map_err(unwritten)?,
    };
    let mut second = first.second(held, wanted, brief);
    // What is written is the job whose digest was planned for; for what is only shown, a look at the file
    // is enough.
    let seen = source.seen().filter(|_| matches!(place, Place::Shown));
    let mut opened = match seen {
        Some(_) => source.open_again(name)?,
        None => source.open(name, Threads::Two)?,
    };
    let unpacks = opened.packing();
    let mut becomes = first.spliced(&mut opened, |bytes| {
        sink.take(bytes);
        !sink.has_failed()
    });
    ahead::carry_out(&mut becomes, unpacks, &mut second, Threads::Two)
        .map_err(|fault| failed(name, &fault))?;
    let spliced = becomes.finish();
    if sink.has_failed() {
        sink.finish().map_err(unwritten)?;
        return Err(changed(name));
    }
    let now = opened.finish().ok_or_else(|| changed(name))?;
    match seen {
        Some((path, seen)) => seen.is_still(path).map_err(|_| changed(name))?,
        None => is_same(name, before, &now)?,
    }
    let done = Done::new(spliced, second);
    Ok((done, sink.finish().map_err(unwritten)?))
}

/// A job that needs nothing goes where it was asked to, byte for byte as it is stored: whoever takes
/// what lies there after a good end must not find an older job, or none.
fn pass_on(source: &Source, name: &Name, stored: &Stored, place: &Place) -> Result<Output, Failed> {
    if matches!(place, Place::Shown) {
        return Ok(Output::Shown);
    }
    let unread = |fault: io::Error| Failed {
        name: name.clone(),
        message: format!("{name} cannot be read again: {fault}"),
        help: "check the file and the disk it lies on, then try again".to_owned(),
    };
    let mut job = source.stored().map_err(unread)?;
    let mut sink = Sink::new(begin(place, source)?, Packing::Plain)
        .map_err(|fault| unwritten(place, &fault))?;
    let mut piece = vec![0; PIECE];
    while !sink.has_failed() {
        let count = job.read(&mut piece).map_err(unread)?;
        if count == 0 {
            break;
        }
        sink.take(piece.get(..count).unwrap_or_default());
    }
    let sunk = sink.finish().map_err(|fault| unwritten(place, &fault))?;
    if stored.digest_hex != sunk.digest_hex {
        return Err(changed(name));
    }
    put(sunk.inner, place, source)
}

fn begin(place: &Place, source: &Source) -> Result<Way, Failed> {
    let begun = match place {
        Place::Shown => Ok(Way::Nowhere),
        Place::StandardOutput => tempfile::tempfile().map(Way::Spool),
        Place::File(target) => {
            let private = source.metadata().is_some();
            heed();
            Delivery::begin(Real, target, private).map(Way::Beside)
        }
    };
    begun.map_err(|fault| unwritten(place, &fault))
}

/// Puts a proven result where it belongs.
fn put(way: Way, place: &Place, source: &Source) -> Result<Output, Failed> {
    let put = match (way, place) {
        (Way::Spool(mut file), _) => {
            let mut copy = || {
                file.seek(SeekFrom::Start(0))?;
                let mut out = io::stdout().lock();
                io::copy(&mut file, &mut out)?;
                out.flush()
            };
            copy()
                .map(|()| Output::StandardOutput)
                .map_err(Undelivered::from)
        }
        (Way::Beside(delivery), Place::File(target)) => {
            let kept = match target.how() {
                How::InPlace { kept } => kept.clone(),
                How::New | How::Over => None,
            };
            let is_in_place = matches!(target.how(), How::InPlace { .. });
            let is_same = || match source.seen().filter(|_| is_in_place) {
                Some((path, seen)) => seen.is_still(path),
                None => Ok(()),
            };
            let name = |path: &Path| Name::Path(path.as_os_str().to_owned());
            delivery
                .commit(target, source.metadata(), is_same)
                .map(|()| Output::File {
                    name: name(target.path()),
                    kept: kept.as_deref().map(name),
                    in_place: is_in_place,
                })
        }
        _ => Ok(Output::Shown),
    };
    put.map_err(|Undelivered { fault, in_place }| {
        if in_place {
            unsafe_yet(place, &fault)
        } else {
            unwritten(place, &fault)
        }
    })
}

/// Whether the job is the one that was planned for.
fn is_same(name: &Name, before: &Stored, now: &Stored) -> Result<(), Failed> {
    if before.digest_hex == now.digest_hex {
        Ok(())
    } else {
        Err(changed(name))
    }
}

fn changed(name: &Name) -> Failed {
    Failed {
        name: name.clone(),
        message: format!("{name} changed while it was reworked, and nothing was written"),
        help: "wait until it is written in full, then rework it again".to_owned(),
    }
}

fn name_of(place: &Place) -> Name {
    match place {
        Place::File(target) => Name::Path(target.path().as_os_str().to_owned()),
        Place::Shown | Place::StandardOutput => Name::Given("standard output".to_owned()),
    }
}

/// The result is in place, but whether the disk has its name the system cannot say.
fn unsafe_yet(place: &Place, fault: &io::Error) -> Failed {
    let name = name_of(place);
    let cause = clean(fault.to_string().as_bytes()).into_owned();
    Failed {
        message: format!("{name} is written, but may be lost should the power go now: {cause}"),
        help: "check the disk, then look whether the file is there".to_owned(),
        name,
    }
}

fn unwritten(place: &Place, fault: &io::Error) -> Failed {
    let name = name_of(place);
    let cause = clean(fault.to_string().as_bytes()).into_owned();
    Failed {
        message: format!("{name} could not be written: {cause}"),
        help: "check room and rights in its folder, then rework again; the job is as it was"
            .to_owned(),
        name,
    }
}
