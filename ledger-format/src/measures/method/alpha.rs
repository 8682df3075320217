//! Krippendorff's alpha: any number of people, with gaps.

/// How far two values are apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Metric {
    /// The same or not.
    Nominal,
    /// By how many values given lie between.
    Ordinal,
    /// By their difference, squared.
    Interval,
    /// By their difference over their sum, squared.
    Ratio,
}

/// Alpha of things, each with the values that people gave it (Krippendorff 2004). None where no thing has two values,
/// or all values are one.
pub fn krippendorff(things: &[Vec<f64>], metric: Metric) -> Option<f64> {
    let pairable: Vec<&Vec<f64>> = things.iter().filter(|values| values.len() > 1).collect();
    let mut values: Vec<f64> = pairable.iter().flat_map(|values| values.iter()).copied().collect();
    values.sort_by(f64::total_cmp);
    values.dedup();
    if values.len() < 2 || values.iter().any(|value| !value.is_finite()) {
        return None;
    }
    let place = |value: &f64| values.partition_point(|other| other < value);
    let mut pairs = vec![vec![0.0; values.len()]; values.len()];
    for given in &pairable {
        let share = 1.0 / (given.len() - 1) as f64;
        for (nth, one) in given.iter().enumerate() {
            for (_, other) in given.iter().enumerate().filter(|(at, _)| *at != nth) {
                pairs[place(one)][place(other)] += share;
            }
        }
    }
    let sums: Vec<f64> = pairs.iter().map(|row| row.iter().sum()).collect();
    let n: f64 = sums.iter().sum();
    let (mut seen, mut expected) = (0.0, 0.0);
    for (i, row) in pairs.iter().enumerate() {
        for (j, cell) in row.iter().enumerate() {
            let apart = apart(metric, &values, &sums, i, j);
            seen += cell * apart;
            expected += sums[i] * sums[j] * apart;
        }
    }
    (expected > 0.0).then(|| 1.0 - (n - 1.0) * seen / expected)
}

fn apart(metric: Metric, values: &[f64], sums: &[f64], i: usize, j: usize) -> f64 {
    let (low, high) = (i.min(j), i.max(j));
    let gap = values[high] - values[low];
    match metric {
        _ if low == high => 0.0,
        Metric::Nominal => 1.0,
        Metric::Ordinal => (sums[low..=high].iter().sum::<f64>() - f64::midpoint(sums[low], sums[high])).powi(2),
        Metric::Interval => gap * gap,
        Metric::Ratio => (gap / (values[high] + values[low])).powi(2),
    }
}
