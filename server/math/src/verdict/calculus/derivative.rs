//! Is this the derivative?

use super::Context;
use super::jet::Jet;
use super::program::{Budget, Leaves, Program, compile, symbol_expression};
use super::quantity::{Quantity, all};
use super::question::{self, Claim, NamedDerivative, named_derivative};
use super::sample;
use crate::expression::{Expression, Operator, Symbol};
use crate::verdict::Verdict;

/// What is to be differentiated, as far as the statement says.
pub(super) struct Asked {
    pub(super) body: Expression,
    /// The letters of the function, the first being the usual one.
    pub(super) variables: Vec<Symbol>,
    /// By which letters, and how often.
    pub(super) by: Vec<(Symbol, u32)>,
    /// The body is the derivative itself, by another letter than the function's.
    pub(super) parametric: bool,
    /// Values for letters where the derivative is wanted.
    pub(super) at: Vec<(Symbol, Expression)>,
}

pub(super) fn judge(context: &Context<'_>) -> Verdict {
    if context.question.says(&[
        "nth derivative",
        "n-th derivative",
        "$ th derivative",
        "$ -th derivative",
        "$th derivative",
    ]) {
        return Verdict::cannot_tell("derivatives of any order are not checked");
    }
    let Some(mut asked) = parametric(context).or_else(|| asked(context)) else {
        return Verdict::cannot_tell("it is not clear what is to be differentiated");
    };
    if context
        .question
        .says(&["slope of the normal", "slope of a normal"])
    {
        let [(by, 1)] = asked.by.as_slice() else {
            return Verdict::cannot_tell("the slope of the normal line is not checked here");
        };
        let Some(slope) = crate::derivative::derivative(&asked.body, by) else {
            return Verdict::cannot_tell("the derivative could not be taken");
        };
        asked.body = Expression::fraction(Expression::integer(-1), slope);
        asked.by[0].1 = 0;
        asked.parametric = true;
    }
    let claims = &context.reply.claims;
    if claims.is_empty() {
        return Verdict::cannot_tell("the answer holds no formula");
    }
    let unlabelled = claims.iter().filter(|claim| claim.label.is_none()).count();
    let verdicts = claims.iter().enumerate().map(|(place, claim)| {
        let asked = match &claim.label {
            Some(label) => labelled(&asked, label),
            // Two answers without names: the partial derivatives, in the order of the letters.
            None if unlabelled > 1 && asked.variables.len() == unlabelled => Some(Asked {
                by: vec![(asked.variables[place].clone(), 1)],
                body: asked.body.clone(),
                variables: asked.variables.clone(),
                parametric: asked.parametric,
                at: asked.at.clone(),
            }),
            None if unlabelled > 1 => None,
            None => Some(Asked {
                body: asked.body.clone(),
                variables: asked.variables.clone(),
                by: asked.by.clone(),
                parametric: asked.parametric,
                at: asked.at.clone(),
            }),
        };
        match asked {
            Some(asked) => hold(context, &asked, claim),
            None => Verdict::cannot_tell("it is not clear which derivative is meant"),
        }
    });
    all(verdicts.collect::<Vec<_>>())
}

/// What the statement asks to differentiate, how often, by what, and where.
pub(super) fn asked(context: &Context<'_>) -> Option<Asked> {
    let question = context.question;
    let (mut body, mut variables, mut by) = (None, Vec::new(), Vec::new());
    // d/dx of a formula.
    for formula in &question.formulas {
        let written = match formula.as_equation() {
            Some((left, _)) => left,
            None => formula,
        };
        if let (Operator::Derivative(orders), [inner, letters @ ..]) =
            (written.operator(), written.operands())
            && named_derivative(written).is_none()
        {
            body = Some(inner.clone());
            for (letter, order) in letters.iter().zip(&orders.orders) {
                by.push((letter.as_symbol()?.clone(), *order));
            }
            break;
        }
    }
    if body.is_none() {
        if let Some(definition) = question.definitions.first() {
            body = Some(definition.body.clone());
            variables = definition.variables.clone();
        } else {
            let is_body = |formula: &&Expression| {
                !matches!(
                    formula.operator(),
                    Operator::Relation(_) | Operator::Tuple(_) | Operator::Interval(_)
                ) && formula.as_symbol().is_none()
                    && named_derivative(formula).is_none()
                    && crate::surface::number(formula).is_none()
            };
            body = question.formulas.iter().find(is_body).cloned();
        }
    }
    let body = question.expanded(&body?);
    let mentioned = question::variables(&body);
    if variables.is_empty() {
        variables = match by.first() {
            Some((letter, _)) => vec![letter.clone()],
            None => mentioned,
        };
    }
    if variables.is_empty() {
        // The derivative of a constant.
        variables.push(Symbol::new("x"));
    }
    let mut at = Vec::new();
    let mut order = order_in_words(&question.words);
    for formula in &question.formulas {
        if let Some(named) = named_derivative(formula) {
            if by.is_empty() {
                for (letter, order) in &named.by {
                    let letter = letter.clone().unwrap_or_else(|| variables[0].clone());
                    by.push((letter, *order));
                }
            }
            at.extend(places(&named, &variables)?);
        }
        if let Some((left, right)) = formula.as_equation()
            && let Some(letter) = left.as_symbol()
            && variables.contains(letter)
            && question.definition(letter).is_none()
        {
            at.push((letter.clone(), right.clone()));
        }
        if let Operator::Tuple(_) | Operator::Interval(_) = formula.operator()
            && question.says(&["at the point", "at $", "at the given point"])
        {
            for (letter, value) in variables.iter().zip(formula.operands()) {
                at.push((letter.clone(), value.clone()));
            }
        }
    }
    if by.is_empty() {
        if let Some(letter) = respected(context, &variables) {
            by.push((letter, order));
        } else {
            by.push((variables[0].clone(), order));
        }
    } else if order > 1 && by.len() == 1 && by[0].1 == 1 {
        by[0].1 = std::mem::take(&mut order);
    }
    // `z = x^2 y`, `x = t`, `y = t^3`: what is differentiated depends on t through x and y.
    let mut body = body;
    let is_inner = |letter: &Symbol| by.iter().all(|(by, _)| by != letter);
    if by.iter().any(|(letter, _)| !body.mentions(letter)) {
        for letter in body.free_symbols() {
            if is_inner(&letter)
                && let Some(inner) = question.definition(&letter)
                && by.iter().any(|(by, _)| inner.body.mentions(by))
            {
                body = body.substitute(&letter, &inner.body);
            }
        }
        variables = by.iter().map(|(letter, _)| letter.clone()).collect();
    }
    Some(Asked {
        body,
        variables,
        by,
        parametric: false,
        at,
    })
}

/// dy/dx of a curve that is given by x and y as functions of another letter.
fn parametric(context: &Context<'_>) -> Option<Asked> {
    let question = context.question;
    // `dz/dt` is no slope of the curve.
    let is_of_other = |named: NamedDerivative| {
        let function = named.function.as_symbol();
        function.is_some_and(|f| !["y", "f", "x"].contains(&f.name()))
    };
    let mut named = question.formulas.iter().filter_map(named_derivative);
    if named.any(is_of_other) {
        return None;
    }
    let of = |name: &str| {
        let definition = question.definition(&Symbol::new(name))?;
        Some(definition.body.clone())
    };
    let (x, y) = match (of("x"), of("y")) {
        (Some(x), Some(y)) => (x, y),
        (None, None) => polar(context)?,
        _ => return None,
    };
    let mut letters = x.free_symbols();
    letters.extend(y.free_symbols());
    let letter = ["t", "θ", "u", "s"]
        .into_iter()
        .map(Symbol::new)
        .find(|s| letters.contains(s))?;
    let slope = |body: &Expression| crate::derivative::derivative(body, &letter);
    let along = slope(&x)?;
    let mut body = Expression::fraction(slope(&y)?, along.clone());
    if order_in_words(&question.words) == 2
        || question
            .formulas
            .iter()
            .filter_map(named_derivative)
            .any(|named| named.order() == 2)
    {
        body = Expression::fraction(slope(&body)?, along);
    }
    let at = question.formulas.iter().filter_map(|formula| {
        let (left, right) = formula.as_equation()?;
        (left.as_symbol() == Some(&letter)).then(|| (letter.clone(), right.clone()))
    });
    Some(Asked {
        body,
        variables: vec![letter.clone()],
        by: vec![(letter.clone(), 0)],
        parametric: true,
        at: at.collect(),
    })
}

/// x and y of a curve r = f(θ), where its slope in the plane is asked for.
fn polar(context: &Context<'_>) -> Option<(Expression, Expression)> {
    let question = context.question;
    let r = question.definition(&Symbol::new("r"))?;
    let angle = r.body.free_symbols().into_iter().next()?;
    let by_x = |formula: &Expression| {
        named_derivative(formula).is_some_and(|named| {
            let is_y = named.function.as_symbol().is_some_and(|y| y.name() == "y");
            is_y && named
                .by
                .iter()
                .all(|(by, _)| by.as_ref().is_some_and(|letter| letter.name() == "x"))
        })
    };
    let asks = question.says(&["slope", "tangent", "dy/dx"]) || question.formulas.iter().any(by_x);
    if !asks || !["θ", "t"].contains(&angle.name()) || r.body.free_symbols().len() != 1 {
        return None;
    }
    let along = |function: crate::expression::Function| {
        let turned = Expression::function(function, symbol_expression(&angle));
        Expression::product([r.body.clone(), turned])
    };
    Some((
        along(crate::expression::Function::Cos),
        along(crate::expression::Function::Sin),
    ))
}

/// "with respect to `$t$`" or "with respect to t".
fn respected(context: &Context<'_>, variables: &[Symbol]) -> Option<Symbol> {
    let words = &context.question.words;
    let after = words.split("respect to ").nth(1)?;
    let word = after.split_whitespace().next()?;
    if word.starts_with('$') {
        // Formulas are numbered by the marks before this one.
        let before = words.len() - after.len();
        let place = words[..before].matches('$').count();
        return context.question.formulas.get(place)?.as_symbol().cloned();
    }
    let word = word.trim_matches(|c: char| !c.is_alphanumeric());
    variables
        .iter()
        .find(|letter| letter.name() == word)
        .cloned()
}

fn order_in_words(words: &str) -> u32 {
    let orders = [
        ("second derivative", 2),
        ("acceleration", 2),
        ("third derivative", 3),
        ("fourth derivative", 4),
        ("fifth derivative", 5),
        ("f''''", 4),
        ("f'''", 3),
        ("f''", 2),
        ("y'''", 3),
        ("y''", 2),
        ("d^2y/dx^2", 2),
        ("d²y/dx²", 2),
    ];
    orders
        .iter()
        .find(|(phrase, _)| words.contains(phrase))
        .map_or(1, |(_, order)| *order)
}

fn places(named: &NamedDerivative, variables: &[Symbol]) -> Option<Vec<(Symbol, Expression)>> {
    let mut at = Vec::new();
    for (place, (letter, value)) in named.at.iter().enumerate() {
        let letter = match letter {
            Some(letter) => letter.clone(),
            None => variables.get(place)?.clone(),
        };
        if value.as_symbol() != Some(&letter) {
            at.push((letter, value.clone()));
        }
    }
    Some(at)
}

/// What the name of a claim says that it is; none if it names something else.
fn labelled(asked: &Asked, label: &Expression) -> Option<Asked> {
    let mut wanted = Asked {
        body: asked.body.clone(),
        variables: asked.variables.clone(),
        by: asked.by.clone(),
        parametric: asked.parametric,
        at: asked.at.clone(),
    };
    let Some(named) = named_derivative(label) else {
        // `m = 3` for a slope; but `y = ...` is not a derivative.
        // Velocity and acceleration have names of their own.
        let name = match (label.operator(), label.operands()) {
            (Operator::Apply, [name, _]) => name.as_symbol()?,
            _ => label.as_symbol()?,
        };
        match name.name() {
            "m" => {}
            "v" => wanted.by.iter_mut().for_each(|(_, order)| *order = 1),
            "a" => wanted.by.iter_mut().for_each(|(_, order)| *order = 2),
            _ => return None,
        }
        return Some(wanted);
    };
    if asked.parametric {
        return Some(wanted);
    }
    wanted.by = named
        .by
        .iter()
        .map(|(letter, order)| {
            let letter = letter.clone().unwrap_or_else(|| asked.by[0].0.clone());
            (letter, *order)
        })
        .collect();
    if !named.at.is_empty() {
        let at = places(&named, &asked.variables)?;
        // `f'(x) = ...` where f'(2) is asked is a step on the way.
        wanted.at = at;
    }
    Some(wanted)
}

/// The derivative as a function of the leaves, which begin with the variables.
struct Derivative {
    program: Program,
    by: Vec<(usize, u32)>,
}

impl Derivative {
    fn value(&self, leaves: &[f64], budget: &Budget) -> Option<f64> {
        match self.by.as_slice() {
            [] => self.program.value(leaves, budget),
            [(place, order)] => {
                let length = *order as usize + 1;
                let jets: Vec<Jet> = leaves
                    .iter()
                    .enumerate()
                    .map(|(at, value)| match at == *place {
                        true => Jet::variable(*value, length),
                        false => Jet::constant(*value, length),
                    })
                    .collect();
                let jet = self.program.jet(&jets, length, budget)?;
                Some(jet.derivative(*order as usize))
            }
            _ => None,
        }
    }
}

/// The greatest order that is followed.
const MAX_ORDER: u32 = 40;

fn hold(context: &Context<'_>, asked: &Asked, claim: &Claim) -> Verdict {
    if asked.by.iter().map(|(_, order)| *order).sum::<u32>() > MAX_ORDER {
        return Verdict::cannot_tell(super::program::TOO_LARGE);
    }
    // All but the last letter are differentiated by on paper.
    let mut body = asked.body.clone();
    let mut by: Vec<(Symbol, u32)> = Vec::new();
    for (letter, order) in &asked.by {
        match by.last_mut() {
            Some((last, sum)) if last == letter => *sum += order,
            _ => by.push((letter.clone(), *order)),
        }
    }
    while by.len() > 1 {
        let (letter, order) = by.remove(0);
        for _ in 0..order {
            match crate::derivative::derivative(&body, &letter) {
                Some(next) if next.size() < 5_000 => body = next,
                Some(_) => return Verdict::cannot_tell(super::program::TOO_LARGE),
                None => return Verdict::cannot_tell("the derivative could not be taken"),
            }
        }
    }
    let mut leaves = Leaves::of_symbols(&asked.variables);
    for (letter, _) in &by {
        leaves.place(&symbol_expression(letter));
    }
    let program = match compile(&body, &mut leaves) {
        Ok(program) => program,
        Err(reason) => return Verdict::cannot_tell(reason),
    };
    let by = by
        .iter()
        .map(|(letter, order)| (leaves.place(&symbol_expression(letter)), *order))
        .collect();
    let derivative = Derivative { program, by };
    let mut fixed: Vec<(usize, Program)> = Vec::new();
    let mut rest = Leaves::default();
    for (letter, value) in &asked.at {
        match compile(&context.question.expanded(value), &mut rest) {
            Ok(value) => fixed.push((leaves.place(&symbol_expression(letter)), value)),
            Err(reason) => return Verdict::cannot_tell(reason),
        }
    }
    // The leaves that stay free come first among those of the quantity.
    let free: Vec<(usize, usize)> = leaves
        .as_slice()
        .iter()
        .enumerate()
        .filter(|(place, _)| fixed.iter().all(|(known, _)| known != place))
        .filter(|(_, leaf)| body.parts().any(|part| part == *leaf))
        .map(|(place, leaf)| (place, rest.place(leaf)))
        .collect();
    let count = leaves.len();
    let value = |places: &[f64]| {
        let mut all = vec![0.0; count];
        for (place, at) in &free {
            all[*place] = *places.get(*at)?;
        }
        for (place, value) in &fixed {
            all[*place] = value.value(places, context.budget)?;
        }
        derivative.value(&all, context.budget)
    };
    let quantity = Quantity {
        name: "the derivative",
        leaves: rest,
        variables: asked.variables.iter().map(symbol_expression).collect(),
        smooth: sample::is_smooth(&body),
        tolerance: 0.0,
        value: &value,
    };
    quantity.judge(context, &with_definitions(context, claim))
}

/// A claim with the letters that the statement defines put in: `y' = 2y/x` where `y = x^2`.
fn with_definitions(context: &Context<'_>, claim: &Claim) -> Claim {
    let mut claim = claim.clone();
    for definition in &context.question.definitions {
        if definition.variables.is_empty() {
            for value in &mut claim.values {
                *value = value.substitute(&definition.name, &definition.body);
            }
        }
    }
    claim
}
