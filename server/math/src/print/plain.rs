//! Unicode text on one line.

use super::{Tightness, function_name, tightness};
use crate::expression::{
    Accent, Bounds, Brackets, Connective, Constant, Expression, Function, Integration, Operator,
    Quantifier, SeriesOperator, SeriesRange, SetOperation, Side, Style, Symbol, Written,
    write_digits,
};

// One function for each family of operators: in one function for all, the temporaries of every
// arm would make its frame too large for the depth of trees.

pub(super) fn write(out: &mut String, expression: &Expression) {
    match (expression.operator(), expression.operands()) {
        (Operator::Number(number), _) => {
            // Writing to a string does not fail.
            let _ = write_digits(out, &number.value(), number.written());
            if let Written::Repeating { .. } = number.written() {
                out.push('…');
            }
        }
        (Operator::Symbol(symbol), _) => write_symbol(out, symbol),
        (Operator::Constant(constant), _) => out.push_str(constant_name(*constant)),
        (Operator::Text(text), _) => out.push_str(text),
        (Operator::Opaque(tex), _) => out.push_str(&cleaned(tex)),
        (Operator::Hole, _) => out.push('□'),
        (Operator::Ellipsis, _) => out.push('…'),
        _ => write_arithmetic(out, expression),
    }
}

fn write_arithmetic(out: &mut String, expression: &Expression) {
    match (expression.operator(), expression.operands()) {
        (Operator::Sum, terms) => write_sum(out, terms),
        (Operator::Product, factors) => write_product(out, factors),
        (Operator::Negative, [operand]) => write_sign(out, "−", operand),
        (Operator::PlusMinus, [operand]) => write_sign(out, "±", operand),
        (Operator::MinusPlus, [operand]) => write_sign(out, "∓", operand),
        (Operator::Fraction, [numerator, denominator]) => {
            write_over(out, numerator, true);
            out.push('/');
            write_over(out, denominator, false);
        }
        (Operator::Mixed, [whole, numerator, denominator]) => {
            write(out, whole);
            out.push(' ');
            write(out, numerator);
            out.push('/');
            write(out, denominator);
        }
        (Operator::Power, [base, exponent]) => write_power(out, base, exponent),
        (Operator::Root, [radicand]) => write_root(out, "√", radicand),
        (Operator::NthRoot, [radicand, degree]) => {
            let sign = match degree.as_i64() {
                Some(3) => "∛".to_owned(),
                Some(4) => "∜".to_owned(),
                _ => match raised(&text(degree)) {
                    Some(degree) => format!("{degree}√"),
                    None => format!("{}√", bracketed(degree)),
                },
            };
            write_root(out, &sign, radicand);
        }
        (Operator::Percent, [operand]) => {
            write_within(out, operand, Tightness::Atom);
            out.push('%');
        }
        (Operator::Degrees, [operand]) => {
            write_within(out, operand, Tightness::Atom);
            out.push('°');
        }
        (Operator::Ratio, terms) => write_joined(out, terms, " : ", Tightness::Sum),
        (Operator::Function(function), _) => write_function(out, *function, expression.operands()),
        (Operator::Apply, [function, arguments @ ..]) => {
            write_within(out, function, Tightness::Power);
            out.push('(');
            write_joined(out, arguments, ", ", Tightness::Statement);
            out.push(')');
        }
        (Operator::InverseFunction, [function]) => {
            write_within(out, function, Tightness::Atom);
            out.push_str("⁻¹");
        }
        (Operator::Composition, functions) => {
            write_joined(out, functions, " ∘ ", Tightness::Power);
        }
        _ => write_calculus(out, expression),
    }
}

fn write_calculus(out: &mut String, expression: &Expression) {
    match (expression.operator(), expression.operands()) {
        (Operator::Indexed, [letter, indices @ ..]) => {
            write_within(out, letter, Tightness::Atom);
            let mut index = String::new();
            write_joined(&mut index, indices, ",", Tightness::Sum);
            match lowered(&index) {
                Some(index) => out.push_str(&index),
                None if index.chars().all(char::is_alphanumeric) => {
                    out.push('_');
                    out.push_str(&index);
                }
                None => {
                    out.push_str("_(");
                    out.push_str(&index);
                    out.push(')');
                }
            }
        }
        (Operator::Prime(order), [function]) => {
            write_within(out, function, Tightness::Atom);
            match order {
                1 => out.push('′'),
                2 => out.push('″'),
                3 => out.push('‴'),
                _ => {
                    let order = raised(&order.to_string()).unwrap_or_default();
                    out.push_str(&format!("⁽{order}⁾"));
                }
            }
        }
        (Operator::NthPrime, [function, order]) => {
            write_within(out, function, Tightness::Atom);
            out.push_str(&format!("^({})", text(order)));
        }
        (Operator::Derivative(by), [operand, variables @ ..]) => {
            write_derivative(out, by.partial, &by.orders, operand, variables);
        }
        (Operator::Differential, [variable]) => {
            out.push('d');
            write_within(out, variable, Tightness::Atom);
        }
        (Operator::Integral(integration), [body, rest @ ..]) => {
            write_integral(out, *integration, body, rest);
        }
        (Operator::Limit(side), [body, variable, point]) => {
            let mut script = format!("{}→", text(variable));
            write_within(&mut script, point, Tightness::Sum);
            match side {
                Side::Both => {}
                Side::Below => script.push('⁻'),
                Side::Above => script.push('⁺'),
            }
            out.push_str(&format!("lim[{script}] "));
            write_within(out, body, Tightness::Product);
        }
        (Operator::Series(operator, range), [body, rest @ ..]) => {
            write_series(out, *operator, *range, body, rest);
        }
        (Operator::EvaluatedAt, [operand, bounds @ ..]) => {
            out.push('[');
            write(out, operand);
            out.push(']');
            out.push_str(&match bounds {
                [lower, upper] => between(lower, upper),
                _ => {
                    let at: Vec<String> = bounds.iter().map(text).collect();
                    format!(" at {}", at.join(", "))
                }
            });
        }
        _ => write_statement(out, expression),
    }
}

fn write_statement(out: &mut String, expression: &Expression) {
    match (expression.operator(), expression.operands()) {
        (Operator::Relation(relations), sides) => {
            for (place, side) in sides.iter().enumerate() {
                if place > 0 {
                    let sign = relations
                        .get(place - 1)
                        .map_or("=", |relation| relation.sign());
                    out.push_str(&format!(" {sign} "));
                }
                match side.operator() {
                    Operator::Ratio => write(out, side),
                    _ => write_within(out, side, Tightness::Sum),
                }
            }
        }
        (Operator::Modulo, [statement, modulus]) => {
            write(out, statement);
            out.push_str(&format!(" (mod {})", text(modulus)));
        }
        (Operator::Logic(Connective::Not), [statement]) => {
            out.push('¬');
            write_within(out, statement, Tightness::Power);
        }
        (Operator::Logic(connective), statements) => {
            let sign = match connective {
                Connective::Implies => " ⇒ ",
                Connective::ImpliedBy => " ⇐ ",
                Connective::Iff => " ⇔ ",
                Connective::And => " and ",
                Connective::Or => " or ",
                Connective::Not => " ¬ ",
            };
            write_joined(out, statements, sign, Tightness::Relation);
        }
        (Operator::Quantified(quantifier), [binding, statement]) => {
            out.push_str(match quantifier {
                Quantifier::ForAll => "∀",
                Quantifier::Exists => "∃",
                Quantifier::ExistsUnique => "∃!",
            });
            write(out, binding);
            out.push_str(": ");
            write(out, statement);
        }
        (Operator::Given, [event, condition]) => {
            write(out, event);
            out.push_str(" | ");
            write(out, condition);
        }
        _ => write_collection(out, expression),
    }
}

fn write_collection(out: &mut String, expression: &Expression) {
    match (expression.operator(), expression.operands()) {
        (Operator::List, items) => write_joined(out, items, ", ", Tightness::Statement),
        (Operator::System, rows) => {
            out.push_str("{ ");
            write_joined(out, rows, "; ", Tightness::List);
            out.push_str(" }");
        }
        (Operator::Piecewise, rows) => {
            out.push_str("{ ");
            for (place, row) in rows.chunks(2).enumerate() {
                if place > 0 {
                    out.push_str("; ");
                }
                write(out, &row[0]);
                match row.get(1).map(Expression::operator) {
                    Some(Operator::Text(word)) => out.push_str(&format!(" {word}")),
                    Some(_) => out.push_str(&format!(" if {}", text(&row[1]))),
                    None => {}
                }
            }
            out.push_str(" }");
        }
        (Operator::Matrix(shape), entries) => {
            out.push('[');
            for (place, row) in entries.chunks(shape.columns.max(1) as usize).enumerate() {
                if place > 0 {
                    out.push_str("; ");
                }
                for (column, entry) in row.iter().enumerate() {
                    if column > 0 {
                        out.push_str(if shape.rule == Some(column as u32) {
                            " | "
                        } else {
                            ", "
                        });
                    }
                    write_within(out, entry, Tightness::Statement);
                }
            }
            out.push(']');
        }
        (Operator::Tuple(brackets), components) => {
            let (open, close) = match brackets {
                Brackets::Round => ('(', ')'),
                Brackets::Angle => ('⟨', '⟩'),
                Brackets::Square => ('[', ']'),
            };
            out.push(open);
            write_joined(out, components, ", ", Tightness::Statement);
            out.push(close);
        }
        (Operator::Set, members) => {
            out.push('{');
            write_joined(out, members, ", ", Tightness::Statement);
            out.push('}');
        }
        (Operator::SetBuilder, [element, condition]) => {
            out.push_str(&format!("{{{} : {}}}", text(element), text(condition)));
        }
        (Operator::Interval(ends), [lower, upper]) => {
            out.push(if ends.lower_closed { '[' } else { '(' });
            write(out, lower);
            out.push_str(", ");
            write(out, upper);
            out.push(if ends.upper_closed { ']' } else { ')' });
        }
        (Operator::SetOperation(operation), sets) => {
            let sign = match operation {
                SetOperation::Union => " ∪ ",
                SetOperation::Intersection => " ∩ ",
                SetOperation::Difference => " ∖ ",
                SetOperation::Product => " × ",
                SetOperation::DirectSum => " ⊕ ",
            };
            write_joined(out, sets, sign, Tightness::Sign);
        }
        (Operator::Dot, [left, right]) => {
            write_within(out, left, Tightness::Product);
            out.push_str(" · ");
            write_within(out, right, Tightness::Product);
        }
        (Operator::Cross, [left, right]) => {
            write_within(out, left, Tightness::Prefix);
            out.push_str(" × ");
            write_within(out, right, Tightness::Prefix);
        }
        // Operands that do not fit the layout.
        (operator, operands) => {
            out.push_str(&format!("{operator:?}("));
            write_joined(out, operands, ", ", Tightness::Statement);
            out.push(')');
        }
    }
}

fn text(expression: &Expression) -> String {
    let mut out = String::new();
    write(&mut out, expression);
    out
}

fn bracketed(expression: &Expression) -> String {
    format!("({})", text(expression))
}

/// A quotient holds its operands no tighter than a product where it is written on a line.
fn line_tightness(expression: &Expression) -> Tightness {
    match expression.operator() {
        Operator::Fraction | Operator::Mixed => Tightness::Product,
        _ => tightness(expression),
    }
}

fn write_within(out: &mut String, expression: &Expression, at_least: Tightness) {
    if line_tightness(expression) < at_least {
        out.push_str(&bracketed(expression));
    } else {
        write(out, expression);
    }
}

fn write_joined(out: &mut String, items: &[Expression], between: &str, at_least: Tightness) {
    for (place, item) in items.iter().enumerate() {
        if place > 0 {
            out.push_str(between);
        }
        write_within(out, item, at_least);
    }
}

fn write_sum(out: &mut String, terms: &[Expression]) {
    for (place, term) in terms.iter().enumerate() {
        let (sign, operand) = match (term.operator(), term.operands()) {
            (Operator::Negative, [operand]) => ("−", operand),
            (Operator::PlusMinus, [operand]) => ("±", operand),
            (Operator::MinusPlus, [operand]) => ("∓", operand),
            _ => ("+", term),
        };
        match (place, sign) {
            (0, "+") => {}
            (0, _) => out.push_str(sign),
            _ => out.push_str(&format!(" {sign} ")),
        }
        write_within(out, operand, Tightness::Product);
    }
}

fn write_sign(out: &mut String, sign: &str, operand: &Expression) {
    out.push_str(sign);
    write_within(out, operand, Tightness::Product);
}

fn write_over(out: &mut String, operand: &Expression, above: bool) {
    // A numerator may be a product of letters; a denominator may not.
    let at_least = if above {
        Tightness::Product
    } else {
        Tightness::Prefix
    };
    let is_fraction = matches!(operand.operator(), Operator::Fraction | Operator::Mixed);
    if is_fraction || line_tightness(operand) < at_least {
        out.push_str(&bracketed(operand));
    } else {
        write(out, operand);
    }
}

fn write_product(out: &mut String, factors: &[Expression]) {
    for (place, factor) in factors.iter().enumerate() {
        let mut written = String::new();
        let needs_brackets = line_tightness(factor) < Tightness::Prefix
            && !matches!(factor.operator(), Operator::Differential)
            && !(matches!(factor.operator(), Operator::Fraction) && place == 0)
            || matches!(
                factor.operator(),
                Operator::Integral(_) | Operator::Limit(_) | Operator::Series(..)
            ) && place + 1 < factors.len();
        match needs_brackets {
            true => written.push_str(&bracketed(factor)),
            false => write(&mut written, factor),
        }
        if place > 0 {
            out.push_str(separator(&factors[place - 1], factor, out, &written));
        }
        out.push_str(&written);
    }
}

/// What stands between two factors.
fn separator(left: &Expression, right: &Expression, before: &str, after: &str) -> &'static str {
    if matches!(right.operator(), Operator::Differential | Operator::Text(_)) {
        return " ";
    }
    let is_name = |expression: &Expression| match expression.operator() {
        Operator::Symbol(symbol) => symbol.name().chars().count() == 1,
        Operator::Constant(_) | Operator::Indexed | Operator::Prime(_) => true,
        Operator::Power => expression.operands().first().is_some_and(|base| {
            matches!(base.operator(), Operator::Symbol(_) | Operator::Constant(_))
        }),
        _ => false,
    };
    let ends_simply = before.chars().next_back().is_some_and(|c| {
        c.is_alphanumeric() || "′″‴".contains(c) || raised(&c.to_string()).is_none() && c != ')'
    });
    match (left.operator(), right.operator()) {
        (Operator::Number(_), _) if is_name(right) || after.starts_with(['(', '√', '|']) => "",
        _ if is_name(left) && is_name(right) && ends_simply => "",
        _ if is_name(left) && is_name(right) && !before.ends_with(')') => "",
        // A letter before a bracket looks like a call, unless the bracket holds a sum.
        (_, Operator::Sum) if is_name(left) || before.ends_with(')') => "",
        _ => "·",
    }
}

fn write_power(out: &mut String, base: &Expression, exponent: &Expression) {
    // sin²(x) is the usual way to write the square of a sine.
    if let (Operator::Function(function), [argument]) = (base.operator(), base.operands())
        && tightness(base) == Tightness::Prefix
        && !function_name(*function).is_empty()
        && exponent.as_i64().is_some_and(|exponent| exponent > 0)
        && let Some(exponent) = raised(&text(exponent))
    {
        out.push_str(function_name(*function));
        out.push_str(&exponent);
        out.push_str(&bracketed(argument));
        return;
    }
    let is_call = matches!(base.operator(), Operator::Apply);
    let needs_brackets = line_tightness(base) < Tightness::Atom && !is_call
        || matches!(base.operator(), Operator::Root | Operator::NthRoot);
    match needs_brackets {
        true => out.push_str(&bracketed(base)),
        false => write(out, base),
    }
    let exponent_text = text(exponent);
    match raised(&exponent_text) {
        Some(raised) => out.push_str(&raised),
        None if exponent.operands().is_empty() => out.push_str(&format!("^{exponent_text}")),
        None => out.push_str(&format!("^({exponent_text})")),
    }
}

fn write_root(out: &mut String, sign: &str, radicand: &Expression) {
    out.push_str(sign);
    match radicand.operands().is_empty() {
        true => write(out, radicand),
        false => out.push_str(&bracketed(radicand)),
    }
}

fn write_function(out: &mut String, function: Function, arguments: &[Expression]) {
    let enclosed = |out: &mut String, open: &str, close: &str| {
        out.push_str(open);
        write_joined(out, arguments, ", ", Tightness::Statement);
        out.push_str(close);
    };
    match (function, arguments) {
        (Function::Abs | Function::Cardinality, _) => enclosed(out, "|", "|"),
        (Function::Norm, _) => enclosed(out, "‖", "‖"),
        (Function::Floor, _) => enclosed(out, "⌊", "⌋"),
        (Function::Ceiling, _) => enclosed(out, "⌈", "⌉"),
        (Function::Determinant, [matrix]) if matches!(matrix.operator(), Operator::Matrix(_)) => {
            let inside = text(matrix);
            out.push_str(&format!("|{}|", inside.trim_matches(['[', ']'])));
        }
        (Function::Factorial, [operand]) => {
            write_within(out, operand, Tightness::Atom);
            out.push('!');
        }
        (Function::DoubleFactorial, [operand]) => {
            write_within(out, operand, Tightness::Atom);
            out.push_str("!!");
        }
        (Function::Binomial, [n, k]) => {
            out.push_str(&format!("C({}, {})", text(n), text(k)));
        }
        (Function::LogBase, [argument, base]) => {
            out.push_str("log");
            let base = text(base);
            match lowered(&base) {
                Some(base) => out.push_str(&base),
                None => out.push_str(&format!("_{base}")),
            }
            out.push_str(&bracketed(argument));
        }
        (Function::Remainder, [dividend, divisor]) => {
            write_within(out, dividend, Tightness::Product);
            out.push_str(" mod ");
            write_within(out, divisor, Tightness::Prefix);
        }
        (Function::Transpose, [operand]) => {
            write_within(out, operand, Tightness::Atom);
            out.push('ᵀ');
        }
        (Function::Complement, [operand]) => {
            write_within(out, operand, Tightness::Atom);
            out.push('ᶜ');
        }
        (Function::Conjugate, _) => enclosed(out, "conj(", ")"),
        (Function::Gradient, [operand]) => {
            out.push('∇');
            write_within(out, operand, Tightness::Power);
        }
        (Function::Divergence, [operand]) => {
            out.push_str("∇·");
            write_within(out, operand, Tightness::Power);
        }
        (Function::Curl, [operand]) => {
            out.push_str("∇×");
            write_within(out, operand, Tightness::Power);
        }
        (Function::Laplacian, [operand]) => {
            out.push_str("∇²");
            write_within(out, operand, Tightness::Power);
        }
        (Function::Change, [operand]) => {
            out.push('Δ');
            write_within(out, operand, Tightness::Power);
        }
        (function, [given])
            if matches!(
                function,
                Function::Max | Function::Min | Function::Sup | Function::Inf
            ) && matches!(given.operator(), Operator::Given) =>
        {
            let [body, condition] = given.operands() else {
                return;
            };
            out.push_str(&format!(
                "{}[{}] {}",
                function_name(function),
                text(condition),
                text(body)
            ));
        }
        _ => {
            out.push_str(function_name(function));
            enclosed(out, "(", ")");
        }
    }
}

fn write_derivative(
    out: &mut String,
    partial: bool,
    orders: &[u32],
    operand: &Expression,
    variables: &[Expression],
) {
    let sign = if partial { '∂' } else { 'd' };
    let order = |order: u32| match order {
        1 => String::new(),
        order => raised(&order.to_string()).unwrap_or_default(),
    };
    let total: u32 = orders.iter().sum();
    out.push(sign);
    out.push_str(&order(total));
    let is_letter = operand.operands().is_empty();
    if is_letter {
        write(out, operand);
    }
    out.push('/');
    for (variable, times) in variables.iter().zip(orders) {
        out.push(sign);
        write(out, variable);
        out.push_str(&order(*times));
    }
    if !is_letter {
        out.push_str(&format!(" {}", bracketed(operand)));
    }
}

/// The bounds after a sign: small figures where there are some, else in brackets.
fn between(lower: &Expression, upper: &Expression) -> String {
    let (lower, upper) = (text(lower), text(upper));
    match (lowered(&lower), raised(&upper)) {
        (Some(low), Some(high)) => format!("{low}{high}"),
        _ => format!("[{lower}..{upper}]"),
    }
}

fn write_integral(
    out: &mut String,
    integration: Integration,
    body: &Expression,
    rest: &[Expression],
) {
    let sign = match (integration.closed, integration.signs) {
        (true, 1) => "∮",
        (true, _) => "∯",
        (false, 1) => "∫",
        (false, 2) => "∬",
        (false, _) => "∭",
    };
    out.push_str(sign);
    let (variables, bounds) = rest.split_at((integration.variables as usize).min(rest.len()));
    match (integration.bounds, bounds) {
        (Bounds::Between, [lower, upper]) => out.push_str(&between(lower, upper)),
        (Bounds::Region, [region]) => out.push_str(&format!("[{}]", text(region))),
        _ => {}
    }
    out.push(' ');
    let is_one = body.as_i64() == Some(1) && !variables.is_empty();
    if !is_one {
        let at_least = if variables.is_empty() {
            Tightness::Sum
        } else {
            Tightness::Product
        };
        write_within(out, body, at_least);
        if !variables.is_empty() {
            out.push(' ');
        }
    }
    for (place, variable) in variables.iter().enumerate() {
        if place > 0 {
            out.push(' ');
        }
        out.push('d');
        write(out, variable);
    }
}

fn write_series(
    out: &mut String,
    operator: SeriesOperator,
    range: SeriesRange,
    body: &Expression,
    rest: &[Expression],
) {
    out.push_str(match operator {
        SeriesOperator::Sum => "∑",
        SeriesOperator::Product => "∏",
        SeriesOperator::Union => "⋃",
        SeriesOperator::Intersection => "⋂",
    });
    match (range, rest) {
        (SeriesRange::Between, [index, from, to]) => {
            out.push_str(&format!("[{} = {}..{}]", text(index), text(from), text(to)));
        }
        (SeriesRange::From, [index, from]) => {
            out.push_str(&format!("[{} = {}..]", text(index), text(from)));
        }
        (_, [condition]) => out.push_str(&format!("[{}]", text(condition))),
        _ => {}
    }
    out.push(' ');
    write_within(out, body, Tightness::Product);
}

fn constant_name(constant: Constant) -> &'static str {
    match constant {
        Constant::Pi => "π",
        Constant::E => "e",
        Constant::I => "i",
        Constant::Infinity => "∞",
        Constant::EmptySet => "∅",
        Constant::Naturals => "ℕ",
        Constant::Integers => "ℤ",
        Constant::Rationals => "ℚ",
        Constant::Reals => "ℝ",
        Constant::Complexes => "ℂ",
        Constant::True => "⊤",
        Constant::False => "⊥",
    }
}

fn write_symbol(out: &mut String, symbol: &Symbol) {
    match symbol.style() {
        Style::Calligraphic if symbol.name() == "L" => out.push('ℒ'),
        _ => out.push_str(symbol.name()),
    }
    match symbol.accent() {
        Accent::None => {}
        Accent::Vector => out.push('\u{20d7}'),
        Accent::Hat => out.push('\u{302}'),
        Accent::Bar => out.push('\u{304}'),
        Accent::Tilde => out.push('\u{303}'),
    }
    match symbol.subscript() {
        "" => {}
        subscript => match lowered(subscript) {
            Some(subscript) => out.push_str(&subscript),
            None => out.push_str(&format!("_{subscript}")),
        },
    }
}

/// The text in raised characters, if every one has such a form.
fn raised(text: &str) -> Option<String> {
    let raise = |c: char| {
        Some(match c {
            '0' => '⁰',
            '1' => '¹',
            '2' => '²',
            '3' => '³',
            '4'..='9' => char::from_u32('⁴' as u32 + (c as u32 - '4' as u32))?,
            '−' => '⁻',
            'n' => 'ⁿ',
            _ => return None,
        })
    };
    text.chars().map(raise).collect()
}

/// The text in lowered characters, without its spaces, if every one has such a form.
fn lowered(text: &str) -> Option<String> {
    let lower = |c: char| {
        Some(match c {
            '0'..='9' => char::from_u32('₀' as u32 + (c as u32 - '0' as u32))?,
            '−' => '₋',
            '+' => '₊',
            'n' => 'ₙ',
            'k' => 'ₖ',
            'i' => 'ᵢ',
            'j' => 'ⱼ',
            'm' => 'ₘ',
            _ => return None,
        })
    };
    text.chars().filter(|c| *c != ' ').map(lower).collect()
}

/// TeX that could not be read, without its marks.
fn cleaned(tex: &str) -> String {
    let mut out = String::with_capacity(tex.len());
    for c in tex.chars() {
        match c {
            '\\' | '{' | '}' | '$' => {
                if !out.ends_with(' ') && !out.is_empty() {
                    out.push(' ');
                }
            }
            '\n' | '\r' | '\t' => out.push(' '),
            c if c.is_control() => {}
            c => out.push(c),
        }
    }
    out.trim().to_owned()
}
