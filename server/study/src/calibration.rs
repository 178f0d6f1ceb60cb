//! How good past predictions were: what was predicted of exams against what was scored.

use crate::Fraction;
use crate::beta::quantile;

/// Predictions of certainty are scored as if they had left this chance to the other side, so that
/// one surprise does not make the logarithmic score infinite.
const LEAST_CHANCE: f64 = 1e-3;
/// Exams below which the figures say little.
const ENOUGH_EXAMS: u32 = 5;

/// What was predicted for an exam, and what came of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Forecast {
    /// The expected score.
    pub expected: Fraction,
    /// The lower end of the 90% interval of the score.
    pub low: Fraction,
    /// The upper end.
    pub high: Fraction,
    /// The chance to reach the target.
    pub chance: Fraction,
    /// The target.
    pub target: Fraction,
    /// What was scored.
    pub scored: Fraction,
}

/// How the predictions of several exams fared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Calibration {
    /// How many exams.
    pub exams: u32,
    /// The mean of predicted minus scored, from −1 to 1; above 0, the predictions were too high.
    pub bias: f64,
    /// The mean distance of predicted and scored, from 0 to 1.
    pub mean_error: f64,
    /// The mean squared distance of the chance to reach the target and what happened, 1 or 0
    /// (Brier 1950): from 0, the best, to 1; always saying one half gets .25.
    pub brier: f64,
    /// The mean of −ln of the chance that was given to what happened (the logarithmic score, Good
    /// 1952); always saying one half gets .693.
    pub log_score: f64,
    /// How many scores lay within their 90% interval.
    pub within: u32,
    /// What share of intervals may hold their score in the long run, at the lower and upper end of
    /// a 90% interval: .9 should lie between.
    pub coverage: (f64, f64),
    /// Whether there are at least five exams; when not, say that this is too little to tell.
    pub enough_exams: bool,
}

/// The calibration of past predictions; `None` when there is none.
#[must_use]
pub fn calibration(forecasts: &[Forecast]) -> Option<Calibration> {
    let exams = u32::try_from(forecasts.len()).unwrap_or(u32::MAX);
    if exams == 0 {
        return None;
    }
    let mean =
        |of: &dyn Fn(&Forecast) -> f64| forecasts.iter().map(of).sum::<f64>() / f64::from(exams);
    let error = |f: &Forecast| f.expected.get() - f.scored.get();
    let miss = |f: &Forecast| {
        if reached(f) {
            1.0 - f.chance.get()
        } else {
            f.chance.get()
        }
    };
    // Scores and intervals come from divisions by different numbers of points.
    let inside = |f: &&Forecast| {
        f.low.get() - 1e-9 <= f.scored.get() && f.scored.get() <= f.high.get() + 1e-9
    };
    let within = u32::try_from(forecasts.iter().filter(inside).count()).unwrap_or(u32::MAX);
    Some(Calibration {
        exams,
        bias: mean(&error),
        mean_error: mean(&|f| error(f).abs()),
        brier: mean(&|f| miss(f) * miss(f)),
        log_score: mean(&|f| -libm::log((1.0 - miss(f)).max(LEAST_CHANCE))),
        within,
        coverage: jeffreys_interval(within, exams),
        enough_exams: exams >= ENOUGH_EXAMS,
    })
}

fn reached(forecast: &Forecast) -> bool {
    forecast.scored.get() >= forecast.target.get() - 1e-9
}

/// The 90% interval of a rate of which `x` of `n` cases were seen, with Jeffreys's prior; it
/// reaches to 0 or 1 when none or all were seen (Brown, Cai and DasGupta 2001).
fn jeffreys_interval(x: u32, n: u32) -> (f64, f64) {
    let (a, b) = (f64::from(x) + 0.5, f64::from(n - x) + 0.5);
    let low = if x == 0 { 0.0 } else { quantile(a, b, 0.05) };
    let high = if x == n { 1.0 } else { quantile(a, b, 0.95) };
    (low, high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde_json::Value;

    fn fraction(value: f64) -> Fraction {
        Fraction::new(value).expect("from 0 to 1")
    }

    fn forecast(expected: f64, chance: f64, scored: f64) -> Forecast {
        Forecast {
            expected: fraction(expected),
            low: fraction((expected - 0.2).max(0.0)),
            high: fraction((expected + 0.2).min(1.0)),
            chance: fraction(chance),
            target: fraction(0.7),
            scored: fraction(scored),
        }
    }

    fn near(found: f64, expected: f64) {
        assert!(
            (found - expected).abs() < 1e-9,
            "{found}, expected {expected}"
        );
    }

    #[test]
    fn nothing_predicted_is_not_calibrated() {
        assert_eq!(calibration(&[]), None);
    }

    #[test]
    fn figures_by_hand() {
        let past = [
            forecast(0.8, 0.9, 0.7),
            forecast(0.5, 0.2, 0.6),
            forecast(0.9, 0.8, 0.5),
        ];
        let found = calibration(&past).expect("three exams");
        near(found.bias, (0.1 - 0.1 + 0.4) / 3.0);
        near(found.mean_error, 0.2);
        near(found.brier, (0.01 + 0.04 + 0.64) / 3.0);
        near(
            found.log_score,
            -(0.9f64.ln() + 0.8f64.ln() + 0.2f64.ln()) / 3.0,
        );
        assert_eq!(
            (found.exams, found.within, found.enough_exams),
            (3, 2, false)
        );
        assert!(calibration(&[past[0]; 5]).expect("five exams").enough_exams);
    }

    #[test]
    fn always_one_half_gets_a_quarter() {
        let found = calibration(&[forecast(0.5, 0.5, 0.9)]).expect("an exam");
        near(found.brier, 0.25);
        near(found.log_score, core::f64::consts::LN_2);
    }

    #[test]
    fn certainty_that_fails_is_not_infinitely_bad() {
        let found = calibration(&[forecast(0.9, 1.0, 0.0)]).expect("an exam");
        near(found.log_score, -libm::log(1e-3));
        near(found.brier, 1.0);
    }

    /// 40-digit mpmath values, cross-checked with scipy to 1e-10.
    #[test]
    fn intervals_of_a_rate_agree_with_the_worked_values() {
        let vectors: Value = serde_json::from_str(include_str!("../tests/data/vectors.json"))
            .expect("the vectors are JSON");
        let cases = vectors["jeffreys"].as_array().expect("cases");
        assert_eq!(cases.len(), 4);
        for case in cases {
            let whole = |key: &str| u32::try_from(case[key].as_u64().expect("whole")).expect("u32");
            assert_eq!(case["level"], 0.9);
            let (low, high) = jeffreys_interval(whole("x"), whole("n"));
            near(low, case["jeffreys"][0].as_f64().expect("a number"));
            near(high, case["jeffreys"][1].as_f64().expect("a number"));
        }
    }

    proptest! {
        #[test]
        fn figures_stay_in_range(past in prop::collection::vec([0.0f64..=1.0, 0.0..=1.0, 0.0..=1.0], 1..20)) {
            let past: Vec<Forecast> = past.iter().map(|&[e, c, s]| forecast(e, c, s)).collect();
            let found = calibration(&past).expect("an exam");
            prop_assert!((-1.0..=1.0).contains(&found.bias));
            prop_assert!(found.bias.abs() <= found.mean_error + 1e-12 && found.mean_error <= 1.0);
            prop_assert!((0.0..=1.0).contains(&found.brier));
            prop_assert!(found.log_score >= 0.0 && found.log_score < 7.0);
            prop_assert!(found.within <= found.exams);
            let (low, high) = found.coverage;
            prop_assert!(0.0 <= low && low < high && high <= 1.0);
        }
    }
}
