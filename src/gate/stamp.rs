//! The stamp beside a job: what the gate said of these very bytes, so that an unchanged job need not be
//! inspected again. Its first line is JSON; a second one may hold a signature over the first.
//!
//! A stamp that does not fit in any respect counts as none. One without a signature is as good as the
//! rights in the job's folder: whoever may write there may write a stamp.

use super::key::{Private, Public};
use super::{Asked, Gate};
use crate::job::deliver::{Delivery, Real, Target};
use crate::job::digest;
use crate::report::gated::{Answer, Gated};
use crate::text::Name;
use serde::{Deserialize, Serialize};
use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};

/// The schema's name.
const NAME: &str = "meltgauge-stamp";

/// The schema's version.
const VERSION: u32 = 1;

/// The longest file that may be a stamp, bytes (chosen).
const LONGEST: u64 = 64 << 10;

/// The ending of a stamp's name after the job's.
pub const ENDING: &str = ".stamp";

/// What stands before a signature.
const SIGNED: &str = "ed25519 ";

/// What stamps are trusted and made.
pub struct Stamping {
    /// The key that signs them; only what it has signed is trusted then.
    pub key: Option<Private>,
}

/// What a stamp says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Stamp {
    schema: String,
    version: u32,
    /// The program's version.
    tool: String,
    /// BLAKE3 of the job's stored bytes, in hexadecimal.
    digest: String,
    bytes: u64,
    /// BLAKE3 of all that the answer rests on but the job: configuration, sheets, wishes.
    basis: String,
    answer: Answer,
    reason: String,
    rule: Option<usize>,
    material: Vec<String>,
    machine: Option<String>,
}

/// Where a job's stamp lies.
pub fn place(job: &Path) -> PathBuf {
    let mut name = job.file_name().unwrap_or_default().to_owned();
    name.push(ENDING);
    job.with_file_name(name)
}

impl Stamping {
    /// What a stamp beside the job says, where it fits in every respect.
    pub fn ask(&self, gate: &Gate, asked: &Asked<'_>) -> Option<Gated> {
        let job = asked.source.path()?;
        let public = self.key.as_ref().map(Private::public);
        let stamp = read(&place(job), public.as_ref()).ok()?;
        let fits = stamp.tool == env!("CARGO_PKG_VERSION")
            && stamp.basis == gate.basis(asked.place)
            && stamp.answer != Answer::NotInspected
            && is_of(&stamp, job).ok()?;
        fits.then(|| stamp.into_gated(asked.name))
    }

    /// Stamps a job with its answer.
    ///
    /// # Errors
    ///
    /// What the system says, or what lies in the stamp's place.
    pub fn put(&self, gate: &Gate, asked: &Asked<'_>, gated: &Gated) -> Result<(), String> {
        let Some(job) = asked.source.path() else {
            return Ok(());
        };
        // What the answer was given on is stamped, wherever the name leads meanwhile.
        let Some(text) = self.text(gate, asked.place, gated, job)? else {
            return Ok(());
        };
        let target = Target::file(&place(job), None, true).map_err(|(message, _)| message)?;
        let put = || {
            let mut delivery = Delivery::begin(Real, &target, false)?;
            delivery.write_all(text.as_bytes())?;
            delivery
                .commit(&target, None, || Ok(()))
                .map_err(|undelivered| undelivered.fault)
        };
        put().map_err(|fault: std::io::Error| fault.to_string())
    }

    /// The stamp of a job that lay in `place` and got this answer; `file` holds what was answered. None
    /// where nothing was inspected.
    ///
    /// # Errors
    ///
    /// What the system says.
    pub fn text(
        &self,
        gate: &Gate,
        place: Option<&Path>,
        gated: &Gated,
        file: &Path,
    ) -> Result<Option<String>, String> {
        let Some(digest) = &gated.digest else {
            return Ok(None);
        };
        let bytes = std::fs::metadata(file)
            .map_err(|fault| fault.to_string())?
            .len();
        let stamp = Stamp {
            schema: NAME.to_owned(),
            version: VERSION,
            tool: env!("CARGO_PKG_VERSION").to_owned(),
            digest: digest.clone(),
            bytes,
            basis: gate.basis(place),
            answer: gated.answer,
            reason: gated.reason.clone(),
            rule: gated.rule,
            material: gated.materials.clone(),
            machine: gated.machine.clone(),
        };
        let mut text = serde_json::to_string(&stamp).map_err(|fault| fault.to_string())?;
        if let Some(key) = &self.key {
            let signature = key.sign(text.as_bytes());
            text.push_str(&format!("\n{SIGNED}{signature}"));
        }
        text.push('\n');
        Ok(Some(text))
    }
}

impl Stamp {
    fn into_gated(self, name: &Name) -> Gated {
        Gated {
            rule: self.rule,
            materials: self.material,
            machine: self.machine,
            digest: Some(self.digest),
            by_stamp: true,
            ..Gated::refused(name.clone(), self.answer, self.reason)
        }
    }
}

/// Whether the stamp is for the bytes in the file.
fn is_of(stamp: &Stamp, job: &Path) -> std::io::Result<bool> {
    let file = File::open(job)?;
    let metadata = file.metadata()?;
    if !metadata.is_file() || metadata.len() != stamp.bytes {
        return Ok(false);
    }
    let (digest, bytes) = digest(file)?;
    Ok((digest, bytes) == (stamp.digest.clone(), stamp.bytes))
}

/// Reads a stamp; where a key is given, only one that it has signed.
fn read(path: &Path, key: Option<&Public>) -> Result<Stamp, String> {
    let metadata = std::fs::symlink_metadata(path).map_err(|fault| match fault.kind() {
        std::io::ErrorKind::NotFound => "it has no stamp".to_owned(),
        _ => format!("its stamp cannot be read: {fault}"),
    })?;
    if !metadata.is_file() || metadata.len() > LONGEST {
        return Err("what lies beside it is no stamp".to_owned());
    }
    let text = std::fs::read_to_string(path)
        .map_err(|fault| format!("its stamp cannot be read: {fault}"))?;
    let mut lines = text.lines();
    let first = lines.next().unwrap_or_default();
    if let Some(key) = key {
        let signature = lines.next().and_then(|line| line.strip_prefix(SIGNED));
        match signature {
            None => return Err("its stamp is not signed".to_owned()),
            Some(signature) if !key.has_signed(first.as_bytes(), signature.trim()) => {
                return Err("its stamp is not signed by this key, or was changed".to_owned());
            }
            Some(_) => {}
        }
    }
    let stamp: Stamp =
        serde_json::from_str(first).map_err(|_| "what lies beside it is no stamp".to_owned())?;
    if (stamp.schema.as_str(), stamp.version) != (NAME, VERSION) {
        return Err("its stamp is of another kind".to_owned());
    }
    Ok(stamp)
}

/// On the machine's side: whether a gate whose public key this is let these very bytes through.
pub fn verify(job: &Path, key: &Public) -> Gated {
    let name = Name::Path(job.as_os_str().to_owned());
    let held = |reason: &str| Gated::refused(name.clone(), Answer::Hold, reason.to_owned());
    if let Err(fault) = File::open(job) {
        let reason = format!("{name} cannot be read: {fault}");
        return Gated::refused(name, Answer::NotInspected, reason);
    }
    let stamp = match read(&place(job), Some(key)) {
        Ok(stamp) => stamp,
        Err(reason) => return held(&reason),
    };
    match is_of(&stamp, job) {
        Ok(true) => stamp.into_gated(&name),
        Ok(false) => held("its stamp is for other bytes"),
        Err(fault) => Gated::refused(
            name.clone(),
            Answer::NotInspected,
            format!("{name} cannot be read: {fault}"),
        ),
    }
}

impl Gate {
    /// BLAKE3 of all that an answer rests on but the job's bytes and this program: the configuration,
    /// the sheets, what is wanted, and which rules the job's place leaves open. Concessions end on a day
    /// and may hold for some names only, so with any the day and the place belong to it.
    fn basis(&self, place: Option<&Path>) -> String {
        let mut digest = blake3::Hasher::new();
        let mut add = |bytes: &[u8]| {
            digest.update(&(bytes.len() as u64).to_le_bytes());
            digest.update(bytes);
        };
        add(self.rules.written.as_bytes());
        add(&[u8::from(self.unattended)]);
        add(format!("{:?}", self.rework).as_bytes());
        add(format!("{:?}", self.rules.open_for(place)).as_bytes());
        for rule in &self.rules.list {
            let settings = &rule.settings;
            add(settings.hold_from.word().as_bytes());
            let materials = settings.materials.iter().flatten();
            for material in materials {
                add(material
                    .as_ref()
                    .and_then(|sheet| sheet.digest.as_deref())
                    .unwrap_or_default()
                    .as_bytes());
            }
            add(settings
                .machine
                .as_ref()
                .and_then(|sheet| sheet.digest.as_deref())
                .unwrap_or_default()
                .as_bytes());
            add(&[u8::from(settings.materials.is_some())]);
            if !settings.concessions.is_empty() {
                add(settings.today.to_string().as_bytes());
                add(place
                    .unwrap_or(Path::new(""))
                    .as_os_str()
                    .as_encoded_bytes());
            }
        }
        digest.finalize().to_hex().to_string()
    }
}
