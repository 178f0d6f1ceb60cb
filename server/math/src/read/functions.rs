//! Functions written before their argument: `\sin 2x`, `\log_2 x`, `\operatorname{name}`.

use smallvec::smallvec;

use super::scripts::{Below, Raised};
use super::tokens::{Delimiter, Mark};
use super::{Class, Reader};
use crate::expression::{
    Constant, Expression, Function, Number, Operands, Operator, Style, Symbol,
};

/// The function with this name, as typed after a backslash or in `\operatorname{...}`.
pub(super) fn by_name(name: &str) -> Option<Function> {
    Some(match name {
        "sin" => Function::Sin,
        "cos" => Function::Cos,
        "tan" | "tg" => Function::Tan,
        "cot" | "ctg" | "cotan" => Function::Cot,
        "sec" => Function::Sec,
        "csc" | "cosec" => Function::Csc,
        "arcsin" | "asin" => Function::Arcsin,
        "arccos" | "acos" => Function::Arccos,
        "arctan" | "atan" | "arctg" => Function::Arctan,
        "arccot" | "arcctg" => Function::Arccot,
        "arcsec" => Function::Arcsec,
        "arccsc" => Function::Arccsc,
        "sinh" | "sh" => Function::Sinh,
        "cosh" | "ch" => Function::Cosh,
        "tanh" | "th" => Function::Tanh,
        "coth" => Function::Coth,
        "sech" => Function::Sech,
        "csch" => Function::Csch,
        "arcsinh" | "arsinh" | "asinh" => Function::Arsinh,
        "arccosh" | "arcosh" | "acosh" => Function::Arcosh,
        "arctanh" | "artanh" | "atanh" => Function::Artanh,
        "arccoth" | "arcoth" => Function::Arcoth,
        "arcsech" | "arsech" => Function::Arsech,
        "arccsch" | "arcsch" => Function::Arcsch,
        "exp" => Function::Exp,
        "ln" => Function::Ln,
        "log" => Function::Log,
        "sgn" | "sign" | "signum" => Function::Sign,
        "gcd" => Function::Gcd,
        "lcm" => Function::Lcm,
        "max" => Function::Max,
        "min" => Function::Min,
        "sup" => Function::Sup,
        "inf" => Function::Inf,
        "Re" => Function::RealPart,
        "Im" => Function::ImaginaryPart,
        "arg" | "Arg" => Function::Argument,
        "erf" => Function::Erf,
        "det" => Function::Determinant,
        "tr" | "trace" | "Tr" => Function::Trace,
        "rank" | "rk" => Function::Rank,
        "dim" => Function::Dimension,
        "ker" => Function::Kernel,
        "grad" => Function::Gradient,
        "div" => Function::Divergence,
        "curl" | "rot" => Function::Curl,
        "Var" | "var" => Function::Variance,
        _ => return None,
    })
}

/// The inverse of a function that `^{-1}` inverts.
fn inverse(function: Function) -> Option<Function> {
    Some(match function {
        Function::Sin => Function::Arcsin,
        Function::Cos => Function::Arccos,
        Function::Tan => Function::Arctan,
        Function::Cot => Function::Arccot,
        Function::Sec => Function::Arcsec,
        Function::Csc => Function::Arccsc,
        Function::Sinh => Function::Arsinh,
        Function::Cosh => Function::Arcosh,
        Function::Tanh => Function::Artanh,
        Function::Coth => Function::Arcoth,
        Function::Sech => Function::Arsech,
        Function::Csch => Function::Arcsch,
        _ => return None,
    })
}

/// Letters that vary in most formulas: a bracket after one is no part of an argument.
const VARYING: [&str; 15] = [
    "x", "y", "z", "t", "u", "v", "w", "s", "r", "θ", "φ", "ϕ", "α", "β", "τ",
];

/// What an argument without brackets has become so far.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Run {
    /// Nothing yet.
    Empty,
    /// Numbers and π only.
    Numeric,
    /// Something that depends on a letter.
    Variable,
}

impl Reader<'_> {
    pub(super) fn known_function(&mut self, function: Function) -> Expression {
        let start = self.start();
        self.advance();
        self.function_after_name(function, start)
    }

    /// The scripts and the argument after a function's name.
    pub(super) fn function_after_name(&mut self, function: Function, start: usize) -> Expression {
        let mut power = None;
        let mut base = None;
        loop {
            match self.peek() {
                Mark::Up if power.is_none() => {
                    self.advance();
                    if let Some(digit) = self.one_digit_power() {
                        power = Some(digit);
                        continue;
                    }
                    power = Some(match self.raised() {
                        Raised::Exponent(power) => power,
                        Raised::Order(order) => order,
                        _ => {
                            self.say_since(
                                Class::Unsupported,
                                start,
                                "this mark above a function's name is not read: write a power, as \
                                 in `\\sin^2 x`",
                            );
                            let range = self.since(start);
                            return self.opaque(range);
                        }
                    });
                }
                Mark::Down if base.is_none() => {
                    self.advance();
                    let script = self.start();
                    if let Some(digit) = self.one_digit_base(function) {
                        base = Some(digit);
                        continue;
                    }
                    base = Some(match self.below() {
                        Below::Formula(base) => base,
                        Below::Literal(literal) => match literal.parse::<i64>() {
                            Ok(number) => {
                                self.leaf(Operator::Number(Number::integer(number)), script)
                            }
                            Err(_) => self.leaf(Operator::Text(literal), script),
                        },
                    });
                }
                Mark::Prime => {
                    self.primes();
                    self.say_since(
                        Class::Unsupported,
                        start,
                        "a prime on a named function is not read: write `\\frac{d}{dx} \\sin x` \
                         or `(\\sin x)'`",
                    );
                    let range = self.since(start);
                    return self.opaque(range);
                }
                _ => break,
            }
        }
        let is_inverse = power
            .as_ref()
            .is_some_and(|power| power.as_i64() == Some(-1));
        let mut function = function;
        if is_inverse {
            match inverse(function) {
                Some(inverse) => {
                    function = inverse;
                    power = None;
                }
                None => self.say_since(
                    Class::Ambiguous,
                    start,
                    "this may be the inverse function or one divided by the value, as it is read: \
                     write `\\frac{1}{\\ln x}` or name the inverse",
                ),
            }
        }
        let mut arguments = self.function_arguments(function, start);
        let value = match base {
            None => self.node(Operator::Function(function), arguments, start),
            Some(base) if function == Function::Log && arguments.len() == 1 => {
                arguments.push(base);
                self.node(Operator::Function(Function::LogBase), arguments, start)
            }
            Some(base)
                if matches!(
                    function,
                    Function::Max | Function::Min | Function::Sup | Function::Inf
                ) =>
            {
                // `\max_{x \in S} f(x)`: the condition names the range.
                let body = self.collect(arguments, false, start);
                let given = self.binary(Operator::Given, body, base, start);
                self.unary(Operator::Function(function), given, start)
            }
            Some(_) => {
                self.say_since(
                    Class::Unsupported,
                    start,
                    "a subscript on this function is not read: only `\\log` has a base",
                );
                let range = self.since(start);
                self.opaque(range)
            }
        };
        match power {
            Some(power) => self.binary(Operator::Power, value, power, start),
            None => self.power_after_bracket(value, start),
        }
    }

    /// `\log_310`: digits below a logarithm with nothing behind them, of which TeX sets only the first
    /// below.
    fn one_digit_base(&mut self, function: Function) -> Option<Expression> {
        let (Mark::Digit(digit), Mark::Digit(_)) = (self.peek(), self.peek_at(1)) else {
            return None;
        };
        let mut behind = self.at + 1;
        while matches!(self.mark_at(behind), Mark::Digit(_)) {
            behind += 1;
        }
        let before = self.at;
        self.at = behind;
        let has_argument = self.starts_factor();
        self.at = before;
        if has_argument || function != Function::Log {
            return None;
        }
        let start = self.start();
        self.advance();
        let number = Number::integer(i64::from(digit));
        Some(self.leaf(Operator::Number(number), start))
    }

    /// `\cos^22\theta`: a digit above a function's name that is followed by more digits, which TeX
    /// leaves to the argument.
    fn one_digit_power(&mut self) -> Option<Expression> {
        let (Mark::Digit(digit), Mark::Digit(_)) = (self.peek(), self.peek_at(1)) else {
            return None;
        };
        let start = self.start();
        let continues = |reader: &Self| {
            let next = reader.tokens.get(reader.at);
            next.is_some_and(|token| matches!(token.mark, Mark::Digit(_)) && !token.spaced)
        };
        self.advance();
        if continues(self) {
            self.say_since(
                Class::Ambiguous,
                start,
                "without braces only the first digit is the power, as it is read: put the power in \
                 braces",
            );
            if self.otherwise {
                self.at -= 1;
                return None;
            }
        }
        let number = Number::integer(i64::from(digit));
        Some(self.leaf(Operator::Number(number), start))
    }

    /// `\ln(x)^2`: the power may belong to the value or to the argument.
    fn power_after_bracket(&mut self, value: Expression, start: usize) -> Expression {
        if !matches!(self.peek(), Mark::Up | Mark::Bang | Mark::Prime) {
            return value;
        }
        let closes = |mark| {
            matches!(
                mark,
                Mark::Delimiter(Delimiter::RoundClose | Delimiter::SquareClose)
            )
        };
        let last = self.at.wrapping_sub(1);
        // `\ln{(x)}^2`: the braces do not show.
        let is_bracket = closes(self.mark_at(last))
            || self.mark_at(last) == Mark::Close && closes(self.mark_at(last.wrapping_sub(1)));
        if !is_bracket {
            return self.postfix(value, start);
        }
        if self.otherwise
            && let (Operator::Function(function), [argument]) = (value.operator(), value.operands())
        {
            let argument = self.postfix(argument.clone(), start);
            return self.unary(Operator::Function(*function), argument, start);
        }
        let power = self.postfix(value, start);
        self.say_since(
            Class::Ambiguous,
            start,
            "this sign may belong to the whole value, as it is read, or to the bracket only: write \
             `\\sin^2(x)` or `\\sin((x)^2)`",
        );
        power
    }

    /// The argument or arguments after a function's name.
    fn function_arguments(&mut self, function: Function, start: usize) -> Operands {
        let takes_several = matches!(
            function,
            Function::Gcd
                | Function::Lcm
                | Function::Max
                | Function::Min
                | Function::Sup
                | Function::Inf
                | Function::Probability
                | Function::Variance
                | Function::Exp
        );
        match (self.peek(), self.peek_at(1)) {
            (Mark::Delimiter(Delimiter::RoundOpen | Delimiter::SquareOpen), _)
            | (Mark::Left, Mark::Delimiter(Delimiter::RoundOpen | Delimiter::SquareOpen)) => {
                let arguments = self.arguments();
                if arguments.len() > 1 && !takes_several {
                    let tuple = Operator::Tuple(crate::expression::Brackets::Round);
                    return smallvec![self.node(tuple, arguments, start)];
                }
                return arguments;
            }
            (Mark::Delimiter(Delimiter::BraceOpen), _)
            | (Mark::Left, Mark::Delimiter(Delimiter::BraceOpen)) => {
                let arguments = self.arguments();
                return match arguments.len() {
                    1 => arguments,
                    _ if takes_several => arguments,
                    _ => smallvec![self.node(Operator::Set, arguments, start)],
                };
            }
            _ => {}
        }
        smallvec![self.bare_argument(start)]
    }

    /// An argument without brackets of its own.
    pub(super) fn bare_argument(&mut self, name_start: usize) -> Expression {
        let start = self.start();
        let mut sign = None;
        if matches!(self.peek(), Mark::Minus | Mark::PlusMinus) {
            sign = Some(self.peek());
            self.advance();
        }
        let mut factors = Operands::new();
        let mut run = Run::Empty;
        let mut has_pi = false;
        loop {
            if self.at_differential() || !self.starts_factor() || self.factor_ends_run(run) {
                break;
            }
            let mark = self.peek();
            if run == Run::Variable && self.run_is_unclear(mark, &factors, name_start) {
                break;
            }
            if run == Run::Numeric
                && matches!(mark, Mark::Function(_) | Mark::Lg | Mark::OperatorName)
            {
                self.say_since(
                    Class::Ambiguous,
                    name_start,
                    "it is not clear where this argument ends; it is read to the next function: \
                     put the argument in brackets",
                );
                break;
            }
            let before = self.at;
            let factor = match mark {
                // A group right after the name holds the argument, though it does not show.
                Mark::Open if run == Run::Empty => {
                    let is_bracket = self.group_is_bracket();
                    let factor = self.deeper(Self::group);
                    let factor = match is_bracket {
                        // What is raised is the value, as after `\ln(x)`.
                        true => factor,
                        false => self.postfix(factor, start),
                    };
                    if self.starts_factor() && self.group_is_unclear() {
                        self.say_since(
                            Class::Ambiguous,
                            name_start,
                            "braces do not show on the page; the argument is read up to them: put \
                             it in brackets",
                        );
                    }
                    factors.push(factor);
                    break;
                }
                _ => self.factor(),
            };
            if self.at == before {
                break;
            }
            has_pi |= factor
                .parts()
                .any(|part| part.as_constant() == Some(Constant::Pi));
            let is_numeric = factor.parts().all(|part| {
                part.as_symbol().is_none() && !matches!(part.operator(), Operator::Function(_))
            });
            let ends = matches!(
                mark,
                Mark::Function(_) | Mark::Lg | Mark::Named(_) | Mark::OperatorName
            ) || is_bracket(mark) && run != Run::Empty
                || matches!(mark, Mark::Series(_) | Mark::Limit | Mark::Integral { .. });
            if run == Run::Variable && is_bracket(mark) {
                self.say_since(
                    Class::Ambiguous,
                    name_start,
                    "it is not clear whether this bracket belongs to the argument, as it is read: \
                     put the whole argument in brackets",
                );
            }
            factors.push(factor);
            run = match (run, is_numeric) {
                (Run::Empty | Run::Numeric, true) => Run::Numeric,
                _ => Run::Variable,
            };
            if ends {
                break;
            }
        }
        let mut argument = match factors.len() {
            0 => {
                let name = name_start..self.end();
                let text = self.text(name.clone()).to_owned();
                self.malformed(
                    name,
                    format!(
                        "`{text}` has no argument: write what it is taken of, as in `{text} x`"
                    ),
                );
                self.hole()
            }
            1 => factors.remove(0),
            _ => self.node(Operator::Product, factors, start),
        };
        argument = self.slash_after_run(argument, run, has_pi, start, name_start);
        match sign {
            Some(Mark::Minus) => self.unary(Operator::Negative, argument, start),
            Some(_) => self.unary(Operator::PlusMinus, argument, start),
            None => argument,
        }
    }

    /// The next factor ends an argument that has already begun.
    fn factor_ends_run(&self, run: Run) -> bool {
        if run == Run::Empty {
            return false;
        }
        match self.peek() {
            Mark::Limit
            | Mark::Series(_)
            | Mark::Integral { .. }
            | Mark::Begin
            | Mark::Text
            | Mark::Nabla
            | Mark::Partial
            | Mark::Unknown
            | Mark::Stray(_) => true,
            Mark::Function(_) | Mark::Lg | Mark::Named(_) | Mark::OperatorName => {
                run == Run::Variable
            }
            Mark::Fraction => self.is_derivative_fraction(self.at),
            // No argument without brackets holds a power of e.
            Mark::Letter('e') => self.peek_at(1) == Mark::Up,
            Mark::Delimiter(Delimiter::Bar | Delimiter::DoubleBar) => self.bars > 0,
            _ => false,
        }
    }

    /// Whether, after a letter, the next factor cannot be told to belong to the argument; says so.
    /// Then the argument ends.
    fn run_is_unclear(&mut self, mark: Mark, factors: &Operands, name_start: usize) -> bool {
        match mark {
            Mark::Delimiter(Delimiter::RoundOpen | Delimiter::SquareOpen) | Mark::Left => {
                // A single letter before a bracket, as in `\cos k(x - ct)`, may be its factor.
                // After a letter that varies, as in `\cos x(x + 1)`, it is a factor of its own.
                let is_coefficient = factors.len() == 1
                    && factors[0]
                        .as_symbol()
                        .is_some_and(|letter| !VARYING.contains(&letter.name()));
                if is_coefficient == self.otherwise {
                    self.say_since(
                        Class::Ambiguous,
                        name_start,
                        "it is not clear where this argument ends; it is read to the bracket: put \
                         the argument in brackets",
                    );
                    return true;
                }
                false
            }
            Mark::Root | Mark::Fraction | Mark::Digit(_) => {
                self.say_since(
                    Class::Ambiguous,
                    name_start,
                    "it is not clear where this argument ends; it is read to the last letter: put \
                     the argument in brackets",
                );
                !self.otherwise
            }
            _ => false,
        }
    }

    /// The group at the next token holds one bracket and nothing else.
    fn group_is_bracket(&self) -> bool {
        let (mut at, mut depth) = (self.at + 1, 0_usize);
        let opens = |mark| {
            matches!(
                mark,
                Mark::Delimiter(Delimiter::RoundOpen | Delimiter::SquareOpen)
            )
        };
        let closes = |mark| {
            matches!(
                mark,
                Mark::Delimiter(Delimiter::RoundClose | Delimiter::SquareClose)
            )
        };
        if self.mark_at(at) == Mark::Left {
            at += 1;
        }
        if !opens(self.mark_at(at)) {
            return false;
        }
        loop {
            match self.mark_at(at) {
                Mark::Eof => return false,
                mark if opens(mark) => depth += 1,
                mark if closes(mark) => depth -= 1,
                _ => {}
            }
            at += 1;
            if depth == 0 {
                return self.mark_at(at) == Mark::Close;
            }
        }
    }

    fn group_is_unclear(&self) -> bool {
        // What cannot continue an argument anyway leaves no doubt.
        let ends_argument = matches!(
            self.peek(),
            Mark::Function(_)
                | Mark::Lg
                | Mark::OperatorName
                | Mark::Named(_)
                | Mark::Text
                | Mark::Delimiter(_)
                | Mark::Left
                | Mark::BigBar
        );
        let is_power_of_e = self.peek() == Mark::Letter('e') && self.peek_at(1) == Mark::Up;
        !(ends_argument || is_power_of_e || self.at_differential())
    }

    /// A slash after an argument without brackets: inside it after π, unclear otherwise.
    fn slash_after_run(
        &mut self,
        argument: Expression,
        run: Run,
        has_pi: bool,
        start: usize,
        name_start: usize,
    ) -> Expression {
        if self.peek() != Mark::Slash || run == Run::Empty {
            return argument;
        }
        if has_pi {
            self.advance();
            if !self.starts_factor() {
                self.at -= 1;
                return argument;
            }
            let denominator = self.factor();
            return self.binary(Operator::Fraction, argument, denominator, start);
        }
        let slash = self.here();
        if self.otherwise {
            self.advance();
            if !self.starts_factor() {
                self.at -= 1;
                return argument;
            }
            let denominator = self.factor();
            return self.binary(Operator::Fraction, argument, denominator, start);
        }
        self.ambiguous(
            name_start..slash.end,
            "it is not clear whether the argument or the value is divided, as it is read: put the \
             argument in brackets or write `\\frac`",
        );
        argument
    }

    pub(super) fn common_logarithm(&mut self) -> Expression {
        let start = self.start();
        self.advance();
        let arguments = self.function_arguments(Function::Log, start);
        let argument = self.collect(arguments, false, start);
        let ten = self.leaf(Operator::Number(Number::integer(10)), start);
        let value = self.binary(Operator::Function(Function::LogBase), argument, ten, start);
        self.power_after_bracket(value, start)
    }

    /// An operator by its upright name, after the name.
    pub(super) fn named_operator(&mut self, name: &str, start: usize) -> Expression {
        if let Some(function) = by_name(name) {
            return self.function_after_name(function, start);
        }
        if name == "cis" {
            return self.cis(start);
        }
        if name == "d" && self.starts_factor() {
            // `\operatorname{d}x`
            let variable = self.factor();
            return self.unary(Operator::Differential, variable, start);
        }
        let name: String = name
            .chars()
            .filter(|c| !c.is_whitespace() && *c != '\\')
            .collect();
        let symbol = Symbol::new(&name).with_style(Style::Roman);
        let mut function = self.symbol_node(symbol.clone(), start);
        let mut power = None;
        loop {
            match self.peek() {
                Mark::Down => {
                    self.advance();
                    match self.below() {
                        Below::Literal(literal) => {
                            function = self.symbol_node(symbol.with_subscript(&literal), start);
                        }
                        Below::Formula(index) => {
                            function = self.binary(Operator::Indexed, function, index, start);
                        }
                    }
                }
                Mark::Up if power.is_none() => {
                    self.advance();
                    let above = self.raised();
                    match above {
                        Raised::Exponent(exponent) => power = Some(exponent),
                        other => function = self.raise(function, other, start),
                    }
                }
                _ => break,
            }
        }
        let value = match (self.peek(), self.peek_at(1)) {
            (Mark::Delimiter(open), _) | (Mark::Left, Mark::Delimiter(open)) if open.opens() => {
                self.call_with_bracket(function, start)
            }
            // A name before a letter or a matrix takes it as its argument.
            (Mark::Letter(_) | Mark::Style(_) | Mark::Accent(_) | Mark::Begin, _)
                if !self.at_differential() && power.is_none() =>
            {
                let argument = self.factor();
                self.node(Operator::Apply, smallvec![function, argument], start)
            }
            _ => function,
        };
        match power {
            Some(power) => self.binary(Operator::Power, value, power, start),
            None => self.postfix(value, start),
        }
    }

    /// cos θ + i sin θ, after its name.
    fn cis(&mut self, start: usize) -> Expression {
        let arguments = self.function_arguments(Function::Cos, start);
        let argument = self.collect(arguments, false, start);
        let cosine = self.unary(Operator::Function(Function::Cos), argument.clone(), start);
        let sine = self.unary(Operator::Function(Function::Sin), argument, start);
        let unit = self.leaf(Operator::Constant(Constant::I), start);
        let imaginary = self.binary(Operator::Product, unit, sine, start);
        self.binary(Operator::Sum, cosine, imaginary, start)
    }

    /// `\nabla f`, `\nabla \cdot F`, `\nabla \times F`, `\nabla^2 f`.
    pub(super) fn nabla(&mut self) -> Expression {
        let start = self.start();
        self.advance();
        let function = match self.peek() {
            Mark::CenterDot => {
                self.advance();
                Function::Divergence
            }
            Mark::Times => {
                self.advance();
                Function::Curl
            }
            Mark::Up if self.peek_at(1) == Mark::Digit(2) => {
                self.at += 2;
                Function::Laplacian
            }
            Mark::Up
                if self.peek_at(1) == Mark::Open
                    && self.peek_at(2) == Mark::Digit(2)
                    && self.peek_at(3) == Mark::Close =>
            {
                self.at += 4;
                Function::Laplacian
            }
            _ => Function::Gradient,
        };
        if !self.starts_factor() {
            self.malformed(
                self.since(start),
                "`\\nabla` has nothing after it: write the function, as in `\\nabla f`",
            );
            let hole = self.hole();
            return self.unary(Operator::Function(function), hole, start);
        }
        let operand = self.factor();
        self.unary(Operator::Function(function), operand, start)
    }
}

fn is_bracket(mark: Mark) -> bool {
    matches!(mark, Mark::Delimiter(_) | Mark::Left | Mark::BigBar)
}
