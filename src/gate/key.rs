//! Keys for stamps that travel: Ed25519 (RFC 8032), each in a file of one line.

use ed25519_dalek::{Signature, Signer, SigningKey, VerifyingKey};
use std::fs::OpenOptions;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// What stands before the secret in its file.
const SECRET: &str = "meltgauge-secret-key";

/// What stands before the public key in its file.
const PUBLIC: &str = "meltgauge-public-key";

/// The longest file that may be a key, bytes (chosen).
const LONGEST: u64 = 4096;

/// The key that signs.
pub struct Private(SigningKey);

/// The key that verifies.
#[derive(Clone, PartialEq, Eq)]
pub struct Public(VerifyingKey);

/// Why a key cannot be used, lower case and without a final stop.
pub type KeyFault = String;

impl Private {
    /// Makes a key: the secret in `path`, for its owner's eyes only, the public key beside it with
    /// `.pub` at the end of its name, which is given back.
    ///
    /// # Errors
    ///
    /// Where the system gives no random numbers, or a file is there already or cannot be written.
    pub fn make(path: &Path) -> Result<PathBuf, KeyFault> {
        let mut secret = [0; 32];
        getrandom::fill(&mut secret).map_err(|fault| fault.to_string())?;
        let key = SigningKey::from_bytes(&secret);
        let mut public_path = path.as_os_str().to_owned();
        public_path.push(".pub");
        let public_path = PathBuf::from(public_path);
        let written = write(path, true, SECRET, &secret)
            .and_then(|()| write(&public_path, false, PUBLIC, key.verifying_key().as_bytes()));
        written.map_err(|fault| match fault.kind() {
            io::ErrorKind::AlreadyExists => {
                "a file is there already, and a key is never written over".to_owned()
            }
            _ => fault.to_string(),
        })?;
        Ok(public_path)
    }

    /// Reads it from its file.
    ///
    /// # Errors
    ///
    /// Where the file cannot be read or is no secret key.
    pub fn read(path: &Path) -> Result<Self, KeyFault> {
        read(path, SECRET).map(|bytes| Self(SigningKey::from_bytes(&bytes)))
    }

    /// The key that verifies what this one signs.
    pub fn public(&self) -> Public {
        Public(self.0.verifying_key())
    }

    /// Signs bytes; in hexadecimal.
    pub fn sign(&self, bytes: &[u8]) -> String {
        hex(&self.0.sign(bytes).to_bytes())
    }
}

impl Public {
    /// Reads it from its file.
    ///
    /// # Errors
    ///
    /// Where the file cannot be read or is no public key.
    pub fn read(path: &Path) -> Result<Self, KeyFault> {
        let bytes = read(path, PUBLIC)?;
        VerifyingKey::from_bytes(&bytes)
            .map(Self)
            .map_err(|_| "it is no point of the curve".to_owned())
    }

    /// Whether the signature, in hexadecimal, is this key's over the bytes.
    pub fn has_signed(&self, bytes: &[u8], signature: &str) -> bool {
        unhex::<64>(signature)
            .map(|signature| Signature::from_bytes(&signature))
            .is_some_and(|signature| self.0.verify_strict(bytes, &signature).is_ok())
    }
}

fn write(path: &Path, is_secret: bool, word: &str, bytes: &[u8]) -> io::Result<()> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(if is_secret { 0o600 } else { 0o644 });
    }
    #[cfg(not(unix))]
    let _ = is_secret;
    let mut file = options.open(path)?;
    file.write_all(format!("{word} {}\n", hex(bytes)).as_bytes())?;
    file.sync_all()
}

fn read(path: &Path, word: &str) -> Result<[u8; 32], KeyFault> {
    let metadata = std::fs::metadata(path).map_err(|fault| fault.to_string())?;
    if !metadata.is_file() || metadata.len() > LONGEST {
        return Err("it is no key file".to_owned());
    }
    let text = std::fs::read_to_string(path).map_err(|fault| fault.to_string())?;
    match text.trim().split_once(' ') {
        Some((found, bytes)) if found == word => {
            unhex(bytes).ok_or_else(|| "it does not hold 64 hexadecimal digits".to_owned())
        }
        _ => Err(format!("it does not begin with `{word}`")),
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn unhex<const N: usize>(text: &str) -> Option<[u8; N]> {
    let mut bytes = [0; N];
    if text.len() != 2 * N || !text.bytes().all(|digit| digit.is_ascii_hexdigit()) {
        return None;
    }
    for (byte, digits) in bytes.iter_mut().zip(text.as_bytes().chunks(2)) {
        *byte = u8::from_str_radix(std::str::from_utf8(digits).ok()?, 16).ok()?;
    }
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 8032, section 7.1, tests 1 and 2: key, message, signature.
    #[test]
    fn keys_sign_as_the_standard_says() {
        for (secret, public, message, signature) in [
            (
                "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
                "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
                &b""[..],
                "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
            ),
            (
                "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
                "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
                &b"\x72"[..],
                "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
            ),
        ] {
            let key = Private(SigningKey::from_bytes(&unhex(secret).unwrap()));
            assert_eq!(hex(key.public().0.as_bytes()), public);
            assert_eq!(key.sign(message), signature);
            assert!(key.public().has_signed(message, signature));
            assert!(!key.public().has_signed(b"other", signature));
        }
    }

    #[test]
    fn keys_are_read_back_and_never_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("shop.key");
        let public = Private::make(&path).unwrap();
        assert!(Private::make(&path).is_err());
        let signed = Private::read(&path).unwrap().sign(b"job");
        assert!(Public::read(&public).unwrap().has_signed(b"job", &signed));
        // One taken for the other is no key.
        assert!(Public::read(&path).is_err() && Private::read(&public).is_err());
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = std::fs::metadata(&path).unwrap().permissions().mode();
            assert_eq!(mode & 0o777, 0o600);
        }
    }
}
