//! Time to an event where some are not followed to it.

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::{Limits, proportion};

/// How limits of a curve are made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Interval {
    /// S ± z · se; may leave 0 to 1, where it is cut.
    Plain,
    /// On the log of S.
    Log,
    /// On the log of −log S: stays in 0 to 1. The default.
    LogLog,
}

/// A step of a curve: a time with at least one event.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// The time.
    pub time: f64,
    /// Followed until just before it.
    pub at_risk: u64,
    /// Events at it.
    pub events: u64,
    /// Share without an event after it.
    pub survival: f64,
    /// Greenwood's standard error of that share.
    pub se: f64,
    /// Limits of it; none where the share is 0 or 1 and the method has none.
    pub limits: Option<Limits>,
}

/// The share without an event over time (Kaplan and Meier 1958).
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// The steps, by time.
    pub steps: Vec<Step>,
    /// How many were followed at all.
    pub followed: u64,
    /// The first time at which half have had it; where the share is exactly one half, midway to the next event. None
    /// if it is not reached.
    pub median: Option<f64>,
    /// The first times at which the lower and the upper limit are at or under one half.
    pub median_limits: (Option<f64>, Option<f64>),
}

impl Curve {
    /// The last step up to a time; none before the first event.
    pub fn at(&self, time: f64) -> Option<&Step> {
        self.steps.iter().take_while(|step| step.time <= time).last()
    }
}

/// The curve of times followed, each with whether it ended in the event. Events come before ends of following at one
/// time. None of none, or where a time is negative or no number.
pub fn kaplan_meier(followed: &[(f64, bool)], interval: Interval, level: f64) -> Option<Curve> {
    let times = by_time(followed)?;
    let z = proportion::z_of(level);
    let (mut steps, mut survival, mut sum, mut at_risk) = (Vec::new(), 1.0, 0.0, times.len() as u64);
    for (time, ends) in at_one_time(&times) {
        let events = ends.iter().filter(|(_, event)| *event).count() as u64;
        if events > 0 {
            survival *= 1.0 - events as f64 / at_risk as f64;
            sum += events as f64 / (at_risk as f64 * (at_risk - events) as f64);
            let se = if survival > 0.0 { survival * f64::sqrt(sum) } else { 0.0 };
            let limits = limits(survival, sum, z, interval);
            steps.push(Step { time, at_risk, events, survival, se, limits });
        }
        at_risk -= ends.len() as u64;
    }
    let under = |of: fn(&Limits) -> f64| steps.iter().find(|step| step.limits.is_some_and(|limits| of(&limits) <= 0.5));
    let median_limits =
        (under(|limits| limits.lower).map(|step| step.time), under(|limits| limits.upper).map(|step| step.time));
    Some(Curve { median: median(&steps), median_limits, followed: times.len() as u64, steps })
}

/// Times followed, the shortest first. None of none, or where a time is negative or no number.
fn by_time<T: Clone>(followed: &[(f64, T)]) -> Option<Vec<(f64, T)>> {
    let is_time = |(time, _): &(f64, T)| time.is_finite() && *time >= 0.0;
    let mut times = followed.to_vec();
    times.sort_by(|a, b| a.0.total_cmp(&b.0));
    (!times.is_empty() && times.iter().all(is_time)).then_some(times)
}

/// Each time, with all that end at it.
fn at_one_time<T>(sorted: &[(f64, T)]) -> impl Iterator<Item = (f64, &[(f64, T)])> {
    sorted.chunk_by(|a, b| b.0 <= a.0).map(|ends| (ends[0].0, ends))
}

fn limits(s: f64, sum: f64, z: f64, interval: Interval) -> Option<Limits> {
    if s <= 0.0 {
        return None;
    }
    let (se, spread) = (s * sum.sqrt(), z * sum.sqrt());
    let cut = |lower: f64, upper: f64| Limits { lower: lower.max(0.0), upper: upper.min(1.0) };
    match interval {
        Interval::Plain => Some(cut(s - z * se, s + z * se)),
        Interval::Log => Some(cut(s * (-spread).exp(), s * spread.exp())),
        Interval::LogLog if s >= 1.0 => None,
        Interval::LogLog => {
            let power = spread / s.ln();
            Some(Limits { lower: s.powf((-power).exp()), upper: s.powf(power.exp()) })
        }
    }
}

fn median(steps: &[Step]) -> Option<f64> {
    let at = steps.iter().position(|step| step.survival <= 0.5 + 1e-12)?;
    let is_half = (steps[at].survival - 0.5).abs() <= 1e-12;
    match steps.get(at + 1).filter(|_| is_half) {
        Some(next) => Some(f64::midpoint(steps[at].time, next.time)),
        None => Some(steps[at].time),
    }
}

/// What ended the following of one animal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// The event asked for.
    Event,
    /// Something else, after which it cannot come: she left.
    Other,
    /// Following only stopped.
    Followed,
}

/// A step of a cumulative incidence: time, and the share that had the event by then.
pub type Incidence = Vec<(f64, f64)>;

/// The share that had the event over time where something else can end it first (Aalen and Johansen 1978). A step at
/// every time with an event or another end. None of none.
pub fn aalen_johansen(followed: &[(f64, End)]) -> Option<Incidence> {
    let times = by_time(followed)?;
    let (mut free, mut incidence, mut steps, mut at_risk) = (1.0, 0.0, Vec::new(), times.len() as f64);
    for (time, ends) in at_one_time(&times) {
        let count = |what: End| ends.iter().filter(|(_, end)| *end == what).count() as f64;
        let (events, others) = (count(End::Event), count(End::Other));
        if events + others > 0.0 {
            incidence += free * events / at_risk;
            free *= 1.0 - (events + others) / at_risk;
            steps.push((time, incidence));
        }
        at_risk -= ends.len() as f64;
    }
    Some(steps)
}

/// A log-rank test of two groups.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LogRank {
    /// Chi-square, one degree of freedom.
    pub chi2: f64,
    /// Chance of so much or more.
    pub p: f64,
    /// Events seen in each group.
    pub observed: [u64; 2],
    /// Events that each would have had if both were alike.
    pub expected: [f64; 2],
}

/// Whether two groups have the event at the same pace (Mantel 1966). None where there is no event, or a group is empty.
pub fn log_rank(first: &[(f64, bool)], second: &[(f64, bool)]) -> Option<LogRank> {
    let mut times: Vec<f64> = first.iter().chain(second).filter(|(_, event)| *event).map(|(time, _)| *time).collect();
    times.sort_by(f64::total_cmp);
    times.dedup();
    if first.is_empty() || second.is_empty() || times.iter().any(|time| !time.is_finite()) {
        return None;
    }
    let (mut observed, mut expected, mut total, mut variance) = (0, 0.0, 0, 0.0);
    for time in &times {
        let at_risk = |group: &[(f64, bool)]| group.iter().filter(|(other, _)| other >= time).count() as f64;
        let events = |group: &[(f64, bool)]| {
            group.iter().filter(|(other, event)| *event && other.total_cmp(time).is_eq()).count() as u64
        };
        let (n1, n2, d1) = (at_risk(first), at_risk(second), events(first));
        let (n, d) = (n1 + n2, d1 + events(second));
        observed += d1;
        total += d;
        expected += d as f64 * n1 / n;
        if n > 1.0 {
            variance += d as f64 * (n1 / n) * (n2 / n) * (n - d as f64) / (n - 1.0);
        }
    }
    let chi2 = (observed as f64 - expected).powi(2) / variance;
    let p = ChiSquared::new(1.0).ok().filter(|_| variance > 0.0)?.sf(chi2);
    Some(LogRank { chi2, p, observed: [observed, total - observed], expected: [expected, total as f64 - expected] })
}
