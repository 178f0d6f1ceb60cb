//! Letters and names: symbols, values of functions, derivatives with primes.

use smallvec::smallvec;
use smol_str::SmolStr;

use super::context::{Call, Callee, Differentials, Standing, matching_round};
use super::scripts::{Below, Raised, Scripts};
use super::tokens::{Delimiter, Mark};
use super::{Class, Integrand, Reader};
use crate::expression::{
    Accent, Constant, Differentiation, Expression, Function, Operands, Operator, Style, Symbol,
};

/// Subscripts that are indices when they stand alone; other letters are part of the name.
const INDEX_LETTERS: &str = "ijklmnNıȷ";

/// Names of commands that a writer may have meant; those of functions are known elsewhere.
const COMMAND_NAMES: &[&str] = &[
    "alpha", "beta", "delta", "epsilon", "frac", "gamma", "infty", "int", "lambda", "lim", "mu",
    "omega", "phi", "pi", "prod", "sigma", "sqrt", "sum", "theta",
];

/// Words that are no product of letters.
const WORDS: &[&str] = &[
    "and",
    "or",
    "if",
    "then",
    "where",
    "when",
    "with",
    "for",
    "otherwise",
    "else",
    "so",
    "is",
    "the",
    "undefined",
];

impl Reader<'_> {
    /// A letter or name with its scripts and arguments.
    pub(super) fn named(&mut self) -> Expression {
        let start = self.start();
        match self.peek() {
            Mark::Partial => {
                if let Some(derivative) = self.inline_derivative() {
                    return derivative;
                }
                self.partial_operator()
            }
            Mark::Letter(letter) => {
                if letter == 'd' && self.differential_length(self.at).is_some() {
                    if let Some(derivative) = self.inline_derivative() {
                        return derivative;
                    }
                    if self.is_differential_here() {
                        return self.differential(start);
                    }
                }
                if let Some(word) = self.word_without_backslash() {
                    return word;
                }
                self.advance();
                let mut buffer = [0; 4];
                let name: &str = letter.encode_utf8(&mut buffer);
                let mut symbol = Symbol::new(name);
                if let Some(style) = self.style {
                    symbol = symbol.with_style(style);
                }
                if letter == 'Δ' && self.peek().is_letter() {
                    return self.change(start);
                }
                self.symbol_with_scripts(symbol, start)
            }
            Mark::Style(style) => self.styled(style),
            Mark::Accent(accent) => self.accented(accent),
            _ => self.hole(),
        }
    }

    /// `\Delta x`: the change of a quantity.
    fn change(&mut self, start: usize) -> Expression {
        let quantity_start = self.start();
        let Mark::Letter(letter) = self.peek() else {
            return self.hole();
        };
        self.advance();
        let mut buffer = [0; 4];
        let symbol = Symbol::new(letter.encode_utf8(&mut buffer));
        let quantity = self.symbol_node(symbol, quantity_start);
        self.unary(Operator::Function(Function::Change), quantity, start)
    }

    /// Whether `d` and a letter here are a differential outside an integral's end.
    fn is_differential_here(&mut self) -> bool {
        match (self.integrand, self.context.differentials) {
            (Integrand::Body | Integrand::Inside, _) | (_, Differentials::Always) => true,
            (_, Differentials::Never) => false,
            (_, Differentials::Perhaps) => {
                let range = self.start()
                    ..self
                        .tokens
                        .get(self.at + 1)
                        .map_or(self.tex.len(), |t| t.end as usize);
                let text = self.text(range.clone()).to_owned();
                self.ambiguous(
                    range,
                    format!(
                        "`{text}` is read as a differential: write `d \\cdot x` for a product, \
                         or `\\,` before a differential"
                    ),
                );
                true
            }
        }
    }

    /// The letter as a constant or a symbol, without scripts.
    pub(super) fn letter_or_constant(&mut self, name: &str, start: usize) -> Expression {
        match self.constant(name) {
            Some(constant) if self.style.is_none() => {
                self.leaf(Operator::Constant(constant), start)
            }
            _ => {
                let symbol = Symbol::new(name).with_style(self.style.unwrap_or_default());
                self.symbol_node(symbol, start)
            }
        }
    }

    fn constant(&self, name: &str) -> Option<Constant> {
        let constant = match name {
            "e" => Constant::E,
            "i" if !self.bound.contains(&'i') => Constant::I,
            _ => return None,
        };
        self.context.is_constant(name).then_some(constant)
    }

    /// A function name or a word written without a backslash.
    fn word_without_backslash(&mut self) -> Option<Expression> {
        let adjoins = |reader: &Self, at: usize| {
            matches!(reader.mark_at(at), Mark::Letter(letter) if letter.is_ascii_alphabetic())
                && reader.tokens.get(at).is_some_and(|token| !token.spaced)
        };
        if !adjoins(self, self.at + 1)
            || self.at > 0
                && adjoins(self, self.at)
                && matches!(self.mark_at(self.at - 1), Mark::Letter(letter) if letter.is_ascii_alphabetic())
        {
            return None;
        }
        let mut length = 2;
        while adjoins(self, self.at + length) {
            length += 1;
        }
        let start = self.start();
        let end = self.tokens[self.at + length - 1].end as usize;
        // Letters typed as commands, such as `\theta`, are no word.
        if end - start != length {
            return None;
        }
        let word = self.text(start..end).to_owned();
        let spaced_after = self.tokens.get(self.at + length).is_none_or(|token| {
            token.spaced || !matches!(token.mark, Mark::Digit(_) | Mark::Up | Mark::Down)
        });
        if WORDS.contains(&word.as_str()) && self.tokens[self.at].spaced && spaced_after {
            self.at += length;
            self.malformed(
                start..end,
                format!(
                    "`{word}` is set as a product of letters; it is read as a word: write \
                     `\\text{{ {word} }}`"
                ),
            );
            return Some(self.leaf(Operator::Text(word.into()), start));
        }
        if COMMAND_NAMES.contains(&word.as_str()) {
            self.malformed(
                start..end,
                format!(
                    "`{word}` is set as a product of letters, and so it is read: write `\\{word}` \
                     if that is meant, or a space between the letters"
                ),
            );
            return None;
        }
        let whole = super::functions::by_name(&word).map(|function| (function, length));
        let (function, used) = whole.or_else(|| {
            let name = word.get(..length - 1)?;
            super::functions::by_name(name).map(|function| (function, length - 1))
        })?;
        if used < 2 {
            return None;
        }
        let name = word[..used].to_owned();
        self.at += used;
        self.malformed(
            start..start + used,
            format!(
                "`{name}` is set as a product of letters; it is read as the function: write \
                 `\\{name}`"
            ),
        );
        Some(self.function_after_name(function, start))
    }

    /// A letter in a style of its own: `\mathbf{v}`, `\mathbb R`, `\mathrm{d}`.
    fn styled(&mut self, style: Style) -> Expression {
        let start = self.start();
        if style == Style::Roman && self.differential_length(self.at).is_some() {
            if let Some(derivative) = self.inline_derivative() {
                return derivative;
            }
            return self.differential(start);
        }
        self.advance();
        let begin = self.at;
        let word = match self.peek() {
            Mark::Open => {
                self.advance();
                self.letters_to_close()
            }
            Mark::Letter(letter) => {
                self.advance();
                Some(letter.to_string())
            }
            Mark::Digit(digit) => {
                self.advance();
                Some(digit.to_string())
            }
            _ => None,
        };
        if let Some(word) = word {
            return self.styled_word(style, &word, start);
        }
        self.at = begin;
        // Bold digits are names, such as the zero vector.
        if let (Mark::Open, Mark::Digit(digit), Mark::Close) =
            (self.peek(), self.peek_at(1), self.peek_at(2))
        {
            self.at += 3;
            return self.styled_word(style, &digit.to_string(), start);
        }
        let outside = self.style.replace(style);
        let inside = self.argument("the style", "the letter that it changes", r"\mathbf{v}");
        self.style = outside;
        inside
    }

    fn styled_word(&mut self, style: Style, word: &str, start: usize) -> Expression {
        let is_single = word.chars().count() == 1;
        match style {
            Style::Roman => self.upright(word, start),
            Style::Blackboard if is_single => {
                let constant = match word {
                    "R" => Constant::Reals,
                    "N" => Constant::Naturals,
                    "Z" => Constant::Integers,
                    "Q" => Constant::Rationals,
                    "C" => Constant::Complexes,
                    _ => {
                        let symbol = Symbol::new(word).with_style(style);
                        return self.symbol_with_scripts(symbol, start);
                    }
                };
                self.leaf(Operator::Constant(constant), start)
            }
            Style::Plain if !is_single => {
                self.symbol_with_scripts(Symbol::new(word).with_style(Style::Roman), start)
            }
            _ if is_single => self.symbol_with_scripts(Symbol::new(word).with_style(style), start),
            _ => {
                let mut letters = Operands::new();
                for letter in word.chars() {
                    let mut buffer = [0; 4];
                    let symbol = Symbol::new(letter.encode_utf8(&mut buffer)).with_style(style);
                    letters.push(self.symbol_node(symbol, start));
                }
                self.node(Operator::Product, letters, start)
            }
        }
    }

    /// Upright letters: a constant, a known function, or a name.
    pub(super) fn upright(&mut self, word: &str, start: usize) -> Expression {
        match word {
            "e" | "i" => self.letter_or_constant(word, start),
            "T" => self.symbol_with_scripts(Symbol::new("T"), start),
            _ if word.chars().count() == 1 => {
                self.symbol_with_scripts(Symbol::new(word).with_style(Style::Roman), start)
            }
            _ => self.named_operator(word, start),
        }
    }

    /// A letter with a mark above it.
    fn accented(&mut self, accent: Accent) -> Expression {
        let start = self.start();
        self.advance();
        let inside = self.argument("the accent", "the letter below it", r"\vec{v}");
        match (inside.operator(), accent) {
            (Operator::Symbol(symbol), _) => {
                let symbol = symbol.with_accent(accent);
                self.symbol_with_scripts(symbol, start)
            }
            (Operator::Constant(Constant::I), _) => {
                self.symbol_with_scripts(Symbol::new("i").with_accent(accent), start)
            }
            (Operator::Number(number), Accent::Vector) => {
                let name = format!("{number:?}");
                self.symbol_with_scripts(Symbol::new(&name).with_accent(accent), start)
            }
            (Operator::Product, _) if inside.operands().iter().all(|o| o.as_symbol().is_some()) => {
                let name: String = inside
                    .operands()
                    .iter()
                    .filter_map(Expression::as_symbol)
                    .map(Symbol::name)
                    .collect();
                let symbol = Symbol::new(&name).with_accent(accent);
                self.symbol_node(symbol, start)
            }
            (_, Accent::Bar) => self.unary(Operator::Function(Function::Conjugate), inside, start),
            _ => {
                self.say_since(
                    Class::Unsupported,
                    start,
                    "this mark above more than a letter is not read: give the whole a letter of \
                     its own",
                );
                let range = self.since(start);
                self.opaque(range)
            }
        }
    }

    /// `\overline{...}`: a segment, a complement or a conjugate.
    pub(super) fn overline(&mut self) -> Expression {
        let start = self.start();
        self.advance();
        let inside = self.argument("\\overline", "what it spans", r"\overline{z}");
        let is_segment = matches!(inside.operator(), Operator::Product)
            && inside.operands().len() == 2
            && inside.operands().iter().all(|point| {
                point.as_symbol().is_some_and(|symbol| {
                    symbol
                        .name()
                        .starts_with(|letter: char| letter.is_uppercase())
                })
            });
        match inside.operator() {
            Operator::Symbol(symbol) if !self.context.sets => {
                let symbol = symbol.with_accent(Accent::Bar);
                self.symbol_with_scripts(symbol, start)
            }
            Operator::Symbol(_) | Operator::SetOperation(_) => {
                self.unary(Operator::Function(Function::Complement), inside, start)
            }
            Operator::Product if is_segment => {
                let name: String = inside
                    .operands()
                    .iter()
                    .filter_map(Expression::as_symbol)
                    .map(Symbol::name)
                    .collect();
                self.symbol_node(Symbol::new(&name).with_accent(Accent::Bar), start)
            }
            _ => self.unary(Operator::Function(Function::Conjugate), inside, start),
        }
    }

    /// The scripts that follow a name, in any order.
    fn scripts(&mut self) -> Scripts {
        let mut scripts = Scripts {
            name_end: self.end(),
            ..Scripts::default()
        };
        loop {
            match self.peek() {
                Mark::Prime => scripts.primes += self.primes(),
                Mark::Down if scripts.below.is_none() => {
                    self.advance();
                    scripts.below = Some(self.below());
                    scripts.name_end = self.end();
                }
                Mark::Up if self.raised_primes().is_some() => {}
                Mark::Up if scripts.above.is_none() => {
                    self.advance();
                    let above = self.raised();
                    scripts.above = Some(above);
                }
                _ => return scripts,
            }
            // `y^{\prime}` and `y^\prime` are primes too.
            if let Some((end, count)) = self.raised_primes() {
                self.at = end;
                scripts.primes += count;
            }
        }
    }

    /// The token behind raised primes that come next, and how many primes there are. A brace that
    /// is not closed behind them holds a power instead.
    fn raised_primes(&self) -> Option<(usize, u32)> {
        let mut at = self.at;
        if self.mark_at(at) != Mark::Up {
            return None;
        }
        at += 1;
        let braced = self.mark_at(at) == Mark::Open;
        at += usize::from(braced);
        let mut count = 0;
        while self.mark_at(at) == Mark::Prime {
            at += 1;
            count += 1;
        }
        let closed = !braced || self.mark_at(at) == Mark::Close;
        (count > 0 && closed).then_some((at + usize::from(braced), count))
    }

    /// A symbol with everything that belongs to it: subscript, primes, arguments, power.
    pub(super) fn symbol_with_scripts(&mut self, symbol: Symbol, start: usize) -> Expression {
        let is_plain = symbol.style() == Style::Plain && symbol.accent() == Accent::None;
        if !matches!(
            self.peek(),
            Mark::Up | Mark::Down | Mark::Prime | Mark::Left | Mark::Delimiter(_)
        ) {
            if is_plain && let Some(constant) = self.constant(symbol.name()) {
                return self.leaf(Operator::Constant(constant), start);
            }
            return self.symbol_node(symbol, start);
        }
        let scripts = self.scripts();
        let is_constant = is_plain
            && scripts.below.is_none()
            && scripts.primes == 0
            && self.constant(symbol.name()).is_some();
        let has_subscript = scripts.below.is_some();
        let mut named = match scripts.below {
            None if is_constant => self.letter_or_constant(symbol.name(), start),
            None => self.symbol_node(symbol.clone(), start),
            Some(below) => self.with_subscript(&symbol, below, start),
        }
        .with_range(start..scripts.name_end);
        if scripts.primes > 0 {
            named = self.unary(Operator::Prime(scripts.primes), named, start);
        }
        let standing = match is_constant {
            true => Standing::Variable,
            false => self.context.standing(symbol.name()),
        };
        let mut exponent = None;
        match scripts.above {
            None => {}
            Some(Raised::Order(order)) => named = self.derived(named, order, standing, start),
            Some(Raised::Exponent(power)) if is_transposition(&symbol, &named, &power) => {
                named = self.unary(Operator::Function(Function::Transpose), named, start);
            }
            Some(Raised::Exponent(power))
                if self.context.sets
                    && power.as_symbol().is_some_and(|symbol| symbol.name() == "c")
                    && symbol
                        .name()
                        .starts_with(|letter: char| letter.is_uppercase()) =>
            {
                named = self.unary(Operator::Function(Function::Complement), named, start);
            }
            Some(Raised::Exponent(power))
                if standing == Standing::Unknown && roman_product(&power).is_some() =>
            {
                named = self.derived(named, power, standing, start);
            }
            Some(Raised::Exponent(power)) => exponent = Some(power),
            Some(Raised::Star) if !has_subscript => {
                let starred = SmolStr::from(format!("{}*", symbol.name()));
                let symbol = Symbol::new(&starred).with_style(symbol.style());
                named = self.symbol_node(symbol, start);
            }
            Some(other) => named = self.raise(named, other, start),
        }
        if is_constant {
            return self.powered(named, exponent, start);
        }
        self.called(&symbol, named, standing, exponent, has_subscript, start)
    }

    /// `y^{(4)}`, `f^{(n)}`.
    fn derived(
        &mut self,
        named: Expression,
        order: Expression,
        standing: Standing,
        start: usize,
    ) -> Expression {
        if let Some(times) = order.as_i64().and_then(|order| u32::try_from(order).ok()) {
            return self.unary(Operator::Prime(times), named, start);
        }
        if let Some(times) = order
            .as_symbol()
            .and_then(|symbol| roman_numeral(symbol.name()))
        {
            return self.unary(Operator::Prime(times), named, start);
        }
        if let Some(times) = roman_product(&order) {
            return self.unary(Operator::Prime(times), named, start);
        }
        match standing {
            Standing::Function | Standing::Unknown => {
                self.binary(Operator::NthPrime, named, order, start)
            }
            Standing::Letter | Standing::Variable => {
                let is_compound = !order.operands().is_empty();
                let power = self.binary(Operator::Power, named, order, start);
                if !is_compound {
                    self.say_since(
                        Class::Ambiguous,
                        start,
                        "a bracketed exponent may be the order of a derivative; it is read as a \
                         power: leave the brackets out for a power",
                    );
                }
                power
            }
        }
    }

    /// Arguments in brackets after a name, or the name alone; then its power.
    fn called(
        &mut self,
        symbol: &Symbol,
        named: Expression,
        standing: Standing,
        exponent: Option<Expression>,
        has_subscript: bool,
        start: usize,
    ) -> Expression {
        let open = match (self.peek(), self.peek_at(1)) {
            (Mark::Delimiter(Delimiter::RoundOpen), _) => self.at,
            (Mark::Left, Mark::Delimiter(Delimiter::RoundOpen)) => self.at + 1,
            (Mark::Delimiter(Delimiter::SquareOpen), _)
                if "fgh".contains(symbol.name()) || self.is_expectation(symbol) =>
            {
                self.at
            }
            (Mark::Delimiter(Delimiter::BraceOpen | Delimiter::SquareOpen), _)
                if symbol.style() == Style::Calligraphic =>
            {
                self.at
            }
            (Mark::Left, Mark::Delimiter(Delimiter::SquareOpen | Delimiter::BraceOpen))
                if symbol.style() == Style::Calligraphic
                    || "fgh".contains(symbol.name())
                        && self.peek_at(1) == Mark::Delimiter(Delimiter::SquareOpen) =>
            {
                self.at + 1
            }
            _ => return self.named_alone(named, standing, exponent, start),
        };
        let is_round = self.mark_at(open) == Mark::Delimiter(Delimiter::RoundOpen);
        let call = match is_round {
            false => Call::Arguments,
            true => self.call_or_product(symbol, &named, open, has_subscript, start),
        };
        if call == Call::Factor {
            return self.named_alone(named, standing, exponent, start);
        }
        // `f^{-1}(x)` is the value of the inverse function.
        let mut exponent = exponent;
        let mut function = named;
        if exponent
            .as_ref()
            .is_some_and(|power| power.as_i64() == Some(-1))
        {
            exponent = None;
            function = self.unary(Operator::InverseFunction, function, start);
        }
        let value = self.call_with_bracket(function, start);
        self.powered(value, exponent, start)
    }

    /// Whether a bracket after a derivative of this function holds arguments.
    pub(super) fn call_or_product_of(
        &mut self,
        symbol: &Symbol,
        open: usize,
        start: usize,
    ) -> bool {
        let derivative = self.symbol_node(symbol.clone(), start);
        let derivative = self.unary(Operator::Prime(1), derivative, start);
        self.call_or_product(symbol, &derivative, open, false, start) == Call::Arguments
    }

    /// `E[X]`: the mean of what is in the brackets, which names a random variable.
    fn is_expectation(&self, symbol: &Symbol) -> bool {
        symbol.name() == "E"
            && (symbol.style() == Style::Blackboard
                || self.tokens[self.at..]
                    .iter()
                    .take_while(|token| token.mark != Mark::Delimiter(Delimiter::SquareClose))
                    .any(|token| matches!(token.mark, Mark::Letter('X' | 'Y' | 'Z'))))
    }

    fn call_or_product(
        &mut self,
        symbol: &Symbol,
        named: &Expression,
        open: usize,
        has_subscript: bool,
        start: usize,
    ) -> Call {
        if matches!(symbol.style(), Style::Calligraphic | Style::Blackboard) {
            return Call::Arguments;
        }
        let close = matching_round(&self.tokens, open);
        let begins = self
            .tokens
            .iter()
            .rposition(|token| (token.start as usize) < start);
        let alone_before = begins.is_none_or(|at| {
            matches!(
                self.mark_at(at),
                Mark::Relation(_)
                    | Mark::Comma
                    | Mark::Semicolon
                    | Mark::Gap
                    | Mark::Row
                    | Mark::Align
                    | Mark::Text
                    | Mark::Begin
                    | Mark::Logic(_)
            )
        });
        let after = self.mark_at(close + 1);
        let alone_after = match after {
            Mark::Relation(_) => true,
            Mark::Align => matches!(self.mark_at(close + 2), Mark::Relation(_)),
            _ => false,
        };
        let callee = Callee {
            name: symbol.name(),
            subscript: has_subscript,
            primed: matches!(named.operator(), Operator::Prime(_) | Operator::NthPrime),
            side_alone: alone_before && alone_after,
        };
        let call = self.context.call(&self.tokens, callee, open, close);
        if call != Call::Unclear {
            return call;
        }
        let end = self
            .tokens
            .get(close)
            .map_or(self.tex.len(), |token| token.end as usize);
        let text = self.text(start..end).to_owned();
        let name = self.text(self.since(start)).to_owned();
        let kind = match named.operator() {
            Operator::Prime(_) | Operator::NthPrime => "derivative",
            _ => "function",
        };
        self.ambiguous(
            start..end,
            format!(
                "`{text}` may be a product, as it is read, or a value of the {kind} `{name}`: \
                 write `{name} \\cdot (...)` for the product, or name the function elsewhere in \
                 the problem"
            ),
        );
        Call::Factor
    }

    fn named_alone(
        &mut self,
        named: Expression,
        standing: Standing,
        exponent: Option<Expression>,
        start: usize,
    ) -> Expression {
        let is_inverse = standing == Standing::Function
            && exponent
                .as_ref()
                .is_some_and(|power| power.as_i64() == Some(-1))
            && named
                .as_symbol()
                .is_some_and(|symbol| "fgh".contains(symbol.name()));
        match is_inverse {
            true => self.unary(Operator::InverseFunction, named, start),
            false => self.powered(named, exponent, start),
        }
    }

    fn powered(
        &mut self,
        base: Expression,
        exponent: Option<Expression>,
        start: usize,
    ) -> Expression {
        match exponent {
            Some(exponent) => {
                let power = self.binary(Operator::Power, base, exponent, start);
                if self.peek() == Mark::Up {
                    let range = self.here();
                    self.malformed(
                        range,
                        "a second exponent follows the first: put one of them in braces, as in \
                         `{x^2}^3` or `x^{2^3}`",
                    );
                }
                power
            }
            None => base,
        }
    }

    /// The function at the arguments in the bracket that follows.
    pub(super) fn call_with_bracket(&mut self, function: Expression, start: usize) -> Expression {
        let arguments = self.arguments();
        let mut operands: Operands = smallvec![function];
        operands.extend(arguments);
        self.node(Operator::Apply, operands, start)
    }

    /// A composition or another function in brackets, at the arguments after it if there are any.
    pub(super) fn called_with_bracket(&mut self, function: Expression, start: usize) -> Expression {
        match (self.peek(), self.peek_at(1)) {
            (Mark::Delimiter(Delimiter::RoundOpen), _)
            | (Mark::Left, Mark::Delimiter(Delimiter::RoundOpen)) => {
                self.call_with_bracket(function, start)
            }
            _ => function,
        }
    }

    /// The symbol with its subscript: a longer name, an index, or partial derivatives.
    fn with_subscript(&mut self, symbol: &Symbol, below: Below, start: usize) -> Expression {
        let index = match below {
            Below::Literal(literal) => {
                return self.symbol_node(symbol.with_subscript(&literal), start);
            }
            Below::Formula(index) => index,
        };
        if let Some(variables) = letters_of(&index) {
            let are_variables = variables
                .iter()
                .all(|variable| "xyztrsθϑφ".contains(variable.name()));
            if are_variables
                && self.context.has_partial_derivatives(symbol.name())
                && symbol.style() == Style::Plain
            {
                return self.subscript_derivative(symbol, &variables, start);
            }
            if let [variable] = variables.as_slice()
                && !INDEX_LETTERS.contains(variable.name())
                && variable.subscript().is_empty()
            {
                let name = variable.name().to_owned();
                return self.symbol_node(symbol.with_subscript(&name), start);
            }
        }
        let letter = self.symbol_node(symbol.clone(), start);
        let mut operands: Operands = smallvec![letter];
        match index.operator() {
            // `a_{ij}` has two indices, and so has `a_{i,j}`.
            Operator::List => operands.extend(index.operands().iter().cloned()),
            Operator::Product
                if index.operands().iter().all(|operand| {
                    operand.as_symbol().is_some() || operand.as_constant() == Some(Constant::I)
                }) =>
            {
                operands.extend(index.operands().iter().map(index_symbol));
            }
            _ => operands.push(index_symbol(&index)),
        }
        self.node(Operator::Indexed, operands, start)
    }

    /// `u_{xxt}` as derivatives with respect to x, twice, and t.
    fn subscript_derivative(
        &mut self,
        symbol: &Symbol,
        variables: &[Symbol],
        start: usize,
    ) -> Expression {
        let mut orders: smallvec::SmallVec<[u32; 2]> = smallvec::SmallVec::new();
        let mut operands: Operands = smallvec![self.symbol_node(symbol.clone(), start)];
        let mut last: Option<&Symbol> = None;
        for variable in variables {
            match orders.last_mut() {
                Some(order) if last == Some(variable) => *order += 1,
                _ => {
                    orders.push(1);
                    operands.push(self.symbol_node(variable.clone(), start));
                }
            }
            last = Some(variable);
        }
        let by = Differentiation {
            partial: true,
            orders,
        };
        self.node(Operator::Derivative(Box::new(by)), operands, start)
    }
}

impl Mark {
    fn is_letter(self) -> bool {
        matches!(self, Mark::Letter(_))
    }
}

/// An index that is `i` is no imaginary unit.
fn index_symbol(index: &Expression) -> Expression {
    match index.as_constant() {
        Some(Constant::I) => Expression::at(
            Operator::Symbol(Symbol::new("i")),
            Operands::new(),
            index.range(),
        ),
        _ => index.map_operands(index_symbol),
    }
}

/// The letters of a subscript that consists of letters only.
fn letters_of(index: &Expression) -> Option<Vec<Symbol>> {
    let plain = |part: &Expression| {
        part.as_symbol()
            .filter(|symbol| symbol.subscript().is_empty())
            .cloned()
    };
    match index.operator() {
        Operator::Symbol(_) => plain(index).map(|symbol| vec![symbol]),
        Operator::Product => index.operands().iter().map(plain).collect(),
        _ => None,
    }
}

fn is_transposition(symbol: &Symbol, named: &Expression, power: &Expression) -> bool {
    power
        .as_symbol()
        .is_some_and(|exponent| exponent.name() == "T" && exponent.subscript().is_empty())
        && (symbol.is_vector()
            || symbol
                .name()
                .starts_with(|letter: char| letter.is_uppercase()))
        && named.as_symbol().is_some()
}

fn roman_numeral(name: &str) -> Option<u32> {
    ["i", "ii", "iii", "iv", "v", "vi", "vii", "viii"]
        .iter()
        .position(|numeral| *numeral == name)
        .map(|place| place as u32 + 1)
        .filter(|order| *order > 2)
}

/// `iv` as it is read: the product of i and v.
fn roman_product(order: &Expression) -> Option<u32> {
    let Operator::Product = order.operator() else {
        return None;
    };
    let name: Option<String> = order
        .operands()
        .iter()
        .map(|part| match part.as_constant() {
            Some(Constant::I) => Some("i".to_owned()),
            _ => part.as_symbol().map(|symbol| symbol.name().to_owned()),
        })
        .collect();
    roman_numeral(&name?)
}
