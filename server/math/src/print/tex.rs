//! TeX that reads back as what was written.

use super::{Tightness, function_name, tightness};
use crate::expression::{
    Accent, Bounds, Brackets, Connective, Constant, Expression, Function, Operator, Quantifier,
    Relation, SeriesOperator, SeriesRange, SetOperation, Side, Style, Symbol, Written,
    write_digits,
};

/// How much is done against misreading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Care {
    /// As a person would write.
    Pretty,
    /// With every sign and bracket that might be needed.
    Safe,
}

pub(super) fn write(expression: &Expression, care: Care) -> String {
    let mut writer = Writer {
        out: String::new(),
        care,
    };
    writer.write(expression);
    writer.out
}

struct Writer {
    out: String,
    care: Care,
}

impl Writer {
    fn push(&mut self, text: &str) {
        // A command must not run into a letter.
        let ends_in_command = {
            let letters = self
                .out
                .bytes()
                .rev()
                .take_while(u8::is_ascii_alphabetic)
                .count();
            letters > 0 && self.out[..self.out.len() - letters].ends_with('\\')
        };
        let both_letters = self.out.ends_with(|c: char| c.is_ascii_alphabetic())
            && text.starts_with(|c: char| c.is_ascii_alphabetic());
        if both_letters || ends_in_command && text.starts_with(|c: char| c.is_ascii_alphabetic()) {
            self.out.push(' ');
        }
        self.out.push_str(text);
    }

    fn group(&mut self, expression: &Expression) {
        self.push("{");
        self.write(expression);
        self.push("}");
    }

    fn brackets(&mut self, expression: &Expression) {
        let is_tall = expression.parts().any(|part| {
            matches!(
                part.operator(),
                Operator::Fraction | Operator::Matrix(_) | Operator::Integral(_)
            )
        });
        self.push(if is_tall { "\\left(" } else { "(" });
        self.write(expression);
        self.push(if is_tall { "\\right)" } else { ")" });
    }

    fn within(&mut self, expression: &Expression, at_least: Tightness) {
        match tightness(expression) < at_least {
            true => self.brackets(expression),
            false => self.write(expression),
        }
    }

    fn joined(&mut self, items: &[Expression], between: &str, at_least: Tightness) {
        for (place, item) in items.iter().enumerate() {
            if place > 0 {
                self.push(between);
            }
            self.within(item, at_least);
        }
    }

    // One function for each family of operators, as in plain text.

    fn write(&mut self, expression: &Expression) {
        match (expression.operator(), expression.operands()) {
            (Operator::Number(number), _) => {
                let mut digits = String::new();
                // Writing to a string does not fail.
                let _ = write_digits(&mut digits, &number.value(), number.written());
                match number.written() {
                    Written::Repeating { .. } => {
                        let digits = digits.replace('(', "\\overline{").replace(')', "}");
                        self.push(&digits);
                    }
                    Written::Exact if digits.contains('/') => {
                        let (above, below) = digits.split_once('/').unwrap_or((&digits, "1"));
                        let fraction = format!("\\frac{{{above}}}{{{below}}}");
                        self.push(&fraction);
                    }
                    _ => self.push(&digits),
                }
            }
            (Operator::Symbol(symbol), _) => self.symbol(symbol),
            (Operator::Constant(constant), _) => self.push(constant_name(*constant)),
            (Operator::Text(text), _) if text == "$" => self.push("\\$"),
            (Operator::Text(text), _) => self.push(&format!("\\text{{{text}}}")),
            (Operator::Opaque(tex), _) => self.push(&format!(" {tex} ")),
            (Operator::Hole, _) => self.push("\\square"),
            (Operator::Ellipsis, _) => self.push("\\dots"),
            _ => self.arithmetic(expression),
        }
    }

    fn arithmetic(&mut self, expression: &Expression) {
        match (expression.operator(), expression.operands()) {
            (Operator::Sum, terms) => self.sum(terms),
            (Operator::Product, factors) => self.product(factors),
            (Operator::Negative, [operand]) => self.sign("-", operand),
            (Operator::PlusMinus, [operand]) => self.sign("\\pm", operand),
            (Operator::MinusPlus, [operand]) => self.sign("\\mp", operand),
            (Operator::Fraction, [numerator, denominator]) => {
                self.push("\\frac");
                self.group(numerator);
                self.group(denominator);
            }
            (Operator::Mixed, [whole, numerator, denominator]) => {
                self.write(whole);
                self.push("\\frac");
                self.group(numerator);
                self.group(denominator);
            }
            (Operator::Power, [base, exponent]) => self.power(base, exponent),
            (Operator::Root, [radicand]) => {
                self.push("\\sqrt");
                self.group(radicand);
            }
            (Operator::NthRoot, [radicand, degree]) => {
                self.push("\\sqrt[");
                self.write(degree);
                self.push("]");
                self.group(radicand);
            }
            (Operator::Percent, [operand]) => {
                self.within(operand, Tightness::Atom);
                self.push("\\%");
            }
            (Operator::Degrees, [operand]) => {
                self.within(operand, Tightness::Atom);
                self.push("^{\\circ}");
            }
            (Operator::Ratio, terms) => self.joined(terms, " : ", Tightness::Sum),
            (Operator::Function(function), arguments) => self.function(*function, arguments, None),
            (Operator::Apply, [function, arguments @ ..]) => self.apply(function, arguments),
            (Operator::InverseFunction, [function]) => {
                self.within(function, Tightness::Atom);
                self.push("^{-1}");
            }
            (Operator::Composition, functions) => {
                self.joined(functions, " \\circ ", Tightness::Power);
            }
            _ => self.calculus(expression),
        }
    }

    fn calculus(&mut self, expression: &Expression) {
        match (expression.operator(), expression.operands()) {
            (Operator::Indexed, [letter, indices @ ..]) => {
                self.within(letter, Tightness::Atom);
                self.push("_{");
                self.joined(indices, ", ", Tightness::Statement);
                self.push("}");
            }
            (Operator::Prime(order), [function]) => {
                self.atom(function);
                match order {
                    1..=3 => self.push(&"'".repeat(*order as usize)),
                    _ => self.push(&format!("^{{({order})}}")),
                }
            }
            (Operator::NthPrime, [function, order]) => {
                self.within(function, Tightness::Atom);
                self.push("^{(");
                self.write(order);
                self.push(")}");
            }
            (Operator::Derivative(by), [operand, variables @ ..]) => {
                self.derivative(by.partial, &by.orders, operand, variables);
            }
            (Operator::Differential, [variable]) => {
                self.push(if self.care == Care::Pretty {
                    "d"
                } else {
                    "\\mathrm{d}"
                });
                self.differential_variable(variable);
            }
            (Operator::Integral(integration), [body, rest @ ..]) => {
                self.push(match (integration.closed, integration.signs) {
                    (true, 1) => "\\oint",
                    (true, _) => "\\oiint",
                    (false, 1) => "\\int",
                    (false, 2) => "\\iint",
                    (false, _) => "\\iiint",
                });
                let (variables, bounds) =
                    rest.split_at((integration.variables as usize).min(rest.len()));
                self.bounds(integration.bounds, bounds);
                self.push(" ");
                let at_least = if variables.is_empty() {
                    Tightness::Sum
                } else {
                    Tightness::Product
                };
                self.within(body, at_least);
                for variable in variables {
                    self.push("\\,d");
                    self.differential_variable(variable);
                }
            }
            (Operator::Limit(side), [body, variable, point]) => {
                self.push("\\lim_{");
                self.write(variable);
                self.push(" \\to ");
                match side {
                    Side::Both => self.write(point),
                    Side::Below | Side::Above => {
                        self.within(point, Tightness::Atom);
                        self.push(if *side == Side::Below { "^{-}" } else { "^{+}" });
                    }
                }
                self.push("} ");
                self.body(body);
            }
            (Operator::Series(operator, range), [body, rest @ ..]) => {
                self.push(match operator {
                    SeriesOperator::Sum => "\\sum",
                    SeriesOperator::Product => "\\prod",
                    SeriesOperator::Union => "\\bigcup",
                    SeriesOperator::Intersection => "\\bigcap",
                });
                match (range, rest) {
                    (SeriesRange::Between, [index, from, to]) => {
                        self.push("_{");
                        self.write(index);
                        self.push("=");
                        self.write(from);
                        self.push("}^");
                        self.group(to);
                    }
                    (SeriesRange::From, [index, from]) => {
                        self.push("_{");
                        self.write(index);
                        self.push("=");
                        self.write(from);
                        self.push("}");
                    }
                    (_, [condition]) => {
                        self.push("_");
                        self.group(condition);
                    }
                    _ => {}
                }
                self.push(" ");
                self.body(body);
            }
            (Operator::EvaluatedAt, [operand, lower, upper]) => {
                self.push("\\left[");
                self.write(operand);
                self.push("\\right]_");
                self.group(lower);
                self.push("^");
                self.group(upper);
            }
            (Operator::EvaluatedAt, [operand, at]) => {
                self.push("\\left.");
                self.write(operand);
                self.push("\\right|_");
                self.group(at);
            }
            _ => self.statement(expression),
        }
    }

    fn statement(&mut self, expression: &Expression) {
        match (expression.operator(), expression.operands()) {
            (Operator::Relation(relations), sides) => {
                for (place, side) in sides.iter().enumerate() {
                    if place > 0 {
                        let relation = relations.get(place - 1).copied().unwrap_or(Relation::Equal);
                        self.push(&format!(" {} ", relation_command(relation)));
                    }
                    match side.operator() {
                        Operator::Ratio => self.write(side),
                        _ => self.within(side, Tightness::Sum),
                    }
                }
            }
            (Operator::Modulo, [statement, modulus]) => {
                self.within(statement, Tightness::Relation);
                self.push(" \\pmod");
                self.group(modulus);
            }
            (Operator::Logic(Connective::Not), [statement]) => {
                self.push("\\neg ");
                self.within(statement, Tightness::Power);
            }
            (Operator::Logic(connective), statements) => {
                let sign = match connective {
                    Connective::Implies => " \\implies ",
                    Connective::ImpliedBy => " \\impliedby ",
                    Connective::Iff => " \\iff ",
                    Connective::And => " \\text{ and } ",
                    Connective::Or => " \\text{ or } ",
                    Connective::Not => " \\neg ",
                };
                self.joined(statements, sign, Tightness::Relation);
            }
            (Operator::Quantified(quantifier), [binding, statement]) => {
                self.push(match quantifier {
                    Quantifier::ForAll => "\\forall ",
                    Quantifier::Exists => "\\exists ",
                    Quantifier::ExistsUnique => "\\exists! ",
                });
                self.within(binding, Tightness::Relation);
                self.push(",\\ ");
                self.within(statement, Tightness::Statement);
            }
            (Operator::Given, [event, condition]) => {
                self.within(event, Tightness::Relation);
                self.push(" \\text{ if } ");
                self.within(condition, Tightness::Relation);
            }
            _ => self.collection(expression),
        }
    }

    fn collection(&mut self, expression: &Expression) {
        match (expression.operator(), expression.operands()) {
            (Operator::List, items) => self.joined(items, ", ", Tightness::Statement),
            (Operator::System, rows) => {
                self.push("\\begin{cases}");
                self.joined(rows, " \\\\ ", Tightness::Statement);
                self.push("\\end{cases}");
            }
            (Operator::Piecewise, rows) => {
                self.push("\\begin{cases}");
                for (place, row) in rows.chunks(2).enumerate() {
                    if place > 0 {
                        self.push(" \\\\ ");
                    }
                    self.within(&row[0], Tightness::Statement);
                    if let Some(condition) = row.get(1) {
                        let is_text = matches!(condition.operator(), Operator::Text(_));
                        self.push(if is_text { " & " } else { " & \\text{if } " });
                        self.write(condition);
                    }
                }
                self.push("\\end{cases}");
            }
            (Operator::Matrix(shape), entries) => match shape.rule {
                None => self.matrix("bmatrix", shape.columns, entries),
                Some(rule) => {
                    let columns = |count: u32| "c".repeat(count as usize);
                    self.push(&format!(
                        "\\left[\\begin{{array}}{{{}|{}}}",
                        columns(rule),
                        columns(shape.columns.saturating_sub(rule))
                    ));
                    self.rows(shape.columns, entries);
                    self.push("\\end{array}\\right]");
                }
            },
            (Operator::Tuple(brackets), components) => {
                let (open, close) = match brackets {
                    Brackets::Round => ("(", ")"),
                    Brackets::Angle => ("\\langle ", "\\rangle "),
                    Brackets::Square => ("[", "]"),
                };
                self.push(open);
                self.joined(components, ", ", Tightness::Statement);
                self.push(close);
            }
            (Operator::Set, members) => {
                self.push("\\{");
                self.joined(members, ", ", Tightness::Statement);
                self.push("\\}");
            }
            (Operator::SetBuilder, [element, condition]) => {
                self.push("\\{");
                self.write(element);
                self.push(" : ");
                self.write(condition);
                self.push("\\}");
            }
            (Operator::Interval(ends), [lower, upper]) => {
                self.push(if ends.lower_closed { "[" } else { "(" });
                self.write(lower);
                self.push(", ");
                self.write(upper);
                self.push(if ends.upper_closed { "]" } else { ")" });
            }
            (Operator::SetOperation(operation), sets) => {
                let sign = match operation {
                    SetOperation::Union => " \\cup ",
                    SetOperation::Intersection => " \\cap ",
                    SetOperation::Difference => " \\setminus ",
                    SetOperation::Product => " \\times ",
                    SetOperation::DirectSum => " \\oplus ",
                };
                self.joined(sets, sign, Tightness::Product);
            }
            (Operator::Dot, [left, right]) => {
                self.within(left, Tightness::Product);
                self.push(" \\cdot ");
                self.within(right, Tightness::Prefix);
            }
            (Operator::Cross, [left, right]) => {
                self.within(left, Tightness::Product);
                self.push(" \\times ");
                self.within(right, Tightness::Prefix);
            }
            // Operands that do not fit the layout.
            (_, operands) => self.joined(operands, ", ", Tightness::Statement),
        }
    }

    /// What a limit or a sum is taken of.
    fn body(&mut self, body: &Expression) {
        self.within(body, Tightness::Product);
    }

    fn bounds(&mut self, kind: Bounds, bounds: &[Expression]) {
        match (kind, bounds) {
            (Bounds::Between, [lower, upper]) => {
                self.push("_");
                self.group(lower);
                self.push("^");
                self.group(upper);
            }
            (Bounds::Region, [region]) => {
                self.push("_");
                self.group(region);
            }
            _ => {}
        }
    }

    fn differential_variable(&mut self, variable: &Expression) {
        // `dx` is one sign: no space in it.
        let mut writer = Writer {
            out: String::new(),
            care: self.care,
        };
        writer.within(variable, Tightness::Atom);
        self.out.push_str(&writer.out);
    }

    fn sum(&mut self, terms: &[Expression]) {
        for (place, term) in terms.iter().enumerate() {
            let (sign, operand) = match (term.operator(), term.operands()) {
                (Operator::Negative, [operand]) => ("-", operand),
                (Operator::PlusMinus, [operand]) => ("\\pm", operand),
                (Operator::MinusPlus, [operand]) => ("\\mp", operand),
                _ => ("+", term),
            };
            match (place, sign) {
                (0, "+") => {}
                (0, "-") => self.push("-"),
                _ => self.push(&format!(" {sign} ")),
            }
            self.term(operand, place + 1 == terms.len());
        }
    }

    /// A term; what reaches to the right as far as it can is enclosed unless it is last.
    fn term(&mut self, term: &Expression, last: bool) {
        let reaches = matches!(
            term.operator(),
            Operator::Limit(_) | Operator::Series(..) | Operator::Integral(_)
        ) || matches!(term.operator(), Operator::Product)
            && term.operands().last().is_some_and(|factor| {
                matches!(
                    factor.operator(),
                    Operator::Limit(_) | Operator::Series(..) | Operator::Integral(_)
                )
            });
        match reaches && !last && self.care == Care::Safe {
            true => self.brackets(term),
            false => self.within(term, Tightness::Product),
        }
    }

    fn sign(&mut self, sign: &str, operand: &Expression) {
        self.push(sign);
        if sign.len() > 1 {
            self.push(" ");
        }
        self.within(operand, Tightness::Product);
    }

    fn product(&mut self, factors: &[Expression]) {
        for (place, factor) in factors.iter().enumerate() {
            let last = place + 1 == factors.len();
            if place > 0 {
                self.between(&factors[place - 1], factor);
            }
            let reaches = matches!(
                factor.operator(),
                Operator::Limit(_) | Operator::Series(..) | Operator::Integral(_)
            ) || matches!(factor.operator(), Operator::Derivative(_))
                && factor
                    .operands()
                    .first()
                    .is_some_and(|operand| operand.as_symbol().is_none());
            let ends_argument = last
                || factors.get(place + 1).is_some_and(|next| {
                    self.care == Care::Pretty && is_function_power(next) && mentions_letter(factor)
                });
            match reaches && !last {
                true => self.brackets(factor),
                false => self.factor(factor, ends_argument),
            }
        }
    }

    /// Writes a factor; `ends_argument` says that an argument without brackets ends here.
    fn factor(&mut self, factor: &Expression, ends_argument: bool) {
        match (factor.operator(), factor.operands()) {
            (Operator::Differential, _) => self.write(factor),
            // An argument without brackets would take in the next factor.
            (Operator::Function(function), arguments) if tightness(factor) == Tightness::Prefix => {
                if ends_argument {
                    self.write(factor);
                } else {
                    self.function_in_brackets(*function, arguments, None);
                }
            }
            (Operator::Power, [base, exponent]) if !ends_argument => match base.operator() {
                Operator::Function(function)
                    if tightness(base) == Tightness::Prefix && is_natural(exponent) =>
                {
                    self.function_in_brackets(*function, base.operands(), Some(exponent));
                }
                _ => self.write(factor),
            },
            _ => self.within(factor, Tightness::Prefix),
        }
    }

    /// The sign between two factors, if one is needed.
    fn between(&mut self, left: &Expression, right: &Expression) {
        if matches!(right.operator(), Operator::Differential) {
            self.push("\\,");
            return;
        }
        if left.is_vector() && right.is_vector() || matches!(right.operator(), Operator::Text(_)) {
            self.push(" ");
            return;
        }
        let is_name = |expression: &Expression| {
            matches!(
                expression.operator(),
                Operator::Symbol(_) | Operator::Constant(_) | Operator::Indexed
            )
        };
        let starts_simply = match right.operator() {
            Operator::Power => right.operands().first().is_some_and(is_name),
            _ => is_name(right),
        };
        let is_prefix = match (right.operator(), right.operands()) {
            // `\sin^2 x` is written like `\sin x`.
            (Operator::Power, [base, exponent]) => {
                tightness(base) == Tightness::Prefix && is_natural(exponent)
            }
            _ => tightness(right) == Tightness::Prefix,
        };
        let is_sum = match right.operator() {
            Operator::Sum => true,
            Operator::Power => right
                .operands()
                .first()
                .is_some_and(|base| base.operator() == &Operator::Sum),
            Operator::Function(Function::Abs) => matches!(left.operator(), Operator::Number(_)),
            _ => false,
        };
        let pretty = match left.operator() {
            Operator::Number(_) => {
                starts_simply
                    || is_prefix
                    || is_sum
                    || matches!(
                        right.operator(),
                        Operator::Root | Operator::NthRoot | Operator::Apply
                    )
                    || matches!(right.operator(), Operator::Prime(_))
            }
            Operator::Symbol(_)
            | Operator::Constant(_)
            | Operator::Power
            | Operator::Indexed
            | Operator::Sum
            | Operator::Root => {
                starts_simply
                    || is_prefix
                    || is_sum
                    || matches!(
                        right.operator(),
                        Operator::Root | Operator::Fraction | Operator::Apply | Operator::Prime(_)
                    )
            }
            Operator::Fraction | Operator::Apply | Operator::Prime(_) => {
                starts_simply
                    || is_prefix
                    || is_sum
                    || matches!(
                        right.operator(),
                        Operator::Root | Operator::Apply | Operator::Prime(_)
                    )
            }
            Operator::Ellipsis => true,
            Operator::Function(_) => is_prefix || starts_simply,
            _ => false,
        };
        let is_d = left.as_symbol().is_some_and(|symbol| symbol.name() == "d");
        match pretty && self.care == Care::Pretty && !is_d {
            true => {}
            false => self.push(" \\cdot "),
        }
    }

    fn power(&mut self, base: &Expression, exponent: &Expression) {
        if let Operator::Function(function) = base.operator()
            && tightness(base) == Tightness::Prefix
            && !matches!(function, Function::LogBase)
            && is_natural(exponent)
        {
            self.function(*function, base.operands(), Some(exponent));
            return;
        }
        let is_atom = matches!(
            base.operator(),
            Operator::Symbol(_)
                | Operator::Constant(_)
                | Operator::Apply
                | Operator::Indexed
                | Operator::Ellipsis
                | Operator::Hole
                | Operator::Matrix(_)
        ) || matches!(base.operator(), Operator::Number(number) if !matches!(number.written(), Written::Repeating { .. }));
        match is_atom && !(self.care == Care::Safe && base.as_symbol().is_some()) {
            true => self.write(base),
            false => self.brackets(base),
        }
        self.exponent(exponent);
    }

    fn exponent(&mut self, exponent: &Expression) {
        let is_short = exponent.operands().is_empty() && {
            let text = write(exponent, self.care);
            text.len() == 1
        };
        self.push("^");
        match is_short && self.care == Care::Pretty {
            true => {
                let text = write(exponent, self.care);
                self.out.push_str(&text);
            }
            false => self.group(exponent),
        }
    }

    fn function(
        &mut self,
        function: Function,
        arguments: &[Expression],
        power: Option<&Expression>,
    ) {
        // A number and letters need no brackets.
        let is_simple = |argument: &Expression| match argument.operator() {
            Operator::Symbol(symbol) => symbol.name().chars().count() == 1,
            Operator::Constant(_) => true,
            Operator::Product => {
                argument.operands().len() == 2
                    && argument.operands()[0].as_number().is_some()
                    && argument.operands()[1].as_symbol().is_some()
            }
            _ => false,
        };
        let has_name = tightness_of(function) == Tightness::Prefix
            && !matches!(
                function,
                Function::Gradient
                    | Function::Divergence
                    | Function::Curl
                    | Function::Laplacian
                    | Function::Change
            );
        match arguments {
            [argument] if has_name && is_simple(argument) && self.care == Care::Pretty => {
                self.function_name(function);
                if let Some(power) = power {
                    self.exponent(power);
                }
                self.push(" ");
                self.write(argument);
            }
            _ => self.function_in_brackets(function, arguments, power),
        }
    }

    fn function_name(&mut self, function: Function) {
        let name = function_name(function);
        let known = matches!(
            function,
            Function::Arccot
                | Function::Arcsec
                | Function::Arccsc
                | Function::Sech
                | Function::Csch
                | Function::Arsinh
                | Function::Arcosh
                | Function::Artanh
                | Function::Arcoth
                | Function::Arsech
                | Function::Arcsch
                | Function::Sign
                | Function::Lcm
                | Function::Erf
                | Function::Trace
                | Function::Rank
                | Function::Variance
                | Function::RealPart
                | Function::ImaginaryPart
        );
        match known {
            true => self.push(&format!("\\operatorname{{{name}}}")),
            false => self.push(&format!("\\{name}")),
        }
    }

    fn function_in_brackets(
        &mut self,
        function: Function,
        arguments: &[Expression],
        power: Option<&Expression>,
    ) {
        match (function, arguments) {
            (Function::Abs | Function::Cardinality, [inside]) => {
                self.push("\\left|");
                self.write(inside);
                self.push("\\right|");
            }
            (Function::Norm, [inside]) => match inside.operator() {
                Operator::Matrix(shape) => {
                    self.matrix("Vmatrix", shape.columns, inside.operands());
                }
                _ => {
                    self.push("\\left\\|");
                    self.write(inside);
                    self.push("\\right\\|");
                }
            },
            (Function::Floor, [inside]) => {
                self.push("\\lfloor ");
                self.write(inside);
                self.push("\\rfloor ");
            }
            (Function::Ceiling, [inside]) => {
                self.push("\\lceil ");
                self.write(inside);
                self.push("\\rceil ");
            }
            (Function::Determinant, [inside])
                if matches!(inside.operator(), Operator::Matrix(_)) =>
            {
                if let Operator::Matrix(shape) = inside.operator() {
                    self.matrix("vmatrix", shape.columns, inside.operands());
                }
            }
            (Function::Factorial, [operand]) => {
                self.atom(operand);
                self.push("!");
            }
            (Function::DoubleFactorial, [operand]) => {
                self.atom(operand);
                self.push("!!");
            }
            (Function::Binomial, [n, k]) => {
                self.push("\\binom");
                self.group(n);
                self.group(k);
            }
            (Function::LogBase, [argument, base]) => {
                self.push("\\log_");
                self.group(base);
                if let Some(power) = power {
                    self.exponent(power);
                }
                self.brackets(argument);
            }
            (Function::Remainder, [dividend, divisor]) => {
                self.within(dividend, Tightness::Product);
                self.push(" \\bmod ");
                self.within(divisor, Tightness::Prefix);
            }
            (Function::Transpose, [operand]) => {
                self.atom(operand);
                self.push("^{\\top}");
            }
            (Function::Complement | Function::Conjugate, [operand]) => {
                self.push("\\overline");
                self.group(operand);
            }
            (Function::Gradient, [operand]) => self.operator("\\nabla ", operand),
            (Function::Divergence, [operand]) => self.operator("\\nabla \\cdot ", operand),
            (Function::Curl, [operand]) => self.operator("\\nabla \\times ", operand),
            (Function::Laplacian, [operand]) => self.operator("\\nabla^2 ", operand),
            (Function::Change, [operand]) => self.operator("\\Delta ", operand),
            (_, [given]) if matches!(given.operator(), Operator::Given) => {
                let [body, condition] = given.operands() else {
                    return;
                };
                self.function_name(function);
                self.push("_");
                self.group(condition);
                self.brackets(body);
            }
            _ => {
                self.function_name(function);
                if let Some(power) = power {
                    self.exponent(power);
                }
                match arguments {
                    [argument] => self.brackets(argument),
                    _ => {
                        self.push("(");
                        self.joined(arguments, ", ", Tightness::Statement);
                        self.push(")");
                    }
                }
            }
        }
    }

    fn operator(&mut self, sign: &str, operand: &Expression) {
        self.push(sign);
        self.within(operand, Tightness::Power);
    }

    fn atom(&mut self, operand: &Expression) {
        let is_atom =
            operand.operands().is_empty() || matches!(operand.operator(), Operator::Matrix(_));
        match is_atom {
            true => self.write(operand),
            false => self.brackets(operand),
        }
    }

    fn apply(&mut self, function: &Expression, arguments: &[Expression]) {
        let is_named = matches!(
            function.operator(),
            Operator::Symbol(_)
                | Operator::Prime(_)
                | Operator::NthPrime
                | Operator::InverseFunction
                | Operator::Indexed
                | Operator::Derivative(_)
        );
        match is_named {
            true => self.write(function),
            false => self.brackets(function),
        }
        let is_transform = function.parts().any(|part| {
            part.as_symbol()
                .is_some_and(|symbol| symbol.style() == Style::Calligraphic)
        });
        self.push(if is_transform { "\\left\\{" } else { "(" });
        match arguments {
            [given] if matches!(given.operator(), Operator::Given) => {
                self.joined(given.operands(), " \\mid ", Tightness::Statement);
            }
            _ => self.joined(arguments, ", ", Tightness::Statement),
        }
        self.push(if is_transform { "\\right\\}" } else { ")" });
    }

    fn derivative(
        &mut self,
        partial: bool,
        orders: &[u32],
        operand: &Expression,
        variables: &[Expression],
    ) {
        let sign = if partial { "\\partial " } else { "d" };
        let order = |order: u32| match order {
            1 => String::new(),
            order => format!("^{order}"),
        };
        let total: u32 = orders.iter().sum();
        let is_letter = operand.as_symbol().is_some();
        let mut above = format!("{}{}", sign.trim_end(), order(total));
        if is_letter {
            if partial {
                above.push(' ');
            }
            above.push_str(&write(operand, self.care));
        }
        let mut below = String::new();
        for (variable, times) in variables.iter().zip(orders) {
            if !below.is_empty() {
                below.push_str("\\,");
            }
            below.push_str(sign);
            below.push_str(&write(variable, self.care));
            below.push_str(&order(*times));
        }
        self.push(&format!("\\frac{{{above}}}{{{below}}}"));
        if !is_letter {
            self.push("\\left[");
            self.write(operand);
            self.push("\\right]");
        }
    }

    fn matrix(&mut self, name: &str, columns: u32, entries: &[Expression]) {
        self.push(&format!("\\begin{{{name}}}"));
        self.rows(columns, entries);
        self.push(&format!("\\end{{{name}}}"));
    }

    fn rows(&mut self, columns: u32, entries: &[Expression]) {
        for (place, row) in entries.chunks(columns.max(1) as usize).enumerate() {
            if place > 0 {
                self.push(" \\\\ ");
            }
            self.joined(row, " & ", Tightness::Statement);
        }
    }

    fn symbol(&mut self, symbol: &Symbol) {
        let name = symbol.name();
        let is_single = name.chars().count() == 1;
        let mut text = match symbol.style() {
            _ if name.starts_with('∂') => format!("\\partial {}", name.trim_start_matches('∂')),
            _ if name.starts_with('∠') => format!("\\angle {}", name.trim_start_matches('∠')),
            _ if name.starts_with('△') => format!("\\triangle {}", name.trim_start_matches('△')),
            Style::Plain => letters(name.trim_end_matches('*')),
            Style::Bold => format!("\\mathbf{{{}}}", letters(name)),
            Style::Roman if is_single => format!("\\mathrm{{{name}}}"),
            Style::Roman => format!("\\operatorname{{{name}}}"),
            Style::Calligraphic => format!("\\mathcal{{{name}}}"),
            Style::Blackboard => format!("\\mathbb{{{name}}}"),
            Style::Fraktur => format!("\\mathfrak{{{name}}}"),
        };
        let accent = match symbol.accent() {
            Accent::None => "",
            Accent::Vector if is_single => "\\vec",
            Accent::Vector => "\\overrightarrow",
            Accent::Hat => "\\hat",
            Accent::Bar if is_single => "\\bar",
            Accent::Bar => "\\overline",
            Accent::Tilde => "\\tilde",
        };
        if !accent.is_empty() {
            text = format!("{accent}{{{text}}}");
        }
        self.push(&text);
        if name.ends_with('*') {
            self.push("^{*}");
        }
        match symbol.subscript() {
            "" => {}
            subscript => {
                let is_plain = subscript.chars().all(|c| c.is_ascii_digit())
                    || subscript.chars().count() == 1 && !"ijklmnN".contains(subscript);
                self.push(&match is_plain {
                    true if subscript.len() == 1 => format!("_{}", letters(subscript)),
                    true => format!("_{{{}}}", letters(subscript)),
                    false => format!("_{{\\text{{{subscript}}}}}"),
                });
            }
        }
    }
}

fn tightness_of(function: Function) -> Tightness {
    tightness(&Expression::function(function, Expression::symbol("x")))
}

/// A function before its argument, or a power of one.
fn is_function_power(factor: &Expression) -> bool {
    let function = match (factor.operator(), factor.operands()) {
        (Operator::Power, [base, exponent]) if is_natural(exponent) => base,
        _ => factor,
    };
    matches!(function.operator(), Operator::Function(_)) && tightness(function) == Tightness::Prefix
}

fn mentions_letter(expression: &Expression) -> bool {
    expression.parts().any(|part| part.as_symbol().is_some())
}

/// A small positive integer, as is written above a function's name.
fn is_natural(exponent: &Expression) -> bool {
    exponent
        .as_number()
        .and_then(|number| number.as_i64())
        .is_some_and(|n| n > 1)
}

/// A name of letters, with commands for Greek ones.
fn letters(name: &str) -> String {
    let mut out = String::new();
    for letter in name.chars() {
        match greek(letter) {
            Some(command) => {
                out.push('\\');
                out.push_str(command);
            }
            None => {
                if out.contains('\\') && letter.is_ascii_alphabetic() {
                    out.push(' ');
                }
                out.push(letter);
            }
        }
    }
    out
}

fn greek(letter: char) -> Option<&'static str> {
    Some(match letter {
        'α' => "alpha",
        'β' => "beta",
        'γ' => "gamma",
        'δ' => "delta",
        'ε' => "epsilon",
        'ζ' => "zeta",
        'η' => "eta",
        'θ' => "theta",
        'ι' => "iota",
        'κ' => "kappa",
        'λ' => "lambda",
        'μ' => "mu",
        'ν' => "nu",
        'ξ' => "xi",
        'ρ' => "rho",
        'σ' => "sigma",
        'τ' => "tau",
        'υ' => "upsilon",
        'φ' => "phi",
        'χ' => "chi",
        'ψ' => "psi",
        'ω' => "omega",
        'ϕ' => "varphi",
        'ϑ' => "vartheta",
        'ϱ' => "varrho",
        'ς' => "varsigma",
        'ϖ' => "varpi",
        'Γ' => "Gamma",
        'Δ' => "Delta",
        'Θ' => "Theta",
        'Λ' => "Lambda",
        'Ξ' => "Xi",
        'Π' => "Pi",
        'Σ' => "Sigma",
        'Υ' => "Upsilon",
        'Φ' => "Phi",
        'Ψ' => "Psi",
        'Ω' => "Omega",
        'ℓ' => "ell",
        'ı' => "imath",
        'ȷ' => "jmath",
        _ => return None,
    })
}

fn constant_name(constant: Constant) -> &'static str {
    match constant {
        Constant::Pi => "\\pi",
        Constant::E => "e",
        Constant::I => "i",
        Constant::Infinity => "\\infty",
        Constant::EmptySet => "\\emptyset",
        Constant::Naturals => "\\mathbb{N}",
        Constant::Integers => "\\mathbb{Z}",
        Constant::Rationals => "\\mathbb{Q}",
        Constant::Reals => "\\mathbb{R}",
        Constant::Complexes => "\\mathbb{C}",
        Constant::True => "\\top",
        Constant::False => "\\bot",
    }
}

fn relation_command(relation: Relation) -> &'static str {
    match relation {
        Relation::Equal => "=",
        Relation::NotEqual => "\\ne",
        Relation::Less => "<",
        Relation::LessOrEqual => "\\le",
        Relation::Greater => ">",
        Relation::GreaterOrEqual => "\\ge",
        Relation::Approximately => "\\approx",
        Relation::Equivalent => "\\equiv",
        Relation::Similar => "\\sim",
        Relation::Congruent => "\\cong",
        Relation::Proportional => "\\propto",
        Relation::Defined => ":=",
        Relation::In => "\\in",
        Relation::NotIn => "\\notin",
        Relation::Contains => "\\ni",
        Relation::Subset => "\\subset",
        Relation::SubsetOrEqual => "\\subseteq",
        Relation::NotSubset => "\\not\\subset",
        Relation::Superset => "\\supset",
        Relation::SupersetOrEqual => "\\supseteq",
        Relation::To => "\\to",
        Relation::MapsTo => "\\mapsto",
        Relation::Colon => ":",
        Relation::Perpendicular => "\\perp",
        Relation::Parallel => "\\parallel",
        Relation::Divides => "\\mid",
        Relation::DoesNotDivide => "\\nmid",
        Relation::MuchLess => "\\ll",
        Relation::MuchGreater => "\\gg",
    }
}
