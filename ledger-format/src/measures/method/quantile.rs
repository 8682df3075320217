//! Quantiles of the beta distribution, by halving: the library's own search does not end for large parameters.

use statrs::distribution::{Beta, ContinuousCDF};

/// Halvings after which a number between 0 and 1 cannot be told better.
const HALVINGS: u32 = 100;

/// The share under which `p` of beta(`a`, `b`) lies. None unless both parameters are positive.
pub fn beta(p: f64, a: f64, b: f64) -> Option<f64> {
    let of = Beta::new(a, b).ok()?;
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if of.cdf(middle) < p {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(f64::midpoint(low, high))
}

#[cfg(test)]
mod tests {
    use super::beta;

    #[test]
    fn large_parameters_have_quantiles() {
        // scipy 1.17.1, beta.ppf.
        for (p, a, b, expected) in [
            (0.025, 10.0, 1.0, 0.691_502_892_181_239_5),
            (0.975, 1.0, 50.0, 0.071_121_736_464_197_64),
            (0.025, 17_000.0, 43_000.0, 0.279_734_601_861_629_96),
            (0.975, 17_000.0, 43_000.0, 0.286_945_745_901_286_9),
        ] {
            let found = beta(p, a, b).unwrap();
            assert!((found - expected).abs() < 1e-10, "{p} {a} {b}: {found}");
        }
    }
}
