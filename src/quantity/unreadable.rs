//! Why a figure could not be read.

/// Why a text is no figure of the quantity asked for. The text of it ends with what to do, after a
/// semicolon: a reader that prints help apart may cut it there with [`Unreadable::help`].
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Unreadable {
    /// A number without a unit.
    #[error("`{written}` has no unit; write \"{fix}\"")]
    Bare {
        /// What stood there.
        written: String,
        /// The same number with the unit this project keeps it in.
        fix: String,
    },
    /// No number at the start.
    #[error("`{written}` does not begin with a number; write a {what} like \"{example}\"")]
    NoNumber {
        /// What stood there.
        written: String,
        /// The kind of quantity asked for.
        what: &'static str,
        /// A figure as it should be written.
        example: &'static str,
    },
    /// A number that is no plain decimal: an exponent, a decimal comma, two points.
    #[error("`{written}` is no plain decimal number; write a {what} like \"{example}\"")]
    NotPlain {
        /// What stood there.
        written: String,
        /// The kind of quantity asked for.
        what: &'static str,
        /// A figure as it should be written.
        example: &'static str,
    },
    /// Infinite, or not a number.
    #[error("`{written}` is not finite; write a {what} like \"{example}\"")]
    NotFinite {
        /// What stood there.
        written: String,
        /// The kind of quantity asked for.
        what: &'static str,
        /// A figure as it should be written.
        example: &'static str,
    },
    /// A unit of something else, or of nothing.
    #[error("`{unit}` is no unit of {what} here; use {known}")]
    WrongUnit {
        /// The unit that stood there.
        unit: String,
        /// The kind of quantity asked for.
        what: &'static str,
        /// The units that are read.
        known: String,
    },
    /// No such figure occurs in filament printing.
    #[error(
        "`{written}` is no possible {what}, which is {least} to {most}; check the figure and its unit"
    )]
    OutOfBounds {
        /// What stood there.
        written: String,
        /// The kind of quantity asked for.
        what: &'static str,
        /// The least figure that is read, with its unit.
        least: String,
        /// The greatest figure that is read, with its unit.
        most: String,
    },
}

impl Unreadable {
    /// What to do about it, in the imperative.
    #[must_use]
    pub fn help(&self) -> String {
        let text = self.to_string();
        text.rsplit_once("; ")
            .map(|(_, help)| help.to_owned())
            .unwrap_or_default()
    }
}
