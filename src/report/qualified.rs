//! An answer with its question, for a report.

use crate::qualify::{Answer, Question};

/// A question and what it comes to.
#[derive(Debug, Clone, Copy)]
pub struct Qualified<'a> {
    /// What was asked.
    pub question: Question<'a>,
    /// What it comes to.
    pub answer: &'a Answer,
}
