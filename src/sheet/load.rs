//! Sheets named on a command line: a word of the library, or a file.

use super::fault::{Error, LARGEST, printable};
use super::read::Under;
use super::{Application, Machine, Material, Origin, Row, library, read};
use std::ffi::OsStr;
use std::io::Read;
use std::path::Path;

/// The material sheet that a word or a path names. What has a path separator or ends in `.toml` is
/// a file; anything else is a word of the library.
///
/// # Errors
/// No such sheet, no such file, or a file that is no sheet.
pub fn load_material(named: impl AsRef<OsStr>) -> Result<Material, Error> {
    let named = named.as_ref();
    if is_file(named) {
        from_file(named)
    } else {
        library::material(&named.to_string_lossy())
    }
}

/// The machine sheet that a word or a path names, as [`load_material`].
///
/// # Errors
/// No such sheet, no such file, or a file that is no sheet.
pub fn load_machine(named: impl AsRef<OsStr>) -> Result<Machine, Error> {
    let named = named.as_ref();
    if is_file(named) {
        from_file(named)
    } else {
        library::machine(&named.to_string_lossy())
    }
}

/// The application that a path names; the library has none.
///
/// # Errors
/// No such file, or a file that is no application.
pub fn load_application(named: impl AsRef<OsStr>) -> Result<Application, Error> {
    from_file(named.as_ref())
}

fn is_file(named: &OsStr) -> bool {
    let bytes = named.as_encoded_bytes();
    bytes
        .iter()
        .any(|byte| std::path::is_separator(char::from(*byte)))
        || Path::new(named)
            .extension()
            .is_some_and(|end| end.eq_ignore_ascii_case("toml"))
}

/// The same, and everything that is wrong where it is no material sheet.
///
/// # Errors
/// As [`load_material`], but every fault of the sheet, in its own order.
pub fn check_material(named: impl AsRef<OsStr>) -> Result<Material, Vec<Error>> {
    let named = named.as_ref();
    if is_file(named) {
        all_of_file(named)
    } else {
        load_material(named).map_err(|fault| vec![fault])
    }
}

/// The machine sheet, as [`check_material`].
///
/// # Errors
/// As [`load_machine`], but every fault of the sheet, in its own order.
pub fn check_machine(named: impl AsRef<OsStr>) -> Result<Machine, Vec<Error>> {
    let named = named.as_ref();
    if is_file(named) {
        all_of_file(named)
    } else {
        load_machine(named).map_err(|fault| vec![fault])
    }
}

/// The application, as [`check_material`].
///
/// # Errors
/// As [`load_application`], but every fault of the sheet, in its own order.
pub fn check_application(named: impl AsRef<OsStr>) -> Result<Application, Vec<Error>> {
    all_of_file(named.as_ref())
}

fn from_file<S: read::Sheet>(named: &OsStr) -> Result<S, Error> {
    let (path, bytes) = stored(named)?;
    let under = under(named, &bytes)?;
    read::bytes_over(&path, &bytes, Origin::File(path.clone()), &under)
}

fn all_of_file<S: read::Sheet>(named: &OsStr) -> Result<S, Vec<Error>> {
    let one = |fault| vec![fault];
    let (path, bytes) = stored(named).map_err(one)?;
    let under = under(named, &bytes).map_err(one)?;
    read::all_of_bytes(&path, &bytes, Origin::File(path.clone()), &under)
}

/// The most sheets that lie under one (chosen): more are a ring of sheets that name each other.
const DEEPEST: usize = 8;

/// The files that a sheet lies over, the nearest first: a `from` that is a path lies from the folder of
/// the sheet that names it.
fn under(named: &OsStr, bytes: &[u8]) -> Result<Vec<Under>, Error> {
    let mut found: Vec<Under> = Vec::new();
    let mut path = Path::new(named).to_owned();
    let mut text = String::from_utf8_lossy(bytes).into_owned();
    while let Some(word) = text
        .parse::<toml::Table>()
        .ok()
        .and_then(|table| Some(table.get("from")?.as_str()?.to_owned()))
        .filter(|word| is_file(OsStr::new(word)))
    {
        path = path.parent().unwrap_or(Path::new("")).join(&word);
        if found.len() >= DEEPEST {
            return Err(Error::TooDeep {
                path: printable(&path.to_string_lossy()),
            });
        }
        let (name, bytes) = stored(path.as_os_str())?;
        text = String::from_utf8(bytes).map_err(|fault| Error::NotUtf8 {
            name: name.clone(),
            byte: fault.utf8_error().valid_up_to(),
        })?;
        found.push(Under {
            name,
            text: text.clone(),
        });
    }
    Ok(found)
}

/// One layer of a sheet: what it is called, and the rows it says itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Layer {
    /// The file, or the library's sheet.
    pub name: String,
    /// What this layer says.
    pub rows: Vec<Row>,
}

/// The layers of a material sheet, the top one first; the library's own has one.
///
/// # Errors
/// As [`load_material`].
pub fn material_layers(named: impl AsRef<OsStr>) -> Result<Vec<Layer>, Error> {
    layers::<Material>(named.as_ref())
}

/// The layers of a machine sheet, as [`material_layers`].
///
/// # Errors
/// As [`load_machine`].
pub fn machine_layers(named: impl AsRef<OsStr>) -> Result<Vec<Layer>, Error> {
    layers::<Machine>(named.as_ref())
}

fn layers<S: read::Sheet>(named: &OsStr) -> Result<Vec<Layer>, Error> {
    let mut texts: Vec<Under> = Vec::new();
    if is_file(named) {
        let (name, bytes) = stored(named)?;
        let below = under(named, &bytes)?;
        let text = String::from_utf8_lossy(&bytes).into_owned();
        texts.push(Under { name, text });
        texts.extend(below);
    }
    let lowest = texts.last().and_then(|lowest| {
        let table: toml::Table = lowest.text.parse().ok()?;
        Some(table.get("from")?.as_str()?.to_owned())
    });
    let word = lowest.or_else(|| (!is_file(named)).then(|| named.to_string_lossy().into_owned()));
    if let Some((name, text)) = word.as_deref().and_then(S::library) {
        texts.push(Under {
            name: format!("library {name}"),
            text: text.to_owned(),
        });
    }
    texts
        .iter()
        .map(|layer| {
            Ok(Layer {
                name: layer.name.clone(),
                rows: read::alone::<S>(&layer.name, &layer.text)?,
            })
        })
        .collect()
}

/// A file's name as it is shown, and its bytes.
fn stored(named: &OsStr) -> Result<(String, Vec<u8>), Error> {
    let path = printable(&named.to_string_lossy());
    let fault = |cause: std::io::Error| match cause.kind() {
        std::io::ErrorKind::NotFound | std::io::ErrorKind::NotADirectory => {
            Error::Missing { path: path.clone() }
        }
        std::io::ErrorKind::IsADirectory => Error::Directory { path: path.clone() },
        _ => Error::Unreadable {
            path: path.clone(),
            cause,
        },
    };
    if Path::new(named).is_dir() {
        return Err(Error::Directory { path });
    }
    let mut bytes = Vec::new();
    // One byte more than is allowed tells an endless file from a large one.
    let file = std::fs::File::open(named).map_err(&fault)?;
    file.take(LARGEST.saturating_add(1))
        .read_to_end(&mut bytes)
        .map_err(&fault)?;
    Ok((path, bytes))
}
