//! What happens to files of every kind, on one thread and on two.

mod files;

use super::unpack::{RATIO, RATIO_FROM};
use super::*;
use crate::text::PIECE;
use proptest::prelude::*;
use std::io::Write;
use std::path::PathBuf;
use tempfile::TempDir;

const BOTH: [Threads; 2] = [Threads::One, Threads::Two];

fn reading(threads: Threads) -> Reading {
    Reading {
        threads,
        digest: true,
    }
}

fn gz(job: &[u8]) -> Vec<u8> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::new(6));
    packer.write_all(job).unwrap();
    packer.finish().unwrap()
}

fn zst(job: &[u8]) -> Vec<u8> {
    zstd::encode_all(job, 3).unwrap()
}

/// A job of about `bytes` bytes that packs as jobs do.
fn job(bytes: usize) -> Vec<u8> {
    let mut job = Vec::with_capacity(bytes + 64);
    let mut seed = 1u32;
    while job.len() < bytes {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        writeln!(
            job,
            "G1 X{}.{:03} Y{} E.0{}",
            seed >> 25,
            (seed >> 8) % 1000,
            seed % 199,
            seed >> 20
        )
        .unwrap();
    }
    job
}

fn from_bytes(stored: &[u8], threads: Threads) -> Result<Opened, Error> {
    let stream = std::io::Cursor::new(stored.to_vec());
    open_stream(stream, Name::Given("lid.gcode".into()), reading(threads))
}

/// Everything that comes out, and how it ended.
fn drain(opened: Result<Opened, Error>) -> (Vec<u8>, Result<Stored, Error>) {
    let mut out = Vec::new();
    let mut opened = match opened {
        Ok(opened) => opened,
        Err(fault) => return (out, Err(fault)),
    };
    loop {
        let before = out.len();
        match opened.next(&mut out) {
            Ok(true) => assert!((1..=PIECE).contains(&(out.len() - before))),
            Ok(false) => {
                assert_eq!(out.len(), before);
                // The end stays the end.
                assert!(!opened.next(&mut out).unwrap());
                return (out, Ok(opened.finish().unwrap()));
            }
            Err(fault) => {
                // A fault never turns into an end.
                assert!(matches!(opened.next(&mut out), Err(Error::Stopped { .. })));
                assert_eq!(opened.finish(), None);
                return (out, Err(fault));
            }
        }
    }
}

fn fault_of(stored: &[u8], threads: Threads) -> Error {
    drain(from_bytes(stored, threads)).1.unwrap_err()
}

fn file(bytes: &[u8]) -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("lid.gcode");
    std::fs::write(&path, bytes).unwrap();
    (folder, path)
}

#[test]
fn every_packing_gives_the_same_job() {
    let job = job(3 * PIECE + 1234);
    let two_members = [gz(&job[..PIECE + 7]), gz(&job[PIECE + 7..])].concat();
    let skippable = [
        &b"\x51\x2a\x4d\x18\x03\0\0\0abc"[..],
        &zst(&job[..10]),
        &zst(&job[10..]),
    ]
    .concat();
    let cases = [
        (job.clone(), Packing::Plain),
        (gz(&job), Packing::Gzip),
        (two_members, Packing::Gzip),
        ([gz(&job), vec![0; 1000]].concat(), Packing::Gzip),
        (zst(&job), Packing::Zstd),
        (skippable, Packing::Zstd),
    ];
    for (stored, packing) in cases {
        let (_folder, path) = file(&stored);
        for threads in BOTH {
            let (out, facts) = drain(open(&path, reading(threads)));
            assert!(out == job, "{packing} on {threads:?}");
            let expected = Stored {
                bytes_stored: stored.len() as u64,
                bytes_unpacked: job.len() as u64,
                digest_hex: Some(blake3::hash(&stored).to_hex().to_string()),
                packing,
            };
            assert_eq!(facts.unwrap(), expected);
            // The same through a stream.
            let (out, facts) = drain(from_bytes(&stored, threads));
            assert!(out == job && facts.unwrap() == expected);
        }
    }
}

#[test]
fn the_digest_is_that_of_the_reference() {
    // The digest of "abc" as it is commonly quoted (from memory; it agrees with the crate in use).
    let reading = Reading::default();
    let mut opened = open_stream(&b"abc"[..], Name::StandardInput, reading).unwrap();
    let mut out = Vec::new();
    while opened.next(&mut out).unwrap() {}
    assert_eq!(
        opened.finish().unwrap().digest_hex.unwrap(),
        "6437b3ac38465133ffb63b75273a8db548c558465d79db03fd359c6cd5bd9d85"
    );
}

#[test]
fn the_digest_can_be_left_out() {
    for stored in [b"G28\n".to_vec(), gz(b"G28\n")] {
        let reading = Reading {
            threads: Threads::Two,
            digest: false,
        };
        let (_folder, path) = file(&stored);
        let (out, facts) = drain(open(&path, reading));
        assert_eq!(out, b"G28\n");
        assert_eq!(facts.unwrap().digest_hex, None);
    }
}

#[test]
fn what_stands_in_the_buffer_is_kept() {
    for stored in [b"G28\n".to_vec(), gz(b"G28\n"), zst(b"G28\n")] {
        let mut opened = from_bytes(&stored, Threads::Two).unwrap();
        let mut into = b"G1 X".to_vec();
        assert!(opened.next(&mut into).unwrap());
        assert_eq!(into, b"G1 XG28\n");
    }
}

#[test]
fn a_job_cut_short_says_how_far_it_came() {
    let job = job(2 * PIECE);
    for (stored, packing) in [(gz(&job), Packing::Gzip), (zst(&job), Packing::Zstd)] {
        for threads in BOTH {
            for left in [
                stored.len() - 1,
                stored.len() - 5,
                stored.len() - 9,
                stored.len() / 2,
                5,
                4,
            ] {
                let (out, outcome) = drain(from_bytes(&stored[..left], threads));
                assert!(job.starts_with(&out));
                match outcome.unwrap_err() {
                    Error::Truncated {
                        packing: told,
                        stored: at,
                        unpacked,
                        ..
                    } => {
                        assert_eq!((told, at), (packing, left as u64));
                        assert_eq!(unpacked, out.len() as u64);
                    }
                    other => panic!("{other:?}"),
                }
            }
            // Half the file holds a good part of the job, and all of it was handed on (zstd unpacks
            // in whole blocks of 128 KiB).
            assert!(
                drain(from_bytes(&stored[..stored.len() / 2], threads))
                    .0
                    .len()
                    > PIECE / 4
            );
        }
    }
}

#[test]
fn a_second_part_cut_within_its_first_bytes_is_cut_short() {
    for threads in BOTH {
        let stored = [gz(b"G28\n"), vec![0x1F]].concat();
        assert!(matches!(
            fault_of(&stored, threads),
            Error::Truncated { .. }
        ));
        let stored = [zst(b"G28\n"), vec![0x28, 0xB5]].concat();
        assert!(matches!(
            fault_of(&stored, threads),
            Error::Truncated { .. }
        ));
        let stored = [zst(b"G28\n"), vec![0x50]].concat();
        assert!(matches!(
            fault_of(&stored, threads),
            Error::Truncated { .. }
        ));
    }
}

#[test]
fn something_behind_the_packed_data_is_named_with_its_place() {
    let cases = [
        (gz(b"G28\n"), &b"G28\n"[..], 0, b'G'),
        (gz(b"G28\n"), b"\0\0\0\0\0x", 5, b'x'),
        (zst(b"G28\n"), b"G28\n", 0, b'G'),
        (zst(b"G28\n"), b"\0\0\0\0", 0, 0),
    ];
    for (packed, behind, into_it, foreign) in cases {
        for threads in BOTH {
            let (out, outcome) = drain(from_bytes(&[&packed, behind].concat(), threads));
            assert_eq!(out, b"G28\n");
            match outcome.unwrap_err() {
                Error::Garbage { at, byte, .. } => {
                    assert_eq!((at, byte), ((packed.len() + into_it) as u64, foreign));
                }
                other => panic!("{other:?}"),
            }
        }
    }
}

#[test]
fn damage_is_seen() {
    let job = job(PIECE);
    for threads in BOTH {
        // The sum at the end of a member, and the data in its middle.
        let packed = gz(&job);
        for at in [packed.len() - 6, packed.len() / 2] {
            let mut stored = packed.clone();
            stored[at] ^= 0x55;
            let fault = fault_of(&stored, threads);
            assert!(
                matches!(fault, Error::Damaged { .. } | Error::Truncated { .. }),
                "{fault:?}"
            );
        }
        let mut stored = packed.clone();
        let last = stored.len() - 6;
        stored[last] ^= 1;
        assert!(matches!(fault_of(&stored, threads), Error::Damaged { .. }));
        // An unknown method in the head.
        stored = packed;
        stored[2] = 9;
        assert!(matches!(fault_of(&stored, threads), Error::Damaged { .. }));
    }
}

#[test]
fn packed_twice_is_refused() {
    for threads in BOTH {
        for stored in [gz(&gz(b"G28\n")), gz(&zst(b"G28\n")), zst(&gz(b"G28\n"))] {
            let fault = fault_of(&stored, threads);
            assert!(matches!(fault, Error::PackedTwice { .. }));
            assert!(fault.to_string().contains("packed twice"), "{fault}");
        }
    }
}

#[test]
fn bombs_are_stopped() {
    let size = 4 * RATIO_FROM as usize;
    let zeros = b";\n".repeat(size / 2);
    for (stored, packing) in [(gz(&zeros), "gzip"), (zst(&zeros), "zstd")] {
        assert!(size as u64 > RATIO * stored.len() as u64, "{packing}");
        for threads in BOTH {
            let (out, outcome) = drain(from_bytes(&stored, threads));
            assert!(matches!(
                outcome.unwrap_err(),
                Error::Bomb { limit: RATIO, .. }
            ));
            // Stopped at the first piece past the limit.
            assert!(out.len() as u64 <= RATIO_FROM + PIECE as u64);
        }
    }
    // Below 16 MiB any ratio is granted.
    let small = gz(&zeros[..RATIO_FROM as usize]);
    assert_eq!(drain(from_bytes(&small, Threads::Two)).0.len(), 16 << 20);
}

#[test]
fn large_windows_are_refused_and_granted_ones_work() {
    let job = job(9 << 20);
    let packed = |log: u32, one_segment: bool| {
        let mut packer = zstd::stream::write::Encoder::new(Vec::new(), 1).unwrap();
        packer.window_log(log).unwrap();
        if one_segment {
            packer.set_pledged_src_size(Some(job.len() as u64)).unwrap();
        }
        packer.write_all(&job).unwrap();
        packer.finish().unwrap()
    };
    for threads in BOTH {
        assert!(drain(from_bytes(&packed(23, false), threads)).0 == job);
        for (log, one_segment) in [(24, false), (24, true)] {
            let fault = fault_of(&packed(log, one_segment), threads);
            assert!(
                matches!(
                    fault,
                    Error::Window {
                        limit: 0x80_0000,
                        ..
                    }
                ),
                "{fault:?}"
            );
        }
    }
}

#[test]
fn what_is_no_text_is_refused() {
    for threads in BOTH {
        assert!(matches!(fault_of(&[0; 600], threads), Error::Binary { .. }));
        assert!(matches!(
            fault_of(&gz(&[0; 600]), threads),
            Error::Binary { .. }
        ));
        assert!(matches!(
            fault_of(b"PK\x03\x04....", threads),
            Error::Foreign { .. }
        ));
        assert!(matches!(
            fault_of(b"", threads),
            Error::Empty { stored: 0, .. }
        ));
        let fault = fault_of(&gz(b""), threads);
        assert_eq!(
            fault.to_string(),
            "`lid.gcode` is empty: 20 bytes of gzip hold 0 bytes of job"
        );
        assert!(matches!(fault_of(&zst(b""), threads), Error::Empty { .. }));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 500, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_end_without_panic(
        head in prop_oneof![
            Just(b"\x1f\x8b\x08\0\0\0\0\0\0\x03".to_vec()),
            Just(b"\x28\xb5\x2f\xfd".to_vec()),
            Just(b"\x50\x2a\x4d\x18".to_vec()),
            Just(Vec::new()),
        ],
        tail in prop::collection::vec(any::<u8>(), 0..300),
    ) {
        let stored = [head, tail].concat();
        let (one, first) = drain(from_bytes(&stored, Threads::One));
        let (two, second) = drain(from_bytes(&stored, Threads::Two));
        prop_assert_eq!(one, two);
        prop_assert_eq!(format!("{first:?}"), format!("{second:?}"));
    }

    #[test]
    fn changed_bytes_in_packed_data_end_without_panic(
        zstd in any::<bool>(), at in any::<prop::sample::Index>(), byte in any::<u8>(), lines in 1usize..400,
    ) {
        let job = job(lines * 20);
        let mut stored = if zstd { zst(&job) } else { gz(&job) };
        let at = at.index(stored.len());
        let same = stored[at] == byte;
        stored[at] = byte;
        let (out, outcome) = drain(from_bytes(&stored, Threads::Two));
        if same {
            prop_assert!(outcome.is_ok() && out == job);
        }
    }

    #[test]
    fn members_of_any_size_join(cuts in prop::collection::vec(0usize..5000, 0..6), zstd in any::<bool>()) {
        let parts: Vec<Vec<u8>> = cuts.iter().map(|&cut| job(cut)[..cut].to_vec()).collect();
        let stored: Vec<u8> = parts.iter().flat_map(|part| if zstd { zst(part) } else { gz(part) }).collect();
        let (out, outcome) = drain(from_bytes(&stored, Threads::One));
        prop_assert!(out == parts.concat());
        prop_assert_eq!(outcome.is_ok(), !out.is_empty());
    }
}
