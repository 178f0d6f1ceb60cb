//! What is a number modulo one large prime? Residues of 64 bits tell in no time what big fractions
//! would take long to: that two polynomials have nothing in common.

/// The Mersenne prime 2^61 − 1: the sum of two residues fits into 64 bits.
pub(crate) const PRIME: u64 = (1 << 61) - 1;

/// The product of two residues.
pub(crate) fn product(left: u64, right: u64) -> u64 {
    (u128::from(left) * u128::from(right) % u128::from(PRIME)) as u64
}

/// The residue whose product with this one, which is not 0, is 1, by Fermat's little theorem.
pub(crate) fn inverse(residue: u64) -> u64 {
    let (mut result, mut power, mut exponent) = (1, residue, PRIME - 2);
    while exponent > 0 {
        if exponent & 1 == 1 {
            result = product(result, power);
        }
        power = product(power, power);
        exponent >>= 1;
    }
    result
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_inverse_undoes_a_product() {
        for residue in [1, 2, 3, 1 << 40, PRIME - 1] {
            assert_eq!(product(residue, inverse(residue)), 1, "{residue}");
        }
    }
}
