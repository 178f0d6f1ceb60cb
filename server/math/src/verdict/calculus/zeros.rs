//! Where does a function of one variable vanish?

/// The zeros between two numbers that a grid of so many points shows, by a change of sign or by
/// touching zero, in order. Poles are no zeros.
pub(super) fn zeros(
    low: f64,
    high: f64,
    points: usize,
    of: impl Fn(f64) -> Option<f64>,
) -> Vec<f64> {
    let mut found: Vec<f64> = Vec::new();
    let mut before: [Option<(f64, f64)>; 2] = [None, None];
    for step in 0..=points {
        let at = low + (high - low) * step as f64 / points as f64;
        let now = of(at).map(|value| (at, value));
        if let Some((at, value)) = now {
            if value == 0.0 {
                found.push(at);
            } else if let Some((left, left_value)) = before[1]
                && left_value != 0.0
            {
                if (left_value < 0.0) != (value < 0.0) {
                    found.extend(crossing(left, at, left_value < 0.0, &of));
                } else if let Some((first, first_value)) = before[0]
                    && left_value.abs() < first_value.abs()
                    && left_value.abs() < value.abs()
                {
                    found.extend(touching(first, at, left_value.abs(), &of));
                }
            }
        }
        before = [before[1], now];
    }
    found.sort_by(f64::total_cmp);
    found.dedup_by(|a, b| (*a - *b).abs() <= 1e-7 * (1.0 + a.abs()));
    found
}

fn crossing(
    mut left: f64,
    mut right: f64,
    rising: bool,
    of: &impl Fn(f64) -> Option<f64>,
) -> Option<f64> {
    let start = of(left)?.abs().max(of(right)?.abs());
    for _ in 0..80 {
        let middle = f64::midpoint(left, right);
        let value = of(middle)?;
        if value == 0.0 {
            return Some(middle);
        }
        match (value < 0.0) == rising {
            true => left = middle,
            false => right = middle,
        }
    }
    let middle = f64::midpoint(left, right);
    // At a pole the values grow instead.
    (of(left)?.abs() <= start).then_some(middle)
}

fn touching(
    mut left: f64,
    mut right: f64,
    size: f64,
    of: &impl Fn(f64) -> Option<f64>,
) -> Option<f64> {
    for _ in 0..80 {
        let (a, b) = (left + (right - left) / 3.0, right - (right - left) / 3.0);
        match of(a)?.abs() < of(b)?.abs() {
            true => right = b,
            false => left = a,
        }
    }
    let middle = f64::midpoint(left, right);
    (of(middle)?.abs() <= 1e-10 * size.max(1e-6)).then_some(middle)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_zeros_but_no_poles() {
        let found = zeros(-5.0, 5.0, 200, |x| {
            Some((x * x - 2.0) * (x - 1.03) * (x - 1.03))
        });
        assert_eq!(found.len(), 3, "{found:?}");
        assert!((found[2] - libm::sqrt(2.0)).abs() < 1e-9);
        let poles = zeros(-5.0, 5.0, 201, |x| (x != 0.0).then(|| 1.0 / x));
        assert!(poles.is_empty(), "{poles:?}");
    }
}
