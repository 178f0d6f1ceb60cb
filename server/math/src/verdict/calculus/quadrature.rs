//! What is the integral of a function between two bounds?
//!
//! By the double exponential substitution t = tanh(π/2 · sinh u) (Takahasi and Mori, Double
//! exponential formulas for numerical integration, 1974), which takes integrable singularities at
//! the ends in its stride; for infinite bounds t = sinh(π/2 · sinh u) and t = exp(π/2 · sinh u).

use super::jet::Jet;

/// A bound of an integral.
#[derive(Clone, Debug)]
pub(super) enum End {
    /// A number, or a function of the variable that jets follow.
    At(Jet),
    /// Plus (`true`) or minus infinity.
    Infinite(bool),
}

/// An integral and how far it can be trusted.
#[derive(Clone, Copy, Debug)]
pub(super) struct Estimate {
    pub(super) value: f64,
    /// What halving the step changed.
    pub(super) error: f64,
}

const HALF_PI: f64 = std::f64::consts::FRAC_PI_2;

/// Levels of halving the step; the finest step is 2⁻ᴸ.
const LEVELS: usize = 7;

/// The integral of a function of one real variable; none where the function has no value at an
/// inner point or the sums do not settle. The function is told the place and its distances from
/// the lower and the upper end, which are more exact than differences.
pub(super) fn integrate(
    from: f64,
    to: f64,
    mut of: impl FnMut(f64) -> Option<f64>,
) -> Option<Estimate> {
    let mut rule = Rule::new(from, to)?;
    let mut previous: Option<f64> = None;
    let mut best: Option<Estimate> = None;
    for level in 0..LEVELS {
        let sum = rule.refine(level, &mut of)?;
        if let Some(previous) = previous {
            let error = (sum - previous).abs();
            let is_better = best.is_none_or(|best: Estimate| error <= best.error);
            if is_better {
                best = Some(Estimate { value: sum, error });
            }
            if level >= 3 && error <= 1e-13 * sum.abs().max(rule.size * 1e-3) {
                break;
            }
        }
        previous = Some(sum);
    }
    best.filter(|best| best.value.is_finite())
}

/// The sums of the rule, refined from level to level.
struct Rule {
    from: f64,
    to: f64,
    sign: f64,
    total: f64,
    /// The same sum of absolute values.
    size: f64,
}

impl Rule {
    fn new(from: f64, to: f64) -> Option<Self> {
        if from.is_nan() || to.is_nan() {
            return None;
        }
        let sign = if from <= to { 1.0 } else { -1.0 };
        let (from, to) = (from.min(to), from.max(to));
        Some(Self {
            from,
            to,
            sign,
            total: 0.0,
            size: 0.0,
        })
    }

    /// The place and weight for the parameter u.
    fn node(&self, u: f64) -> (f64, f64) {
        let (s, c) = (HALF_PI * libm::sinh(u), HALF_PI * libm::cosh(u));
        match (self.from.is_finite(), self.to.is_finite()) {
            (true, true) => {
                let half = (self.to - self.from) / 2.0;
                let cosh = libm::cosh(s);
                // 1 − tanh s, without cancellation.
                let gap = half * libm::exp(-s.abs()) / cosh;
                let place = match s < 0.0 {
                    true => self.from + gap,
                    false => self.to - gap,
                };
                (place, half * c / (cosh * cosh))
            }
            (true, false) => {
                let e = libm::exp(s);
                (self.from + e, c * e)
            }
            (false, true) => {
                let e = libm::exp(s);
                (self.to - e, c * e)
            }
            (false, false) => (libm::sinh(s), c * libm::cosh(s)),
        }
    }

    fn refine(&mut self, level: usize, of: &mut impl FnMut(f64) -> Option<f64>) -> Option<f64> {
        if self.from == self.to {
            return Some(0.0);
        }
        let step = 1.0 / (1_u32 << level) as f64;
        let reach = if self.from.is_finite() && self.to.is_finite() {
            3.3
        } else {
            4.2
        };
        let (mut sum, mut size) = (0.0, 0.0);
        let count = libm::floor(reach / step) as i64;
        for place in -count..=count {
            if level > 0 && place % 2 == 0 {
                continue;
            }
            let (at, weight) = self.node(place as f64 * step);
            if at <= self.from || at >= self.to || !at.is_finite() || weight == 0.0 {
                continue;
            }
            let Some(value) = of(at) else {
                // Beyond the range of numbers near an end: its part is negligible or the integral
                // diverges, which the change from step to step shows.
                let is_far = !(self.from.is_finite() && self.to.is_finite()) && at.abs() > 50.0;
                if is_far || weight < 1e-12 || at.abs() > 1e12 || place.abs() * 2 > count {
                    continue;
                }
                return None;
            };
            sum += value * weight;
            size += (value * weight).abs();
        }
        match level {
            0 => (self.total, self.size) = (sum * step, size * step),
            _ => {
                self.total = self.total / 2.0 + sum * step;
                self.size = self.size / 2.0 + size * step;
            }
        }
        Some(self.sign * self.total)
    }
}

/// The places and weights of Gauss and Legendre's rule with 8 points on [−1, 1], the positive half
/// (Abramowitz and Stegun, table 25.4).
const GAUSS: [(f64, f64); 4] = [
    (0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_48),
    (0.960_289_856_497_536_3, 0.101_228_536_290_376_26),
];

/// The integral as a jet, where bounds and integrand are jets. Smooth integrands over a finite
/// interval only, unless only a value is wanted.
pub(super) fn integrate_jets(
    from: &End,
    to: &End,
    length: usize,
    mut of: impl FnMut(Jet) -> Option<Jet>,
) -> Option<Jet> {
    if let (End::At(from), End::At(to)) = (from, to) {
        let panels: &[u32] = if length == 1 { &[1, 2, 4] } else { &[2, 5, 12] };
        let smooth = by_panels(from, to, length, panels, &mut of);
        if smooth.is_some() || length > 1 {
            return smooth;
        }
    }
    if length > 1 {
        return None;
    }
    let as_number = |end: &End| match end {
        End::At(jet) => jet.value(),
        End::Infinite(true) => f64::INFINITY,
        End::Infinite(false) => f64::NEG_INFINITY,
    };
    let estimate = integrate(as_number(from), as_number(to), |at| {
        Some(of(Jet::constant(at, 1))?.value())
    })?;
    (estimate.error <= 1e-10 * (1.0 + estimate.value.abs()))
        .then(|| Jet::constant(estimate.value, 1))
}

/// By Gauss and Legendre's rule on more and more panels, until the sum settles.
fn by_panels(
    from: &Jet,
    to: &Jet,
    length: usize,
    panels: &[u32],
    of: &mut impl FnMut(Jet) -> Option<Jet>,
) -> Option<Jet> {
    let span = to.subtract(from);
    let mut previous: Option<Jet> = None;
    for panels in panels {
        let mut sum = Jet::constant(0.0, length);
        for panel in 0..*panels {
            for (place, weight) in GAUSS {
                for place in [-place, place] {
                    let share = (f64::from(panel) + (place + 1.0) / 2.0) / f64::from(*panels);
                    let at = from.add(&span.scale(share));
                    let weight = weight / (2.0 * f64::from(*panels));
                    sum.add_to(&of(at)?.multiply(&span).scale(weight));
                }
            }
        }
        if let Some(previous) = &previous {
            let precision = if length == 1 { 1e-12 } else { 1e-10 };
            let settled = (0..length).all(|order| {
                let (new, old) = (sum.coefficient(order), previous.coefficient(order));
                (new - old).abs() <= precision * (1e-3 + new.abs())
            });
            if settled {
                return Some(sum);
            }
        }
        previous = Some(sum);
    }
    None
}
