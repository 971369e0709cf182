//! What strangers put into an archive.

use super::*;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

fn zipped(path: &Path, members: &[(&str, &[u8])]) {
    let mut bytes = Vec::new();
    let mut zip = ZipWriter::new(std::io::Cursor::new(&mut bytes));
    for (name, content) in members {
        let options = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
        zip.start_file(*name, options).unwrap();
        zip.write_all(content).unwrap();
    }
    zip.finish().unwrap();
    put(path, &bytes);
}

fn states(store: &Path) -> Vec<String> {
    rows(
        store,
        "SELECT member, state, coalesce(error, '') FROM jobs ORDER BY path, member",
    )
}

#[test]
fn members_of_zip_archives_are_jobs_and_are_never_written_anywhere() {
    let (place, folder, store) = place();
    let cold = GOOD.replace("S60", "S30");
    zipped(
        &folder.join("plates.3mf"),
        &[
            ("3D/model.xml", b"<model/>"),
            ("Metadata/plate_1.gcode", GOOD.as_bytes()),
            ("Metadata/plate_2.gcode", cold.as_bytes()),
            ("../../outside.gcode", GOOD.as_bytes()),
            ("/absolute.gcode", GOOD.as_bytes()),
            ("inner.zip", b"PK\x05\x06"),
            ("twice.gcode.gz", b"\x1f\x8b"),
        ],
    );
    let ended = run(&folder, &store, 2, false);
    assert_eq!(ended.counts.inspected, 6);
    let rows = states(&store);
    let has = |member: &str, state: &str, error: &str| {
        rows.iter()
            .any(|row| row.contains(member) && row.contains(state) && row.contains(error))
    };
    assert!(has("plate_1", "released", ""), "{rows:#?}");
    assert!(has("plate_2", "held", ""), "{rows:#?}");
    assert!(has("../../outside", "released", ""), "{rows:#?}");
    assert!(has("/absolute", "released", ""), "{rows:#?}");
    assert!(has("inner.zip", "failed", "packed once more"), "{rows:#?}");
    assert!(has("twice", "failed", "packed once more"), "{rows:#?}");
    // Nothing but the archive, the store and its helpers is there.
    let mut there: Vec<_> = std::fs::read_dir(place.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| !name.starts_with("store.sqlite"))
        .collect();
    there.sort();
    assert_eq!(there, ["archive"]);
    assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 1);
    assert_eq!(run(&folder, &store, 2, false).counts.known, 1);
    assert_eq!(run(&folder, &store, 2, true).counts.known, 1);
}

#[test]
fn bombs_and_damage_are_told_and_the_rest_goes_on() {
    let (_place, folder, store) = place();
    put(&folder.join("good.gcode"), GOOD.as_bytes());
    // 64 MiB of blank lines out of some 64 KiB.
    zipped(
        &folder.join("bomb.zip"),
        &[("lid.gcode", &vec![b'\n'; 64 << 20])],
    );
    let text = GOOD.repeat(40);
    zipped(
        &folder.join("flipped.zip"),
        &[("lid.gcode", text.as_bytes())],
    );
    let mut bytes = std::fs::read(folder.join("flipped.zip")).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 0xFF;
    put(&folder.join("flipped.zip"), &bytes);
    put(&folder.join("cut.zip"), &bytes[..middle]);
    put(&folder.join("none.zip"), b"PK\x03\x04 and nothing more");
    let packed = zstd::encode_all(&vec![b'\n'; 64 << 20][..], 1).unwrap();
    put(&folder.join("bomb.gcode.zst"), &packed);
    let ended = run(&folder, &store, 2, false);
    assert_eq!(ended.counts.inspected, 6);
    let rows = rows(&store, "SELECT path, state, coalesce(error, '') FROM jobs");
    for (name, state, error) in [
        ("good.gcode", "released", ""),
        ("bomb.zip", "failed", "200 times its size"),
        ("flipped.zip", "failed", ""),
        ("cut.zip", "failed", "directory cannot be read"),
        ("none.zip", "failed", "directory cannot be read"),
        ("bomb.gcode.zst", "failed", "200 times its size"),
    ] {
        assert!(
            rows.iter()
                .any(|row| row.contains(name) && row.contains(state) && row.contains(error)),
            "{name}: {rows:#?}"
        );
    }
    assert_eq!(run(&folder, &store, 2, false).counts.inspected, 0);
}

#[cfg(unix)]
#[test]
fn links_are_not_followed_and_pipes_are_not_opened() {
    use std::os::unix::fs::symlink;
    let (place, folder, store) = place();
    generate(&folder, 2);
    let outside = place.path().join("outside");
    put(&outside.join("secret.gcode"), GOOD.as_bytes());
    symlink(&outside, folder.join("folder")).unwrap();
    symlink(outside.join("secret.gcode"), folder.join("link.gcode")).unwrap();
    symlink("..", folder.join("round.gcode")).unwrap();
    let pipe = folder.join("pipe.gcode");
    assert!(
        std::process::Command::new("mkfifo")
            .arg(&pipe)
            .status()
            .unwrap()
            .success()
    );
    let ended = run(&folder, &store, 1, false);
    assert_eq!(
        (ended.counts.inspected, ended.passed, ended.troubles),
        (2, 4, 0)
    );
    // Named itself, a link is read, and a pipe refused without waiting for its writer.
    assert_eq!(
        run(&folder.join("link.gcode"), &store, 1, false)
            .counts
            .inspected,
        1
    );
    run(&pipe, &store, 1, false);
    let error = rows(
        &store,
        "SELECT error FROM jobs WHERE path LIKE '%pipe.gcode'",
    );
    assert!(error[0].contains("is a named pipe"), "{error:?}");
    // A device that never ends is not begun.
    let device = Path::new("/dev/zero");
    if device.exists() {
        run(device, &store, 1, false);
        let error = rows(&store, "SELECT error FROM jobs WHERE path = '/dev/zero'");
        assert!(error[0].contains("is a device"), "{error:?}");
    }
}

#[cfg(unix)]
#[test]
fn names_of_any_bytes_are_kept_apart() {
    use std::os::unix::ffi::OsStrExt;
    let (_place, folder, store) = place();
    for bytes in [
        &b"lid\xb0.gcode"[..],
        b"lid\xb1.gcode",
        b"lid\x1b[2J\n.gcode",
    ] {
        put(
            &folder.join(std::ffi::OsStr::from_bytes(bytes)),
            GOOD.as_bytes(),
        );
    }
    assert_eq!(run(&folder, &store, 1, false).counts.inspected, 3);
    assert_eq!(run(&folder, &store, 1, false).counts.known, 3);
    assert_eq!(number(&store, "SELECT count(*) FROM jobs"), 3);
}

#[test]
fn hidden_and_ignored_files_are_jobs_like_others() {
    let (_place, folder, store) = place();
    put(&folder.join(".hidden/.lid.gcode"), GOOD.as_bytes());
    put(&folder.join(".gitignore"), b"*\n");
    put(&folder.join("LID.GCO"), GOOD.as_bytes());
    put(&folder.join("notes.txt"), GOOD.as_bytes());
    let ended = run(&folder, &store, 1, false);
    assert_eq!((ended.counts.inspected, ended.passed), (2, 2));
}
