//! Chance from a seed, the same on every machine.

/// A generator: SplitMix64 (S. Vigna, public domain; from memory).
pub struct Random(u64);

impl Random {
    /// From a seed.
    pub fn new(seed: u64) -> Random {
        Random(seed)
    }

    /// Any 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A number below `n`; 0 for `n` = 0.
    pub fn below(&mut self, n: usize) -> usize {
        match n {
            0 => 0,
            n => (self.bits() % n as u64) as usize,
        }
    }

    /// One of a list that is not empty.
    pub fn one_of<'a, T: ?Sized>(&mut self, list: &[&'a T]) -> &'a T {
        list[self.below(list.len())]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_seed_gives_the_same_numbers_again() {
        let numbers = |seed| {
            let mut random = Random::new(seed);
            [random.bits(), random.bits(), random.bits()]
        };
        assert_eq!(numbers(3), numbers(3));
        assert_ne!(numbers(3), numbers(4));
        assert_eq!(Random::new(1).below(0), 0);
    }
}
