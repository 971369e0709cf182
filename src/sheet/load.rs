//! Sheets named on a command line: a word of the library, or a file.

use super::fault::{Error, LARGEST, printable};
use super::{Application, Machine, Material, Origin, library, read};
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
        let (path, bytes) = stored(named).map_err(|fault| vec![fault])?;
        read::all_of_bytes(&path, &bytes, Origin::File(path.clone()))
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
        let (path, bytes) = stored(named).map_err(|fault| vec![fault])?;
        read::all_of_bytes(&path, &bytes, Origin::File(path.clone()))
    } else {
        load_machine(named).map_err(|fault| vec![fault])
    }
}

/// The application, as [`check_material`].
///
/// # Errors
/// As [`load_application`], but every fault of the sheet, in its own order.
pub fn check_application(named: impl AsRef<OsStr>) -> Result<Application, Vec<Error>> {
    let (path, bytes) = stored(named.as_ref()).map_err(|fault| vec![fault])?;
    read::all_of_bytes(&path, &bytes, Origin::File(path.clone()))
}

fn from_file<S: read::Sheet>(named: &OsStr) -> Result<S, Error> {
    let (path, bytes) = stored(named)?;
    read::bytes(&path, &bytes, Origin::File(path.clone()))
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
