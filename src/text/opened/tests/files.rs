//! Files and streams as the system gives them: what is no file, what changes, what waits, what fails.

use super::*;

#[test]
fn a_consumer_that_stops_early_leaves_no_thread_behind() {
    let (_folder, path) = file(&gz(&job(40 * PIECE)));
    for _ in 0..20 {
        let mut opened = open(&path, Reading::default()).unwrap();
        let mut out = Vec::new();
        // One piece of the first, one of the thread's: then the thread waits with its queue full.
        assert!(opened.next(&mut out).unwrap() && opened.next(&mut out).unwrap());
        assert!(matches!(opened.hands, Hands::There(_)));
        assert_eq!(opened.finish(), None);
    }
    #[cfg(target_os = "linux")]
    {
        // Joined, so none of them is left; other tests' threads may run beside this one for a while.
        let unpacking = || {
            let tasks = std::fs::read_dir("/proc/self/task").unwrap();
            tasks
                .filter_map(|task| std::fs::read_to_string(task.ok()?.path().join("comm")).ok())
                .filter(|name| name.trim() == "unpack")
                .count()
        };
        assert!(unpacking() < 10, "{} threads left", unpacking());
    }
}

#[test]
fn a_stream_that_waits_is_not_waited_for() {
    // The stream gives a good part of a job, and then nothing more for as long as the test holds it.
    let packed = gz(&job(8 * PIECE));
    let (reader, mut writer) = std::io::pipe().unwrap();
    let feeder = std::thread::spawn(move || {
        let half = packed.len() - 1000;
        // Fails if the reader's end is dropped before, which it is not: the thread holds it.
        writer.write_all(&packed[..half]).unwrap();
        writer
    });
    let stuck = Stuck(Some(reader));
    let mut opened = open_stream(stuck, Name::StandardInput, Reading::default()).unwrap();
    let mut out = Vec::new();
    assert!(opened.next(&mut out).unwrap());
    let writer = feeder.join().unwrap();
    let (done, told) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        drop(opened);
        done.send(()).unwrap();
    });
    told.recv_timeout(std::time::Duration::from_secs(20))
        .expect("the drop must not wait for the stream");
    drop(writer);
}

/// A pipe that is read in small pieces, as a slow writer gives them.
struct Stuck(Option<std::io::PipeReader>);

impl Read for Stuck {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        let few = into.len().min(4096);
        self.0.as_mut().unwrap().read(&mut into[..few])
    }
}

#[test]
fn a_failing_disk_is_told_with_its_place() {
    struct Failing(usize);
    impl Read for Failing {
        fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
            if self.0 == 0 {
                return Err(std::io::Error::other("medium \x1b[31mgone"));
            }
            let count = into.len().min(self.0);
            into[..count].fill(b'\n');
            self.0 -= count;
            Ok(count)
        }
    }
    let failing = Failing(PIECE + 100);
    let opened = open_stream(failing, Name::StandardInput, Reading::default());
    let (out, outcome) = drain(opened);
    assert_eq!(out.len(), PIECE + 100);
    let fault = outcome.unwrap_err();
    assert!(matches!(fault, Error::Unreadable { at, .. } if at == (PIECE + 100) as u64));
    assert!(fault.to_string().ends_with("medium ␛[31mgone"), "{fault}");
}

#[test]
fn a_file_that_changes_while_it_is_read_is_told() {
    let job = job(4 * PIECE);
    // Cut short, grown, cut to nothing.
    for new in [3 * PIECE, 5 * PIECE, 0] {
        let (_folder, path) = file(&job);
        let mut opened = open(&path, Reading::default()).unwrap();
        let mut out = Vec::new();
        assert!(opened.next(&mut out).unwrap());
        let file = File::options().write(true).open(&path).unwrap();
        file.set_len(new as u64).unwrap();
        let outcome = loop {
            match opened.next(&mut out) {
                Ok(true) => {}
                other => break other,
            }
        };
        match outcome {
            Err(Error::Changed { stated, read, .. }) => {
                assert_eq!(stated, job.len() as u64);
                assert_ne!(read, stated);
            }
            other => panic!("to {new}: {other:?}"),
        }
    }
}

#[test]
fn a_packed_file_that_shrinks_while_it_is_read_is_told() {
    let stored = gz(&job(16 * PIECE));
    assert!(stored.len() > 2 * PIECE);
    let (_folder, path) = file(&stored);
    let mut opened = open(&path, reading(Threads::One)).unwrap();
    let mut out = Vec::new();
    assert!(opened.next(&mut out).unwrap());
    let file = File::options().write(true).open(&path).unwrap();
    file.set_len(PIECE as u64 + 9).unwrap();
    let outcome = loop {
        match opened.next(&mut out) {
            Ok(true) => {}
            other => break other,
        }
    };
    assert!(matches!(outcome, Err(Error::Changed { .. })), "{outcome:?}");
}

#[test]
fn what_is_no_file_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| open(&folder.path().join(name), Reading::default()).unwrap_err();
    assert!(matches!(at("nowhere.gcode"), Error::Missing { .. }));
    assert!(matches!(at("nowhere/lid.gcode"), Error::Missing { .. }));
    assert!(matches!(at("."), Error::Directory { .. }));
    assert!(matches!(at("a\0b"), Error::Unreadable { .. }));
    std::fs::write(folder.path().join("empty.gcode"), b"").unwrap();
    let empty = at("empty.gcode");
    assert!(
        empty
            .to_string()
            .ends_with("empty.gcode` is empty: 0 bytes"),
        "{empty}"
    );
    std::fs::write(folder.path().join("file"), b"G28\n").unwrap();
    assert!(matches!(at("file/lid.gcode"), Error::Missing { .. }));
}

#[cfg(unix)]
#[test]
fn pipes_sockets_and_devices_are_refused_without_waiting() {
    let folder = tempfile::tempdir().unwrap();
    let pipe = folder.path().join("pipe");
    let made = std::process::Command::new("mkfifo").arg(&pipe).status();
    assert!(made.unwrap().success());
    let fault = open(&pipe, Reading::default()).unwrap_err();
    assert!(matches!(fault, Error::Pipe { .. }));
    let help = miette::Diagnostic::help(&fault).unwrap().to_string();
    assert_eq!(help, "pipe it through standard input");

    let socket = folder.path().join("socket");
    let _held = std::os::unix::net::UnixListener::bind(&socket).unwrap();
    let fault = open(&socket, Reading::default()).unwrap_err();
    assert!(matches!(
        fault,
        Error::Device {
            what: "a socket",
            ..
        }
    ));

    let fault = open(Path::new("/dev/null"), Reading::default()).unwrap_err();
    assert!(matches!(
        fault,
        Error::Device {
            what: "a device",
            ..
        }
    ));

    // Round in a circle: an error of the system's, no wait.
    let circle = folder.path().join("circle");
    std::os::unix::fs::symlink(&circle, &circle).unwrap();
    assert!(open(&circle, Reading::default()).is_err());
}
