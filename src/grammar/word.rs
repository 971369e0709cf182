//! The parts of a line.

/// What a part of a line is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum Kind {
    /// A letter with a number: `X12.5`.
    Number,
    /// A letter alone: the `X` of `G28 X`.
    Bare,
    /// A letter with a quoted string: `A"lid"`.
    Quoted,
    /// A letter with something still to be filled in: `S{first_layer}` or `S[bed]`; or such a thing
    /// without a letter.
    Placeholder,
    /// The rest of the line after a word that takes text: the ` Heating` of `M117 Heating`.
    Text,
    /// A line number, `N12`, at the front of a line.
    LineNumber,
    /// A checksum, `*71`.
    Checksum,
    /// A comment from `;` to the end of the line.
    Comment,
    /// A comment in round brackets.
    Remark,
    /// A whole-word command: the `START_JOB` of `START_JOB BED=60`.
    Name,
    /// A named parameter of a whole-word command, `BED=60`; its value begins at
    /// [`Word::value_at`].
    Parameter,
    /// A parameter of a whole-word command without a name: the `slow` of `LEVEL slow`.
    Argument,
    /// The block-delete mark `/` at the front of a line.
    BlockDelete,
    /// A `%` sign that fences a job.
    Fence,
    /// A byte order mark at the front of a job.
    ByteOrderMark,
    /// The line's end: LF, CR LF or CR.
    End,
    /// Bytes that are no part of the language; [`Word::fault`] says in what way.
    Stray,
}

/// What is wrong with a part of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum Fault {
    /// Nothing.
    None,
    /// A byte that begins nothing.
    StrayByte,
    /// A number with no letter before it.
    LooseNumber,
    /// A sign or a point without digits, a second point, `1.2.3`, or the letter O for a zero, `21O`.
    BadNumber,
    /// More digits before the point than any coordinate has; the value is not to be used.
    TooLarge,
    /// More digits than are kept exactly; the value is cut, the text is whole.
    TooLong,
    /// Blanks inside a number: RS-274 joins the digits, a printer's control most often stops there.
    BlankInNumber,
    /// A bracket, brace or quote that is not closed on its line.
    Unclosed,
    /// An opening bracket inside a remark.
    NestedRemark,
    /// A line number that is signed, broken or not first on its line.
    BadLineNumber,
    /// A checksum with no number, or with something after it.
    BadChecksum,
    /// A checksum that does not fit the line's bytes.
    WrongChecksum,
}

/// One part of a line. Small and `Copy`: a line's parts live in one reused buffer.
///
/// `value` and `scale` are the number as written: `value / 10^scale`, so that `1.50` and `1.5` differ
/// and nothing is rounded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Word {
    /// The number without its point, signed. For [`Kind::Parameter`] the offset of its value in the
    /// part.
    pub value: i64,
    /// Where the part begins, in bytes from the line's start.
    pub at: u32,
    /// How many bytes it has.
    pub len: u32,
    /// The letter in upper case, or 0.
    pub letter: u8,
    /// What it is.
    pub kind: Kind,
    /// How many of the digits stand behind the point.
    pub scale: u8,
    /// What is wrong with it.
    pub fault: Fault,
}

impl Word {
    /// The bytes it covers, from the line's start.
    #[must_use]
    pub const fn span(&self) -> std::ops::Range<usize> {
        self.at as usize..self.at as usize + self.len as usize
    }

    /// Whether it is a letter with a number, and nothing is wrong with it.
    #[inline]
    #[must_use]
    pub const fn is_plain(&self) -> bool {
        // Both enums begin at 0 with the common case.
        self.kind as u8 | self.fault as u8 == 0
    }

    /// Its bytes in `line`, the line it was read from.
    #[must_use]
    pub fn bytes<'a>(&self, line: &'a [u8]) -> &'a [u8] {
        line.get(self.span()).unwrap_or_default()
    }

    /// The number, rounded to the nearest binary fraction. Not for sums of coordinates.
    #[must_use]
    pub fn to_f64(&self) -> f64 {
        const TENTHS: [f64; 19] = [
            1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
            1e16, 1e17, 1e18,
        ];
        self.value as f64
            / TENTHS
                .get(usize::from(self.scale))
                .copied()
                .unwrap_or(f64::INFINITY)
    }

    /// The number where it is whole: `G1`, `M104`, `T0`; also `G1.0`.
    #[must_use]
    pub fn whole(&self) -> Option<i64> {
        if self.kind != Kind::Number || self.fault == Fault::TooLarge {
            return None;
        }
        let (mut value, mut scale) = (self.value, self.scale);
        while scale > 0 && value % 10 == 0 {
            value /= 10;
            scale -= 1;
        }
        (scale == 0).then_some(value)
    }

    /// The number times ten where that is whole: 921 for `G92.1`, 10 for `G1`.
    #[must_use]
    pub fn tenths(&self) -> Option<i64> {
        if self.kind != Kind::Number || self.fault == Fault::TooLarge {
            return None;
        }
        let (mut value, mut scale) = (self.value, self.scale);
        while scale > 1 && value % 10 == 0 {
            value /= 10;
            scale -= 1;
        }
        match scale {
            0 => value.checked_mul(10),
            1 => Some(value),
            _ => None,
        }
    }

    /// The number in units of 10⁻⁹, rounded toward zero: millimetres to picometres. None where it
    /// does not fit or is not to be used.
    #[must_use]
    #[inline]
    pub fn nano(&self) -> Option<i64> {
        const TENS: [i64; 10] = [
            1_000_000_000,
            100_000_000,
            10_000_000,
            1_000_000,
            100_000,
            10_000,
            1000,
            100,
            10,
            1,
        ];
        match TENS.get(usize::from(self.scale)) {
            Some(&factor) => self.value.checked_mul(factor),
            None => Some(self.value / 10_i64.pow(u32::from(self.scale.saturating_sub(9).min(18)))),
        }
    }

    /// Where a parameter's value begins, from the line's start.
    #[must_use]
    pub const fn value_at(&self) -> usize {
        self.at as usize + self.value as usize
    }

    /// A parameter's name in `line`.
    #[must_use]
    pub fn key<'a>(&self, line: &'a [u8]) -> &'a [u8] {
        line.get(self.at as usize..self.value_at().saturating_sub(1))
            .unwrap_or_default()
    }

    /// A parameter's value in `line`, as written.
    #[must_use]
    pub fn parameter<'a>(&self, line: &'a [u8]) -> &'a [u8] {
        line.get(self.value_at()..self.span().end)
            .unwrap_or_default()
    }
}
