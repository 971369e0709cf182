//! A point: two values held against each other, the margin between them, and what to do.

use crate::finding::SourceMark;
use crate::sheet::{Application, Cited, Machine, Material};

/// How a point stands, from worst to best.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Standing {
    /// It cannot work.
    Stops,
    /// It works once something is changed.
    Change,
    /// Both values are too near to each other, or too uncertain, to be sure: try it first.
    Trial,
    /// A sheet does not say what would be needed to tell.
    Unknown,
    /// Nothing is held against anything: worth knowing before one begins.
    Told,
    /// It fits.
    Fits,
}

impl Standing {
    /// Every standing, worst first.
    pub const ALL: [Self; 6] = [
        Self::Stops,
        Self::Change,
        Self::Trial,
        Self::Unknown,
        Self::Told,
        Self::Fits,
    ];

    /// The word for it, in kebab case.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Stops => "stops",
            Self::Change => "change",
            Self::Trial => "try-first",
            Self::Unknown => "unknown",
            Self::Told => "note",
            Self::Fits => "fits",
        }
    }
}

/// One of the two values, and whose it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Side {
    /// The value as text, with its unit.
    pub text: String,
    /// The sheet and key it stands in: `material sheet PA6-CF, hotend.print`; or `as asked`.
    pub whose: String,
    /// Where the sheet's author has it from.
    pub source: Option<String>,
    /// How far it can be trusted; none where the asker said it.
    pub mark: Option<SourceMark>,
}

impl Side {
    fn of<T>(sheet: &str, key: &str, cited: &Cited<T>, text: impl Into<String>) -> Self {
        if cited.source.as_deref() == Some(super::AS_ASKED) {
            return Self {
                text: text.into(),
                whose: super::AS_ASKED.to_owned(),
                source: None,
                mark: None,
            };
        }
        if let Some(job) = cited
            .source
            .as_ref()
            .filter(|source| source.starts_with(super::OF_JOB))
        {
            return Self {
                text: text.into(),
                whose: job.clone(),
                source: None,
                mark: None,
            };
        }
        Self {
            text: text.into(),
            whose: format!("{sheet}, {key}"),
            source: cited.source.clone(),
            mark: Some(cited.mark),
        }
    }

    /// A value of a material sheet.
    pub(super) fn material<T>(
        sheet: &Material,
        key: &str,
        cited: &Cited<T>,
        text: impl Into<String>,
    ) -> Self {
        Self::of(&format!("material sheet {}", sheet.name), key, cited, text)
    }

    /// A value of a machine sheet.
    pub(super) fn machine<T>(
        sheet: &Machine,
        key: &str,
        cited: &Cited<T>,
        text: impl Into<String>,
    ) -> Self {
        Self::of(&format!("machine sheet {}", sheet.name), key, cited, text)
    }

    /// A value of the application.
    pub(super) fn asked<T>(
        sheet: &Application,
        key: &str,
        cited: &Cited<T>,
        text: impl Into<String>,
    ) -> Self {
        Self::of(&format!("application {}", sheet.name), key, cited, text)
    }

    /// A value that was worked out here, and how.
    pub(super) fn worked_out(text: impl Into<String>, how: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            whose: how.into(),
            source: None,
            mark: None,
        }
    }
}

/// How far apart the two values are: above zero where there is room.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Margin {
    /// The amount, in `unit`.
    pub value: f64,
    /// Its unit.
    pub unit: &'static str,
    /// The same in per cent of the limit, where the trade quotes it so.
    pub percent: Option<f64>,
}

/// One thing that was looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// Its id, in kebab case: `hotend`.
    pub id: &'static str,
    /// How it stands.
    pub standing: Standing,
    /// What the material or the use asks for.
    pub needs: Option<Side>,
    /// What is there: the machine's, or the sheet's limit.
    pub has: Option<Side>,
    /// How far apart the two are.
    pub margin: Option<Margin>,
    /// What it comes to, and why: one sentence, lower case, no final stop.
    pub says: String,
    /// What to do about it, in the imperative, lower case, no final stop.
    pub action: Option<String>,
}

impl Point {
    /// A point without values.
    pub(super) fn new(id: &'static str, standing: Standing, says: impl Into<String>) -> Self {
        Self {
            id,
            standing,
            needs: None,
            has: None,
            margin: None,
            says: says.into(),
            action: None,
        }
    }

    /// A point that cannot be told, because `sheet` does not say `key`.
    pub(super) fn unsaid(id: &'static str, sheet: &str, key: &str) -> Self {
        Self::new(
            id,
            Standing::Unknown,
            format!("the {sheet} does not say {key}"),
        )
    }

    pub(super) fn needs(mut self, side: Side) -> Self {
        self.needs = Some(side);
        self
    }

    pub(super) fn has(mut self, side: Side) -> Self {
        self.has = Some(side);
        self
    }

    pub(super) const fn by(mut self, value: f64, unit: &'static str) -> Self {
        self.margin = Some(Margin {
            value,
            unit,
            percent: None,
        });
        self
    }

    pub(super) fn action(mut self, action: impl Into<String>) -> Self {
        self.action = Some(action.into());
        self
    }
}
