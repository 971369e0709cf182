//! A fault in this program while it works on one job becomes that job's error.

use std::cell::RefCell;
use std::panic::{AssertUnwindSafe, catch_unwind};

thread_local! {
    /// Where the last panic of this thread happened, and what it said.
    static LAST: RefCell<Option<String>> = const { RefCell::new(None) };
}

/// Keeps panics from writing to the standard error; [`guarded`] reports them.
pub fn quieten() {
    std::panic::set_hook(Box::new(|panic| {
        let place = panic.location().map_or_else(
            || "unknown place".to_owned(),
            |at| format!("{}:{}", at.file(), at.line()),
        );
        let said = panic.payload_as_str().unwrap_or("no message");
        let text = format!("{place}: {}", said.lines().next().unwrap_or_default());
        LAST.with(|last| *last.borrow_mut() = Some(text));
    }));
}

/// Does the work; a panic in it comes back as what it said and where. One that is passed on from another thread
/// says so itself.
pub fn guarded<T>(work: impl FnOnce() -> T) -> Result<T, String> {
    catch_unwind(AssertUnwindSafe(work)).map_err(|fault| {
        let said = LAST.with(|last| last.borrow_mut().take());
        said.or_else(|| fault.downcast::<String>().ok().map(|said| *said))
            .unwrap_or_else(|| "unknown place".to_owned())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_comes_back_as_words() {
        let before = std::panic::take_hook();
        quieten();
        let outcome = guarded(|| {
            if std::hint::black_box(true) {
                panic!("no such layer\nand more")
            }
        });
        let elsewhere = std::thread::spawn(|| guarded(|| panic!("no such wall")));
        let elsewhere = elsewhere.join().unwrap().unwrap_err();
        let passed_on = guarded(|| std::panic::resume_unwind(Box::new(elsewhere)));
        std::panic::set_hook(before);
        let passed_on: Result<(), _> = passed_on;
        let passed_on = passed_on.unwrap_err();
        assert!(
            passed_on.contains("guard.rs:") && passed_on.ends_with("no such wall"),
            "{passed_on}"
        );
        let said = outcome.unwrap_err();
        assert!(
            said.contains("guard.rs:") && said.ends_with("no such layer"),
            "{said}"
        );
        assert_eq!(guarded(|| 5), Ok(5));
    }
}
