//! How often a thing comes again.

/// The mean number of events an animal has had by a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeanCount {
    /// The time.
    pub time: f64,
    /// Mean number of events by then.
    pub mean: f64,
    /// Its standard error (Lawless and Nadeau 1995).
    pub se: f64,
}

/// The mean cumulative count over time: each animal with the times of its events and the time it was followed to; two
/// events at one time both count (Nelson 1995). None of none.
pub fn mean_cumulative(animals: &[(Vec<f64>, f64)]) -> Option<Vec<MeanCount>> {
    let bad = |(events, end): &(Vec<f64>, f64)| {
        !end.is_finite() || events.iter().any(|event| !event.is_finite() || event > end)
    };
    if animals.is_empty() || animals.iter().any(bad) {
        return None;
    }
    let mut times: Vec<f64> = animals.iter().flat_map(|(events, _)| events).copied().collect();
    times.sort_by(f64::total_cmp);
    times.dedup();
    let (mut mean, mut off, mut counts) = (0.0, vec![0.0; animals.len()], Vec::new());
    for time in times {
        let at_risk = animals.iter().filter(|(_, end)| *end >= time).count() as f64;
        let of = |events: &[f64]| events.iter().filter(|event| event.total_cmp(&time).is_eq()).count() as f64;
        let step = animals.iter().map(|(events, _)| of(events)).sum::<f64>() / at_risk;
        mean += step;
        for ((events, end), off) in animals.iter().zip(&mut off) {
            if *end >= time {
                *off += (of(events) - step) / at_risk;
            }
        }
        counts.push(MeanCount { time, mean, se: off.iter().map(|off: &f64| off * off).sum::<f64>().sqrt() });
    }
    Some(counts)
}
