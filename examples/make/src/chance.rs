//! Chance that is the same on every machine and for ever: `SplitMix64` with whole numbers only.

/// A stream of chance. Life, work and handwriting each draw from their own, so that another way of
/// typing a line does not make another cow lame.
#[derive(Clone, Debug)]
pub(crate) struct Chance(u64);

impl Chance {
    /// The stream of this name for this seed.
    pub(crate) fn new(seed: u64, stream: &str) -> Self {
        let mut chance = Self(seed);
        for byte in stream.bytes() {
            chance.0 = chance.0.rotate_left(9) ^ u64::from(byte);
            chance.next();
        }
        chance
    }

    /// `SplitMix64` (Steele, Lea and Flood 2014), in its public-domain form.
    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number below `limit`, which is at least 1.
    pub(crate) fn below(&mut self, limit: u32) -> u32 {
        (((self.next() >> 32) * u64::from(limit)) >> 32) as u32
    }

    /// A number from `low` to `high`, both included.
    pub(crate) fn between(&mut self, low: u32, high: u32) -> u32 {
        low + self.below(high - low + 1)
    }

    /// Days from `low` to `high`.
    pub(crate) fn days(&mut self, low: u32, high: u32) -> chrono::Days {
        chrono::Days::new(u64::from(self.between(low, high)))
    }

    /// Yes, this many times in a thousand.
    pub(crate) fn permille(&mut self, times: u32) -> bool {
        self.below(1_000) < times
    }

    /// Yes, this many times in a million.
    pub(crate) fn in_a_million(&mut self, times: u32) -> bool {
        self.below(1_000_000) < times
    }

    /// One of these.
    pub(crate) fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[self.below(from.len() as u32) as usize]
    }

    /// One of these, each as often as its weight says.
    pub(crate) fn weighted<T: Copy>(&mut self, from: &[(u32, T)]) -> T {
        let mut left = self.below(from.iter().map(|(weight, _)| weight).sum());
        for (weight, value) in from {
            if left < *weight {
                return *value;
            }
            left -= weight;
        }
        from[0].1
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn streams_differ_and_repeat() {
        let draw = |seed, stream| {
            let mut chance = Chance::new(seed, stream);
            [chance.next(), chance.next()]
        };
        assert_eq!(draw(1, "life"), draw(1, "life"));
        assert_ne!(draw(1, "life"), draw(1, "work"));
        assert_ne!(draw(1, "life"), draw(2, "life"));
    }

    #[test]
    fn numbers_stay_in_their_range() {
        let mut chance = Chance::new(3, "range");
        assert!((0..1_000).all(|_| (4..=9).contains(&chance.between(4, 9))));
        assert!((0..1_000).all(|_| chance.weighted(&[(1, 'a'), (0, 'b'), (2, 'c')]) != 'b'));
    }
}
