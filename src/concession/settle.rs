//! From findings and concessions to a verdict.

use super::{Bound, Concession, Date, pattern};
use crate::finding::{Class, Finding};
use serde::Serialize;
use std::fmt;

/// What becomes of a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Nothing at or above the hold class was found.
    Released,
    /// Everything at or above the hold class is covered by a concession.
    ReleasedByConcession,
    /// Something at or above the hold class is not covered.
    Held,
}

impl Verdict {
    /// The words for it: `released by concession`.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Released => "released",
            Self::ReleasedByConcession => "released by concession",
            Self::Held => "held",
        }
    }
}

/// What is granted, and on which day it is asked.
#[derive(Clone, Copy)]
pub struct Terms<'a> {
    /// The concessions, in the order declared; the first that covers a finding counts.
    pub concessions: &'a [Concession],
    /// Today.
    pub today: Date,
    /// Findings of this class and above hold a job.
    pub hold_from: Class,
    /// Whether there is a requirement with this id.
    pub known: &'a dyn Fn(&str) -> bool,
}

/// The job that is asked about.
#[derive(Debug, Clone, Default)]
pub struct Case<'a> {
    /// Its path, as text.
    pub job: &'a str,
    /// The names of its material sheets.
    pub materials: Vec<&'a str>,
    /// The name of its machine sheet.
    pub machine: Option<&'a str>,
}

/// What a concession is remarked on for.
#[derive(Debug, Clone, PartialEq)]
pub enum Remark {
    /// It holds for this job, and no finding needs it.
    Unused,
    /// The worst goes beyond its bound.
    Exceeded {
        /// The finding, by its index.
        finding: usize,
        /// The job's value at its worst place, in the bound's unit.
        amount: f64,
        /// The bound.
        bound: Bound,
    },
    /// The finding has no amount, or not in the bound's unit, so that the bound says nothing.
    Unmeasured {
        /// The finding, by its index.
        finding: usize,
        /// The bound.
        bound: Bound,
    },
    /// Its last day is over.
    Expired {
        /// That day.
        until: Date,
    },
    /// There is no such requirement.
    UnknownRequirement,
}

impl Remark {
    /// The word for it, in kebab case.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Unused => "unused",
            Self::Exceeded { .. } => "exceeded",
            Self::Unmeasured { .. } => "unmeasured",
            Self::Expired { .. } => "expired",
            Self::UnknownRequirement => "unknown-requirement",
        }
    }
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unused => f.write_str("not used: this job has no such finding"),
            Self::Exceeded { amount, bound, .. } => {
                let amount = (amount * 1000.0).round() / 1000.0;
                write!(
                    f,
                    "exceeded: {amount} {} is beyond its bound of {bound}",
                    bound.unit
                )
            }
            Self::Unmeasured { bound, .. } => {
                write!(
                    f,
                    "does not apply: the finding has no amount to hold against its bound of {bound}"
                )
            }
            Self::Expired { until } => write!(f, "past its date: it held until {until}"),
            Self::UnknownRequirement => f.write_str("names a requirement that does not exist"),
        }
    }
}

/// A remark on one concession.
#[derive(Debug, Clone, PartialEq)]
pub struct Remarked {
    /// The concession, by its index.
    pub concession: usize,
    /// What is remarked.
    pub remark: Remark,
}

/// What the findings of a job come to.
#[derive(Debug, Clone, PartialEq)]
pub struct Settlement {
    /// What becomes of the job.
    pub verdict: Verdict,
    /// Findings with the concession that covers them, both by index, in the findings' order.
    pub conceded: Vec<(usize, usize)>,
    /// Remarks on concessions, in the concessions' order.
    pub remarks: Vec<Remarked>,
}

impl Settlement {
    /// The concession that covers a finding, by index.
    #[must_use]
    pub fn conceded(&self, finding: usize) -> Option<usize> {
        let pair = self.conceded.iter().find(|(of, _)| *of == finding);
        pair.map(|(_, concession)| *concession)
    }
}

/// What one concession does for one finding.
enum Cover {
    Full,
    Exceeded(f64, Bound),
    Unmeasured(Bound),
}

/// Settles a job's findings under the terms.
#[must_use]
pub fn settle(findings: &[Finding], case: &Case<'_>, terms: &Terms<'_>) -> Settlement {
    let mut conceded: Vec<(usize, usize)> = Vec::new();
    let mut remarks = Vec::new();
    for (index, concession) in terms.concessions.iter().enumerate() {
        let mut remark = |remark| {
            remarks.push(Remarked {
                concession: index,
                remark,
            })
        };
        if !(terms.known)(&concession.requirement) {
            remark(Remark::UnknownRequirement);
            continue;
        }
        if !concession.holds_for(case) {
            continue;
        }
        if let Some(until) = concession.until.filter(|until| *until < terms.today) {
            remark(Remark::Expired { until });
            continue;
        }
        let mut is_used = false;
        for (at, finding) in findings.iter().enumerate() {
            if finding.requirement != concession.requirement {
                continue;
            }
            is_used = true;
            if conceded.iter().any(|(of, _)| *of == at) {
                continue;
            }
            match concession.cover(finding) {
                Cover::Full => conceded.push((at, index)),
                Cover::Exceeded(amount, bound) => {
                    remark(Remark::Exceeded {
                        finding: at,
                        amount,
                        bound,
                    });
                }
                Cover::Unmeasured(bound) => remark(Remark::Unmeasured { finding: at, bound }),
            }
        }
        if !is_used {
            remark(Remark::Unused);
        }
    }
    conceded.sort_unstable();
    let mut holding = findings
        .iter()
        .enumerate()
        .filter(|(_, finding)| finding.class >= terms.hold_from)
        .map(|(at, _)| conceded.iter().any(|(of, _)| *of == at))
        .peekable();
    let verdict = if holding.peek().is_none() {
        Verdict::Released
    } else if holding.all(|covered| covered) {
        Verdict::ReleasedByConcession
    } else {
        Verdict::Held
    };
    Settlement {
        verdict,
        conceded,
        remarks,
    }
}

impl Concession {
    fn holds_for(&self, case: &Case<'_>) -> bool {
        let same = |one: &str, other: &str| one.eq_ignore_ascii_case(other);
        let material = self
            .material
            .as_ref()
            .is_none_or(|wanted| case.materials.iter().any(|name| same(name, wanted)));
        let machine = self
            .machine
            .as_ref()
            .is_none_or(|wanted| case.machine.is_some_and(|name| same(name, wanted)));
        let job = self.job.as_ref().is_none_or(|wanted| {
            let name = case.job.rsplit(['/', '\\']).next().unwrap_or_default();
            let asked = if wanted.contains('/') { case.job } else { name };
            pattern::fits(wanted, asked)
        });
        material && machine && job
    }

    fn cover(&self, finding: &Finding) -> Cover {
        let Some(bound) = self.bound else {
            return Cover::Full;
        };
        let (Some(limit), Some(amount)) = (&finding.limit, finding.amount) else {
            return Cover::Unmeasured(bound);
        };
        if limit.unit != bound.unit {
            return Cover::Unmeasured(bound);
        }
        // On which side of its limit the job is wrong, on that side lies the bound.
        let is_within = if amount < limit.value {
            amount >= bound.value
        } else {
            amount <= bound.value
        };
        if is_within {
            Cover::Full
        } else {
            Cover::Exceeded(amount, bound)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::{Extent, Limit, SourceMark};

    fn finding(requirement: &'static str, class: Class, limit: f64, amount: f64) -> Finding {
        Finding {
            requirement,
            class,
            message: String::new(),
            help: String::new(),
            extent: Extent::whole_job(),
            limit: Some(Limit {
                value: limit,
                unit: "°C",
                whose: String::new(),
                source: None,
                mark: SourceMark::Chosen,
            }),
            amount: Some(amount),
            related: Vec::new(),
        }
    }

    fn concession(requirement: &str, bound: Option<&str>) -> Concession {
        Concession {
            requirement: requirement.to_owned(),
            bound: bound.map(|bound| bound.parse().unwrap()),
            reason: "thin, slow part".to_owned(),
            by: "quality".to_owned(),
            until: None,
            material: None,
            machine: None,
            job: None,
        }
    }

    fn on(day: &str, findings: &[Finding], concessions: &[Concession]) -> Settlement {
        let case = Case {
            job: "in/lid-7.gcode",
            materials: vec!["PA6-CF"],
            machine: Some("box"),
        };
        let terms = Terms {
            concessions,
            today: day.parse().unwrap(),
            hold_from: Class::Major,
            known: &|id| id == "cold" || id == "hot",
        };
        settle(findings, &case, &terms)
    }

    fn remarks(settlement: &Settlement) -> Vec<&'static str> {
        settlement
            .remarks
            .iter()
            .map(|remarked| remarked.remark.word())
            .collect()
    }

    const DAY: &str = "2026-11-24";

    #[test]
    fn the_hold_class_decides() {
        let minor = finding("cold", Class::Minor, 240.0, 232.0);
        let major = finding("cold", Class::Major, 240.0, 220.0);
        assert_eq!(on(DAY, &[], &[]).verdict, Verdict::Released);
        assert_eq!(
            on(DAY, std::slice::from_ref(&minor), &[]).verdict,
            Verdict::Released
        );
        assert_eq!(on(DAY, &[minor, major], &[]).verdict, Verdict::Held);
    }

    #[test]
    fn a_concession_releases_what_it_covers_and_no_more() {
        let cold = finding("cold", Class::Major, 240.0, 220.0);
        let hot = finding("hot", Class::Critical, 300.0, 310.0);
        let granted = [concession("cold", None)];
        let settled = on(DAY, std::slice::from_ref(&cold), &granted);
        assert_eq!(settled.verdict, Verdict::ReleasedByConcession);
        assert_eq!(settled.conceded, [(0, 0)]);
        assert!(settled.remarks.is_empty());
        let settled = on(DAY, &[hot, cold], &granted);
        assert_eq!(settled.verdict, Verdict::Held);
        assert_eq!((settled.conceded(0), settled.conceded(1)), (None, Some(0)));
    }

    #[test]
    fn a_bound_lies_on_the_side_where_the_job_is_wrong() {
        let cold = [finding("cold", Class::Major, 240.0, 225.0)];
        let hot = [finding("hot", Class::Major, 300.0, 305.0)];
        for (findings, bound, verdict) in [
            (&cold, "225 °C", Verdict::ReleasedByConcession),
            (&cold, "226 °C", Verdict::Held),
            (&hot, "305 °C", Verdict::ReleasedByConcession),
            (&hot, "304 °C", Verdict::Held),
        ] {
            let id = findings[0].requirement;
            let settled = on(DAY, findings, &[concession(id, Some(bound))]);
            assert_eq!(settled.verdict, verdict, "{bound}");
            let exceeded = verdict == Verdict::Held;
            assert_eq!(remarks(&settled) == ["exceeded"], exceeded, "{bound}");
        }
    }

    #[test]
    fn a_bound_in_another_unit_covers_nothing() {
        let cold = [finding("cold", Class::Major, 240.0, 225.0)];
        let settled = on(DAY, &cold, &[concession("cold", Some("60 mm/s"))]);
        assert_eq!(settled.verdict, Verdict::Held);
        assert_eq!(remarks(&settled), ["unmeasured"]);
        let bare = [Finding {
            amount: None,
            ..cold[0].clone()
        }];
        let settled = on(DAY, &bare, &[concession("cold", Some("200 °C"))]);
        assert_eq!(
            (settled.verdict, remarks(&settled)),
            (Verdict::Held, vec!["unmeasured"])
        );
    }

    #[test]
    fn the_last_day_counts_and_the_next_does_not() {
        let cold = [finding("cold", Class::Major, 240.0, 225.0)];
        let until = "2026-11-24".parse().ok();
        let granted = [Concession {
            until,
            ..concession("cold", None)
        }];
        assert_eq!(
            on("2026-11-24", &cold, &granted).verdict,
            Verdict::ReleasedByConcession
        );
        let settled = on("2026-11-25", &cold, &granted);
        assert_eq!(
            (settled.verdict, remarks(&settled)),
            (Verdict::Held, vec!["expired"])
        );
    }

    #[test]
    fn unused_and_unknown_ones_are_remarked_on() {
        let settled = on(
            DAY,
            &[],
            &[concession("cold", None), concession("cool", None)],
        );
        assert_eq!(remarks(&settled), ["unused", "unknown-requirement"]);
        assert_eq!(settled.verdict, Verdict::Released);
    }

    #[test]
    fn one_for_another_job_is_neither_used_nor_remarked_on() {
        let cold = [finding("cold", Class::Major, 240.0, 225.0)];
        let base = concession("cold", None);
        let others = [
            Concession {
                material: Some("PLA".into()),
                ..base.clone()
            },
            Concession {
                machine: Some("frame".into()),
                ..base.clone()
            },
            Concession {
                job: Some("cup-*.gcode".into()),
                ..base.clone()
            },
            Concession {
                job: Some("out/*".into()),
                ..base.clone()
            },
        ];
        let settled = on(DAY, &cold, &others);
        assert_eq!((settled.verdict, settled.remarks.len()), (Verdict::Held, 0));
        let fitting = Concession {
            material: Some("pa6-cf".into()),
            machine: Some("box".into()),
            job: Some("lid-?.gcode".into()),
            ..base
        };
        assert_eq!(
            on(DAY, &cold, &[fitting]).verdict,
            Verdict::ReleasedByConcession
        );
    }
}
