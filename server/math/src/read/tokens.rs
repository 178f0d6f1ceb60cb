//! Which marks does a formula consist of?
//!
//! TeX is cut into tokens, each with its range of bytes. Commands are looked up here, so that
//! the rest of the reader sees meanings and not spellings; Unicode characters become the token of
//! the command that they stand for. Spacing, sizes and other commands without mathematical
//! content are dropped.

use std::ops::Range;

use crate::expression::{
    Accent, Connective, Constant, Function, Quantifier, Relation, SeriesOperator, SetOperation,
    Style,
};

/// A mark and the bytes that it stands for.
#[derive(Clone, Copy, Debug)]
pub(super) struct Token {
    pub(super) mark: Mark,
    pub(super) start: u32,
    pub(super) end: u32,
    /// Space of any kind stands before it.
    pub(super) spaced: bool,
    /// A thin space `\,` stands before it.
    pub(super) thin: bool,
}

impl Token {
    pub(super) fn range(&self) -> Range<usize> {
        self.start as usize..self.end as usize
    }
}

/// What a token means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mark {
    Letter(char),
    Digit(u8),
    /// `{` and `}`.
    Open,
    Close,
    /// `^` and `_`.
    Up,
    Down,
    /// `&` and `\\`.
    Align,
    Row,
    Prime,
    Comma,
    /// `{,}`, which TeX authors write inside numbers.
    NumberComma,
    Semicolon,
    Point,
    Bang,
    Colon,
    Plus,
    Minus,
    PlusMinus,
    MinusPlus,
    Times,
    CenterDot,
    Star,
    Slash,
    Divide,
    Relation(Relation),
    /// `\not`, which negates the relation after it.
    Not,
    /// `\nearrow`, `\uparrow`: tends to from below.
    Rises,
    /// `\searrow`, `\downarrow`: tends to from above.
    Falls,
    Delimiter(Delimiter),
    /// `\left`, `\right` and `\middle`.
    Left,
    Right,
    Middle,
    /// `\big|` and its relatives before a bar: the bar stands alone.
    BigBar,
    Function(Function),
    /// The common logarithm `\lg`.
    Lg,
    /// An operator whose name is set upright and which the reader does not know.
    Named(&'static str),
    Fraction,
    Binomial,
    Root,
    Constant(Constant),
    Style(Style),
    /// `\bf` and its relatives, which hold to the end of the group.
    StyleSwitch(Style),
    Accent(Accent),
    /// `\dot` and `\ddot`: derivatives.
    DotAccent(u8),
    /// `\overline`: repeating digits, a conjugate or a segment.
    Overline,
    Text,
    OperatorName,
    Begin,
    End,
    /// `\quad` and `\qquad`, which separate statements.
    Gap,
    Ellipsis,
    Logic(Connective),
    Quantifier(Quantifier),
    SetOperation(SetOperation),
    /// `\over` and `\choose`, which split the group in which they stand.
    Over,
    Choose,
    Limit,
    Integral {
        signs: u8,
        closed: bool,
    },
    Series(SeriesOperator),
    Partial,
    Nabla,
    /// `\circ`: a composition, or raised, degrees.
    Circle,
    Degree,
    Percent,
    Currency,
    /// `\mid`: a condition follows, or something divided.
    Mid,
    Remainder,
    Modulus,
    Blank,
    /// A command around its argument that changes its look only.
    Transparent,
    /// `\underbrace`: the argument, and a note that is not part of the formula.
    Annotated,
    Overset,
    Underset,
    Substack,
    /// `\angle` and `\triangle`, before letters.
    Figure(char),
    /// `\top`, raised: transposed.
    Top,
    /// `\ast` or `*` is [`Mark::Star`]; `\dagger` and other commands are unknown.
    Unknown,
    /// A character that has no meaning in a formula.
    Stray(char),
    /// After the last token.
    Eof,
}

/// A bracket or a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Delimiter {
    RoundOpen,
    RoundClose,
    SquareOpen,
    SquareClose,
    BraceOpen,
    BraceClose,
    AngleOpen,
    AngleClose,
    FloorOpen,
    FloorClose,
    CeilingOpen,
    CeilingClose,
    /// `\lvert` and `\rvert`.
    BarOpen,
    BarClose,
    /// `\lVert` and `\rVert`.
    DoubleBarOpen,
    DoubleBarClose,
    /// `|` and `\|`, which open and close.
    Bar,
    DoubleBar,
}

impl Delimiter {
    pub(super) fn closes(self) -> bool {
        matches!(
            self,
            Self::RoundClose
                | Self::SquareClose
                | Self::BraceClose
                | Self::AngleClose
                | Self::FloorClose
                | Self::CeilingClose
                | Self::BarClose
                | Self::DoubleBarClose
        )
    }

    pub(super) fn opens(self) -> bool {
        !self.closes() && !matches!(self, Self::Bar | Self::DoubleBar)
    }

    /// The delimiter that ends what this one begins.
    pub(super) fn partner(self) -> Self {
        match self {
            Self::RoundOpen => Self::RoundClose,
            Self::SquareOpen => Self::SquareClose,
            Self::BraceOpen => Self::BraceClose,
            Self::AngleOpen => Self::AngleClose,
            Self::FloorOpen => Self::FloorClose,
            Self::CeilingOpen => Self::CeilingClose,
            Self::BarOpen => Self::BarClose,
            Self::DoubleBarOpen => Self::DoubleBarClose,
            other => other,
        }
    }
}

/// The tokens of a formula.
pub(super) fn tokens(tex: &str) -> Vec<Token> {
    let mut cutter = Cutter {
        tex,
        bytes: tex.as_bytes(),
        at: 0,
        spaced: false,
        thin: false,
        tokens: Vec::with_capacity(tex.len() / 2 + 8),
    };
    while cutter.at < tex.len() {
        cutter.cut();
    }
    cutter.tokens
}

struct Cutter<'t> {
    tex: &'t str,
    bytes: &'t [u8],
    at: usize,
    spaced: bool,
    thin: bool,
    tokens: Vec<Token>,
}

impl Cutter<'_> {
    fn push(&mut self, mark: Mark, length: usize) {
        let start = self.at;
        self.at += length;
        self.push_range(mark, start..self.at);
    }

    fn push_range(&mut self, mark: Mark, range: Range<usize>) {
        self.tokens.push(Token {
            mark,
            start: range.start as u32,
            end: range.end as u32,
            spaced: std::mem::take(&mut self.spaced),
            thin: std::mem::take(&mut self.thin),
        });
    }

    fn space(&mut self, length: usize) {
        self.at += length;
        self.spaced = true;
    }

    fn cut(&mut self) {
        use Delimiter as D;
        let byte = self.bytes[self.at];
        let mark = match byte {
            b' ' | b'\t' | b'\n' | b'\r' | b'~' => return self.space(1),
            b'a'..=b'z' | b'A'..=b'Z' => Mark::Letter(byte as char),
            b'0'..=b'9' => Mark::Digit(byte - b'0'),
            b'{' if self.bytes[self.at..].starts_with(b"{,}") => {
                return self.push(Mark::NumberComma, 3);
            }
            b'{' => Mark::Open,
            b'}' => Mark::Close,
            b'^' => Mark::Up,
            b'_' => Mark::Down,
            b'&' => Mark::Align,
            b'\'' => Mark::Prime,
            b',' => Mark::Comma,
            b';' => Mark::Semicolon,
            b'.' if self.bytes[self.at..].starts_with(b"...") => {
                return self.push(Mark::Ellipsis, 3);
            }
            b'.' => Mark::Point,
            b'!' => Mark::Bang,
            b':' if self.bytes[self.at..].starts_with(b":=") => {
                return self.push(Mark::Relation(Relation::Defined), 2);
            }
            b':' => Mark::Colon,
            b'+' => Mark::Plus,
            b'-' => Mark::Minus,
            b'*' => Mark::Star,
            b'/' => Mark::Slash,
            b'=' => Mark::Relation(Relation::Equal),
            b'<' => Mark::Relation(Relation::Less),
            b'>' => Mark::Relation(Relation::Greater),
            b'(' => Mark::Delimiter(D::RoundOpen),
            b')' => Mark::Delimiter(D::RoundClose),
            b'[' => Mark::Delimiter(D::SquareOpen),
            b']' => Mark::Delimiter(D::SquareClose),
            b'|' => Mark::Delimiter(D::Bar),
            b'?' => Mark::Blank,
            b'%' => return self.comment(),
            b'\\' => return self.command(),
            0..=0x7f => Mark::Stray(byte as char),
            _ => return self.unicode(),
        };
        self.push(mark, 1);
    }

    /// From an unescaped `%` to the end of the line TeX reads nothing.
    fn comment(&mut self) {
        let rest = &self.tex[self.at..];
        let length = rest.find('\n').map_or(rest.len(), |newline| newline + 1);
        self.space(length);
    }

    fn command(&mut self) {
        let start = self.at;
        let rest = &self.bytes[start + 1..];
        let letters = rest
            .iter()
            .take_while(|byte| byte.is_ascii_alphabetic())
            .count();
        if letters == 0 {
            return self.control_symbol();
        }
        let name = &self.tex[start + 1..start + 1 + letters];
        let end = start + 1 + letters;
        let Ok(found) = COMMANDS.binary_search_by(|(known, _)| known.cmp(&name)) else {
            self.at = end;
            return self.push_range(Mark::Unknown, start..end);
        };
        match COMMANDS[found].1 {
            Command::Means(mark) => {
                self.at = end;
                self.push_range(mark, start..end);
            }
            Command::Greek(letter) => {
                self.at = end;
                self.push_range(Mark::Letter(letter), start..end);
            }
            Command::Skip => self.space(end - start),
            Command::SkipArgument => {
                self.at = end;
                let argument = self.balanced(end);
                self.at = argument.end;
                self.spaced = true;
            }
            Command::Size => {
                self.space(end - start);
                // A sized bar without `l` or `r` is an evaluation bar or a separator.
                if matches!(name, "big" | "Big" | "bigg" | "Bigg")
                    && self.bytes.get(self.at) == Some(&b'|')
                {
                    self.push(Mark::BigBar, 1);
                }
            }
            Command::Raw(mark) => {
                let mut content = end;
                if self.bytes.get(content) == Some(&b'*') {
                    content += 1;
                }
                let argument = self.balanced(content);
                self.at = argument.end;
                match mark == Mark::Text && self.tex[argument.clone()].contains('$') {
                    true => self.text_with_formulas(argument),
                    false => self.push_range(mark, start..argument.end),
                }
            }
        }
    }

    /// `\text{if $x > 0$}`: the words and the formulas between dollar signs.
    fn text_with_formulas(&mut self, argument: Range<usize>) {
        let end = argument.end;
        let mut at = argument.start + 1;
        // The text may end before the braces do.
        let inside = match self.tex[..end].ends_with('}') {
            true => end - 1,
            false => end,
        };
        let mut is_formula = false;
        while at < inside {
            let length = self.tex[at..inside].find('$').unwrap_or(inside - at);
            let piece = at..at + length;
            if is_formula {
                self.at = piece.start;
                while self.at < piece.end {
                    self.cut();
                }
            } else if !self.tex[piece.clone()].trim().is_empty() {
                self.push_range(Mark::Text, piece.clone());
            }
            is_formula = !is_formula;
            at = piece.end + 1;
        }
        self.at = end;
    }

    fn control_symbol(&mut self) {
        use Delimiter as D;
        let Some(character) = self.tex[self.at + 1..].chars().next() else {
            return self.push(Mark::Unknown, 1);
        };
        let mark = match character {
            ',' => {
                self.space(2);
                self.thin = true;
                return;
            }
            ' ' | ';' | ':' | '!' | '>' | '/' | '-' | '\n' | '\t' | '\r' => return self.space(2),
            '\\' => {
                // `\\[2pt]` and `\\*` carry layout only.
                let start = self.at;
                self.at += 2;
                if self.bytes.get(self.at) == Some(&b'*') {
                    self.at += 1;
                }
                let rest = &self.tex[self.at..];
                if let Some(length) = row_spacing(rest) {
                    self.at += length;
                }
                return self.push_range(Mark::Row, start..self.at);
            }
            '{' => Mark::Delimiter(D::BraceOpen),
            '}' => Mark::Delimiter(D::BraceClose),
            '|' => Mark::Delimiter(D::DoubleBar),
            '%' => Mark::Percent,
            '$' => Mark::Currency,
            '_' => Mark::Blank,
            '#' | '&' => Mark::Stray(character),
            // `\(` and `\[` delimit formulas in TeX; the formula is already delimited.
            '(' | ')' | '[' | ']' => return self.space(2),
            _ => return self.push(Mark::Unknown, 1 + character.len_utf8()),
        };
        self.push(mark, 2);
    }

    /// The range of `{ ... }` after this byte, braces included; empty if there is none, and to
    /// the end of the text if it is never closed.
    fn balanced(&self, from: usize) -> Range<usize> {
        let spaces = self.bytes[from..]
            .iter()
            .take_while(|byte| byte.is_ascii_whitespace())
            .count();
        let open = from + spaces;
        if self.bytes.get(open) != Some(&b'{') {
            return from..from;
        }
        let mut depth = 0_usize;
        let mut at = open;
        while at < self.bytes.len() {
            match self.bytes[at] {
                b'\\' => at += 1,
                b'{' => depth += 1,
                b'}' => {
                    depth -= 1;
                    if depth == 0 {
                        return open..at + 1;
                    }
                }
                _ => {}
            }
            at += 1;
        }
        open..self.bytes.len()
    }

    fn unicode(&mut self) {
        let Some(character) = self.tex[self.at..].chars().next() else {
            self.at = self.tex.len();
            return;
        };
        let length = character.len_utf8();
        if let Some(digit) = raised(character) {
            return self.script(Mark::Up, raised, digit);
        }
        if let Some(digit) = lowered(character) {
            return self.script(Mark::Down, lowered, digit);
        }
        if let Some((numerator, denominator)) = vulgar_fraction(character) {
            let range = self.at..self.at + length;
            self.at = range.end;
            for mark in [
                Mark::Fraction,
                Mark::Digit(numerator),
                Mark::Digit(denominator),
            ] {
                self.push_range(mark, range.clone());
            }
            return;
        }
        if let Some(degree) = root_degree(character) {
            let range = self.at..self.at + length;
            self.at = range.end;
            for mark in [
                Mark::Root,
                Mark::Delimiter(Delimiter::SquareOpen),
                Mark::Digit(degree),
                Mark::Delimiter(Delimiter::SquareClose),
            ] {
                self.push_range(mark, range.clone());
            }
            return;
        }
        match UNICODE.binary_search_by_key(&character, |(known, _)| *known) {
            Ok(found) => match UNICODE[found].1 {
                "" => self.space(length),
                name => {
                    let command = COMMANDS
                        .binary_search_by(|(known, _)| known.cmp(&name))
                        .ok();
                    match command.map(|found| COMMANDS[found].1) {
                        Some(Command::Means(mark)) => self.push(mark, length),
                        Some(Command::Greek(letter)) => self.push(Mark::Letter(letter), length),
                        _ => self.push(Mark::Stray(character), length),
                    }
                }
            },
            Err(_) if character == '″' || character == '‴' => {
                let range = self.at..self.at + length;
                self.at = range.end;
                for _ in 0..if character == '″' { 2 } else { 3 } {
                    self.push_range(Mark::Prime, range.clone());
                }
            }
            Err(_) if character.is_whitespace() => self.space(length),
            Err(_) if character == 'µ' => self.push(Mark::Letter('μ'), length),
            Err(_) if character.is_alphabetic() => self.push(Mark::Letter(character), length),
            Err(_) => self.push(Mark::Stray(character), length),
        }
    }

    /// A run of raised or lowered characters as a script in braces.
    fn script(&mut self, script: Mark, of: fn(char) -> Option<Mark>, first: Mark) {
        let start = self.at;
        self.push_range(script, start..start);
        self.push_range(Mark::Open, start..start);
        let mut next = Some(first);
        while let Some(mark) = next {
            let length = self.tex[self.at..].chars().next().map_or(0, char::len_utf8);
            self.push(mark, length);
            next = self.tex[self.at..].chars().next().and_then(of);
        }
        self.push_range(Mark::Close, self.at..self.at);
    }
}

/// The length of `[2pt]` at the start of what follows `\\`. A bracket that holds no length is
/// part of the formula.
fn row_spacing(rest: &str) -> Option<usize> {
    let inside = rest.strip_prefix('[')?;
    let close = inside.find(']')?;
    let length = inside[..close].trim();
    let unit = length.trim_start_matches(|c: char| c.is_ascii_digit() || ".-+ ".contains(c));
    let is_length = unit.len() < length.len()
        && matches!(
            unit,
            "pt" | "em" | "ex" | "mm" | "cm" | "in" | "mu" | "bp" | "pc" | "sp"
        );
    is_length.then_some(close + 2)
}

fn raised(character: char) -> Option<Mark> {
    Some(match character {
        '⁰' => Mark::Digit(0),
        '¹' => Mark::Digit(1),
        '²' => Mark::Digit(2),
        '³' => Mark::Digit(3),
        '⁴'..='⁹' => Mark::Digit((character as u32 - '⁰' as u32) as u8),
        '⁺' => Mark::Plus,
        '⁻' => Mark::Minus,
        'ⁿ' => Mark::Letter('n'),
        'ˣ' => Mark::Letter('x'),
        'ⁱ' => Mark::Letter('i'),
        _ => return None,
    })
}

fn lowered(character: char) -> Option<Mark> {
    Some(match character {
        '₀'..='₉' => Mark::Digit((character as u32 - '₀' as u32) as u8),
        'ₙ' => Mark::Letter('n'),
        'ₖ' => Mark::Letter('k'),
        'ₓ' => Mark::Letter('x'),
        _ => return None,
    })
}

fn root_degree(character: char) -> Option<u8> {
    match character {
        '∛' => Some(3),
        '∜' => Some(4),
        _ => None,
    }
}

fn vulgar_fraction(character: char) -> Option<(u8, u8)> {
    Some(match character {
        '½' => (1, 2),
        '¼' => (1, 4),
        '¾' => (3, 4),
        '⅓' => (1, 3),
        '⅔' => (2, 3),
        '⅕' => (1, 5),
        '⅖' => (2, 5),
        '⅗' => (3, 5),
        '⅘' => (4, 5),
        '⅙' => (1, 6),
        '⅚' => (5, 6),
        '⅛' => (1, 8),
        '⅜' => (3, 8),
        '⅝' => (5, 8),
        '⅞' => (7, 8),
        _ => return None,
    })
}

/// What becomes of a command.
#[derive(Clone, Copy, Debug)]
enum Command {
    Means(Mark),
    Greek(char),
    /// Has no mathematical content.
    Skip,
    /// Has none either, together with its argument.
    SkipArgument,
    /// Makes the delimiter after it larger.
    Size,
    /// Its argument is not mathematics.
    Raw(Mark),
}

/// Sorted by name, for binary search.
#[rustfmt::skip]
const COMMANDS: &[(&str, Command)] = {
    use Command::{Greek, Means, Raw, Size, Skip, SkipArgument};
    use Delimiter as D;
    use Function as F;
    use Mark as M;
    use Relation as R;
    &[
        ("Alpha", Greek('Α')),
        ("Beta", Greek('Β')),
        ("Big", Size),
        ("Bigg", Size),
        ("Biggl", Size),
        ("Biggm", Size),
        ("Biggr", Size),
        ("Bigl", Size),
        ("Bigm", Size),
        ("Bigr", Size),
        ("C", Means(M::Constant(Constant::Complexes))),
        ("Delta", Greek('Δ')),
        ("Gamma", Greek('Γ')),
        ("Im", Means(M::Function(F::ImaginaryPart))),
        ("Lambda", Greek('Λ')),
        ("Leftarrow", Means(M::Logic(Connective::ImpliedBy))),
        ("Leftrightarrow", Means(M::Logic(Connective::Iff))),
        ("Longleftrightarrow", Means(M::Logic(Connective::Iff))),
        ("Longrightarrow", Means(M::Logic(Connective::Implies))),
        ("N", Means(M::Constant(Constant::Naturals))),
        ("Omega", Greek('Ω')),
        ("Phi", Greek('Φ')),
        ("Pi", Greek('Π')),
        ("Pr", Means(M::Function(F::Probability))),
        ("Psi", Greek('Ψ')),
        ("Q", Means(M::Constant(Constant::Rationals))),
        ("R", Means(M::Constant(Constant::Reals))),
        ("Re", Means(M::Function(F::RealPart))),
        ("Rightarrow", Means(M::Logic(Connective::Implies))),
        ("Sigma", Greek('Σ')),
        ("Theta", Greek('Θ')),
        ("Upsilon", Greek('Υ')),
        ("Vert", Means(M::Delimiter(D::DoubleBar))),
        ("Xi", Greek('Ξ')),
        ("Z", Means(M::Constant(Constant::Integers))),
        ("alpha", Greek('α')),
        ("angle", Means(M::Figure('∠'))),
        ("approx", Means(M::Relation(R::Approximately))),
        ("arccos", Means(M::Function(F::Arccos))),
        ("arccot", Means(M::Function(F::Arccot))),
        ("arccsc", Means(M::Function(F::Arccsc))),
        ("arcosh", Means(M::Function(F::Arcosh))),
        ("arcsec", Means(M::Function(F::Arcsec))),
        ("arcsin", Means(M::Function(F::Arcsin))),
        ("arctan", Means(M::Function(F::Arctan))),
        ("arctg", Means(M::Function(F::Arctan))),
        ("arg", Means(M::Function(F::Argument))),
        ("arsinh", Means(M::Function(F::Arsinh))),
        ("artanh", Means(M::Function(F::Artanh))),
        ("ast", Means(M::Star)),
        ("asymp", Means(M::Relation(R::Similar))),
        ("bar", Means(M::Accent(Accent::Bar))),
        ("because", Skip),
        ("begin", Raw(M::Begin)),
        ("beta", Greek('β')),
        ("bf", Means(M::StyleSwitch(Style::Bold))),
        ("bfseries", Means(M::StyleSwitch(Style::Bold))),
        ("big", Size),
        ("bigcap", Means(M::Series(SeriesOperator::Intersection))),
        ("bigcup", Means(M::Series(SeriesOperator::Union))),
        ("bigg", Size),
        ("biggl", Size),
        ("biggm", Size),
        ("biggr", Size),
        ("bigl", Size),
        ("bigm", Size),
        ("bigr", Size),
        ("binom", Means(M::Binomial)),
        ("blacksquare", Skip),
        ("bm", Means(M::Style(Style::Bold))),
        ("bmod", Means(M::Remainder)),
        ("bold", Means(M::Style(Style::Bold))),
        ("boldsymbol", Means(M::Style(Style::Bold))),
        ("bot", Means(M::Constant(Constant::False))),
        ("boxed", Means(M::Transparent)),
        ("bullet", Means(M::CenterDot)),
        ("cal", Means(M::StyleSwitch(Style::Calligraphic))),
        ("cap", Means(M::SetOperation(SetOperation::Intersection))),
        ("cdot", Means(M::CenterDot)),
        ("cdotp", Means(M::CenterDot)),
        ("cdots", Means(M::Ellipsis)),
        ("cfrac", Means(M::Fraction)),
        ("chi", Greek('χ')),
        ("choose", Means(M::Choose)),
        ("circ", Means(M::Circle)),
        ("colon", Means(M::Colon)),
        ("coloneqq", Means(M::Relation(R::Defined))),
        ("color", SkipArgument),
        ("complexes", Means(M::Constant(Constant::Complexes))),
        ("cong", Means(M::Relation(R::Congruent))),
        ("cos", Means(M::Function(F::Cos))),
        ("cosec", Means(M::Function(F::Csc))),
        ("cosh", Means(M::Function(F::Cosh))),
        ("cot", Means(M::Function(F::Cot))),
        ("coth", Means(M::Function(F::Coth))),
        ("cr", Means(M::Row)),
        ("csc", Means(M::Function(F::Csc))),
        ("csch", Means(M::Function(F::Csch))),
        ("ctg", Means(M::Function(F::Cot))),
        ("cup", Means(M::SetOperation(SetOperation::Union))),
        ("dbinom", Means(M::Binomial)),
        ("ddot", Means(M::DotAccent(2))),
        ("ddots", Means(M::Ellipsis)),
        ("deg", Means(M::Named("deg"))),
        ("degree", Means(M::Degree)),
        ("delta", Greek('δ')),
        ("det", Means(M::Function(F::Determinant))),
        ("dfrac", Means(M::Fraction)),
        ("dim", Means(M::Function(F::Dimension))),
        ("displaylimits", Skip),
        ("displaystyle", Skip),
        ("div", Means(M::Divide)),
        ("dot", Means(M::DotAccent(1))),
        ("doteq", Means(M::Relation(R::Approximately))),
        ("dots", Means(M::Ellipsis)),
        ("dotsb", Means(M::Ellipsis)),
        ("dotsc", Means(M::Ellipsis)),
        ("dotsm", Means(M::Ellipsis)),
        ("downarrow", Means(M::Falls)),
        ("ell", Greek('ℓ')),
        ("emptyset", Means(M::Constant(Constant::EmptySet))),
        ("end", Raw(M::End)),
        ("enspace", Skip),
        ("epsilon", Greek('ε')),
        ("equiv", Means(M::Relation(R::Equivalent))),
        ("eta", Greek('η')),
        ("exists", Means(M::Quantifier(Quantifier::Exists))),
        ("exp", Means(M::Function(F::Exp))),
        ("footnotesize", Skip),
        ("forall", Means(M::Quantifier(Quantifier::ForAll))),
        ("frac", Means(M::Fraction)),
        ("gamma", Greek('γ')),
        ("gcd", Means(M::Function(F::Gcd))),
        ("ge", Means(M::Relation(R::GreaterOrEqual))),
        ("geq", Means(M::Relation(R::GreaterOrEqual))),
        ("geqslant", Means(M::Relation(R::GreaterOrEqual))),
        ("gg", Means(M::Relation(R::MuchGreater))),
        ("gt", Means(M::Relation(R::Greater))),
        ("hat", Means(M::Accent(Accent::Hat))),
        ("hfill", Skip),
        ("hline", Skip),
        ("hom", Means(M::Named("hom"))),
        ("hphantom", SkipArgument),
        ("hskip", Skip),
        ("hspace", SkipArgument),
        ("iff", Means(M::Logic(Connective::Iff))),
        ("iiint", Means(M::Integral { signs: 3, closed: false })),
        ("iint", Means(M::Integral { signs: 2, closed: false })),
        ("imath", Greek('ı')),
        ("impliedby", Means(M::Logic(Connective::ImpliedBy))),
        ("implies", Means(M::Logic(Connective::Implies))),
        ("in", Means(M::Relation(R::In))),
        ("inf", Means(M::Function(F::Inf))),
        ("infty", Means(M::Constant(Constant::Infinity))),
        ("int", Means(M::Integral { signs: 1, closed: false })),
        ("integers", Means(M::Constant(Constant::Integers))),
        ("intercal", Means(M::Top)),
        ("iota", Greek('ι')),
        ("it", Skip),
        ("jmath", Greek('ȷ')),
        ("kappa", Greek('κ')),
        ("ker", Means(M::Function(F::Kernel))),
        ("lVert", Means(M::Delimiter(D::DoubleBarOpen))),
        ("label", SkipArgument),
        ("lambda", Greek('λ')),
        ("land", Means(M::Logic(Connective::And))),
        ("langle", Means(M::Delimiter(D::AngleOpen))),
        ("lbrace", Means(M::Delimiter(D::BraceOpen))),
        ("lbrack", Means(M::Delimiter(D::SquareOpen))),
        ("lceil", Means(M::Delimiter(D::CeilingOpen))),
        ("lcm", Means(M::Function(F::Lcm))),
        ("ldots", Means(M::Ellipsis)),
        ("le", Means(M::Relation(R::LessOrEqual))),
        ("left", Means(M::Left)),
        ("leq", Means(M::Relation(R::LessOrEqual))),
        ("leqslant", Means(M::Relation(R::LessOrEqual))),
        ("lfloor", Means(M::Delimiter(D::FloorOpen))),
        ("lg", Means(M::Lg)),
        ("lim", Means(M::Limit)),
        ("liminf", Means(M::Named("liminf"))),
        ("limits", Skip),
        ("limsup", Means(M::Named("limsup"))),
        ("ll", Means(M::Relation(R::MuchLess))),
        ("ln", Means(M::Function(F::Ln))),
        ("lnot", Means(M::Logic(Connective::Not))),
        ("log", Means(M::Function(F::Log))),
        ("longmapsto", Means(M::Relation(R::MapsTo))),
        ("longrightarrow", Means(M::Relation(R::To))),
        ("lor", Means(M::Logic(Connective::Or))),
        ("lparen", Means(M::Delimiter(D::RoundOpen))),
        ("lt", Means(M::Relation(R::Less))),
        ("lvert", Means(M::Delimiter(D::BarOpen))),
        ("mapsto", Means(M::Relation(R::MapsTo))),
        ("mathbb", Means(M::Style(Style::Blackboard))),
        ("mathbf", Means(M::Style(Style::Bold))),
        ("mathbin", Means(M::Transparent)),
        ("mathcal", Means(M::Style(Style::Calligraphic))),
        ("mathfrak", Means(M::Style(Style::Fraktur))),
        ("mathit", Means(M::Style(Style::Plain))),
        ("mathop", Means(M::Transparent)),
        ("mathord", Means(M::Transparent)),
        ("mathrm", Means(M::Style(Style::Roman))),
        ("mathscr", Means(M::Style(Style::Calligraphic))),
        ("mathsf", Means(M::Style(Style::Roman))),
        ("mathstrut", Skip),
        ("mathtt", Means(M::Style(Style::Roman))),
        ("max", Means(M::Function(F::Max))),
        ("mbox", Raw(M::Text)),
        ("medspace", Skip),
        ("mid", Means(M::Mid)),
        ("middle", Means(M::Middle)),
        ("min", Means(M::Function(F::Min))),
        ("minus", Means(M::Minus)),
        ("mod", Means(M::Remainder)),
        ("mp", Means(M::MinusPlus)),
        ("mskip", Skip),
        ("mspace", SkipArgument),
        ("mu", Greek('μ')),
        ("nabla", Means(M::Nabla)),
        ("naturals", Means(M::Constant(Constant::Naturals))),
        ("ne", Means(M::Relation(R::NotEqual))),
        ("nearrow", Means(M::Rises)),
        ("neg", Means(M::Logic(Connective::Not))),
        ("negthinspace", Skip),
        ("neq", Means(M::Relation(R::NotEqual))),
        ("newline", Means(M::Row)),
        ("ni", Means(M::Relation(R::Contains))),
        ("nmid", Means(M::Relation(R::DoesNotDivide))),
        ("nobreak", Skip),
        ("nolimits", Skip),
        ("nonumber", Skip),
        ("normalsize", Skip),
        ("not", Means(M::Not)),
        ("notag", Skip),
        ("notin", Means(M::Relation(R::NotIn))),
        ("nu", Greek('ν')),
        ("oiint", Means(M::Integral { signs: 2, closed: true })),
        ("oint", Means(M::Integral { signs: 1, closed: true })),
        ("omega", Greek('ω')),
        ("operatorname", Raw(M::OperatorName)),
        ("oplus", Means(M::SetOperation(SetOperation::DirectSum))),
        ("over", Means(M::Over)),
        ("overbrace", Means(M::Annotated)),
        ("overleftrightarrow", Means(M::Overline)),
        ("overline", Means(M::Overline)),
        ("overrightarrow", Means(M::Accent(Accent::Vector))),
        ("overset", Means(M::Overset)),
        ("parallel", Means(M::Relation(R::Parallel))),
        ("partial", Means(M::Partial)),
        ("perp", Means(M::Relation(R::Perpendicular))),
        ("phantom", SkipArgument),
        ("phi", Greek('φ')),
        ("pi", Means(M::Constant(Constant::Pi))),
        ("pm", Means(M::PlusMinus)),
        ("pmb", Means(M::Style(Style::Bold))),
        ("pmod", Means(M::Modulus)),
        ("prime", Means(M::Prime)),
        ("prod", Means(M::Series(SeriesOperator::Product))),
        ("propto", Means(M::Relation(R::Proportional))),
        ("psi", Greek('ψ')),
        ("qquad", Means(M::Gap)),
        ("quad", Means(M::Gap)),
        ("rVert", Means(M::Delimiter(D::DoubleBarClose))),
        ("rangle", Means(M::Delimiter(D::AngleClose))),
        ("rationals", Means(M::Constant(Constant::Rationals))),
        ("rbrace", Means(M::Delimiter(D::BraceClose))),
        ("rbrack", Means(M::Delimiter(D::SquareClose))),
        ("rceil", Means(M::Delimiter(D::CeilingClose))),
        ("reals", Means(M::Constant(Constant::Reals))),
        ("rfloor", Means(M::Delimiter(D::FloorClose))),
        ("rho", Greek('ρ')),
        ("right", Means(M::Right)),
        ("rightarrow", Means(M::Relation(R::To))),
        ("rm", Means(M::StyleSwitch(Style::Roman))),
        ("rparen", Means(M::Delimiter(D::RoundClose))),
        ("rvert", Means(M::Delimiter(D::BarClose))),
        ("scriptscriptstyle", Skip),
        ("scriptsize", Skip),
        ("scriptstyle", Skip),
        ("searrow", Means(M::Falls)),
        ("sec", Means(M::Function(F::Sec))),
        ("sech", Means(M::Function(F::Sech))),
        ("setminus", Means(M::SetOperation(SetOperation::Difference))),
        ("sgn", Means(M::Function(F::Sign))),
        ("sigma", Greek('σ')),
        ("sim", Means(M::Relation(R::Similar))),
        ("simeq", Means(M::Relation(R::Approximately))),
        ("sin", Means(M::Function(F::Sin))),
        ("sinh", Means(M::Function(F::Sinh))),
        ("small", Skip),
        ("smallsetminus", Means(M::SetOperation(SetOperation::Difference))),
        ("sqrt", Means(M::Root)),
        ("square", Means(M::Blank)),
        ("stackrel", Means(M::Overset)),
        ("strut", Skip),
        ("subset", Means(M::Relation(R::Subset))),
        ("subseteq", Means(M::Relation(R::SubsetOrEqual))),
        ("subsetneq", Means(M::Relation(R::Subset))),
        ("substack", Means(M::Substack)),
        ("sum", Means(M::Series(SeriesOperator::Sum))),
        ("sup", Means(M::Function(F::Sup))),
        ("supset", Means(M::Relation(R::Superset))),
        ("supseteq", Means(M::Relation(R::SupersetOrEqual))),
        ("tag", SkipArgument),
        ("tan", Means(M::Function(F::Tan))),
        ("tanh", Means(M::Function(F::Tanh))),
        ("tau", Greek('τ')),
        ("tbinom", Means(M::Binomial)),
        ("text", Raw(M::Text)),
        ("textbf", Raw(M::Text)),
        ("textcolor", SkipArgument),
        ("textit", Raw(M::Text)),
        ("textnormal", Raw(M::Text)),
        ("textrm", Raw(M::Text)),
        ("textsf", Raw(M::Text)),
        ("textstyle", Skip),
        ("texttt", Raw(M::Text)),
        ("tfrac", Means(M::Fraction)),
        ("tg", Means(M::Function(F::Tan))),
        ("therefore", Skip),
        ("theta", Greek('θ')),
        ("thickspace", Skip),
        ("thinspace", Skip),
        ("tilde", Means(M::Accent(Accent::Tilde))),
        ("times", Means(M::Times)),
        ("tiny", Skip),
        ("to", Means(M::Relation(R::To))),
        ("top", Means(M::Top)),
        ("triangle", Means(M::Figure('△'))),
        ("underbrace", Means(M::Annotated)),
        ("underline", Means(M::Transparent)),
        ("underset", Means(M::Underset)),
        ("uparrow", Means(M::Rises)),
        ("upsilon", Greek('υ')),
        ("varepsilon", Greek('ε')),
        ("varnothing", Means(M::Constant(Constant::EmptySet))),
        ("varphi", Greek('ϕ')),
        ("varpi", Greek('ϖ')),
        ("varrho", Greek('ϱ')),
        ("varsigma", Greek('ς')),
        ("vartheta", Greek('ϑ')),
        ("vdots", Means(M::Ellipsis)),
        ("vec", Means(M::Accent(Accent::Vector))),
        ("vee", Means(M::Logic(Connective::Or))),
        ("vert", Means(M::Delimiter(D::Bar))),
        ("vphantom", SkipArgument),
        ("vspace", SkipArgument),
        ("wedge", Means(M::Logic(Connective::And))),
        ("widehat", Means(M::Accent(Accent::Hat))),
        ("widetilde", Means(M::Accent(Accent::Tilde))),
        ("xi", Greek('ξ')),
        ("zeta", Greek('ζ')),
    ]
};

/// Characters and the command that each stands for; an empty name is a space. Sorted by
/// character. Letters of other alphabets stand for themselves.
#[rustfmt::skip]
const UNICODE: &[(char, &str)] = &[
    ('\u{a0}', ""), ('¬', "neg"), ('°', "degree"), ('±', "pm"), ('·', "cdot"), ('×', "times"),
    ('÷', "div"), ('π', "pi"), ('\u{2009}', ""), ('\u{200b}', ""), ('‖', "Vert"), ('•', "cdot"),
    ('…', "dots"), ('\u{202f}', ""), ('′', "prime"), ('ℂ', "complexes"), ('ℕ', "naturals"),
    ('ℚ', "rationals"), ('ℝ', "reals"), ('ℤ', "integers"), ('→', "to"), ('↦', "mapsto"),
    ('⇐', "impliedby"), ('⇒', "implies"), ('⇔', "iff"), ('∀', "forall"), ('∂', "partial"),
    ('∃', "exists"), ('∅', "emptyset"), ('∆', "Delta"), ('∇', "nabla"), ('∈', "in"),
    ('∉', "notin"), ('∋', "ni"), ('∏', "prod"), ('∑', "sum"), ('−', "minus"), ('∓', "mp"),
    ('∖', "setminus"), ('∗', "ast"), ('∘', "circ"), ('√', "sqrt"), ('∝', "propto"),
    ('∞', "infty"), ('∠', "angle"), ('∣', "mid"), ('∤', "nmid"), ('∥', "parallel"), ('∧', "land"),
    ('∨', "lor"), ('∩', "cap"), ('∪', "cup"), ('∫', "int"), ('∬', "iint"), ('∭', "iiint"),
    ('∮', "oint"), ('∼', "sim"), ('≃', "simeq"), ('≅', "cong"), ('≈', "approx"),
    ('≔', "coloneqq"), ('≠', "ne"), ('≡', "equiv"), ('≤', "le"), ('≥', "ge"), ('≪', "ll"),
    ('≫', "gg"), ('⊂', "subset"), ('⊃', "supset"), ('⊆', "subseteq"), ('⊇', "supseteq"),
    ('⊕', "oplus"), ('⊤', "top"), ('⊥', "perp"), ('⋂', "bigcap"), ('⋃', "bigcup"), ('⋅', "cdot"),
    ('⋮', "vdots"), ('⋯', "cdots"), ('⋱', "ddots"), ('⌈', "lceil"), ('⌉', "rceil"),
    ('⌊', "lfloor"), ('⌋', "rfloor"), ('□', "square"), ('⟨', "langle"), ('⟩', "rangle"),
    ('⩽', "le"), ('⩾', "ge"),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tables_are_sorted() {
        assert!(COMMANDS.windows(2).all(|pair| pair[0].0 < pair[1].0));
        assert!(UNICODE.windows(2).all(|pair| pair[0].0 < pair[1].0));
    }

    #[test]
    fn every_character_stands_for_a_command() {
        for (character, name) in UNICODE.iter().filter(|(_, name)| !name.is_empty()) {
            let found = COMMANDS.binary_search_by(|(known, _)| known.cmp(name));
            assert!(
                found.is_ok_and(|at| matches!(
                    COMMANDS[at].1,
                    Command::Means(_) | Command::Greek(_)
                )),
                "{character} stands for \\{name}, which has no meaning"
            );
        }
    }

    fn check(tex: &str, marks: &[Mark]) {
        let found: Vec<Mark> = tokens(tex).iter().map(|token| token.mark).collect();
        assert_eq!(found, marks, "{tex}");
    }

    #[test]
    fn layout_is_dropped() {
        check(
            r"x \, \! \displaystyle\hspace{2em}\bigl( % a remark",
            &[Mark::Letter('x'), Mark::Delimiter(Delimiter::RoundOpen)],
        );
        check(r"\\[2pt] \\*[1.5 em]", &[Mark::Row, Mark::Row]);
        check(
            r"\\[x]",
            &[
                Mark::Row,
                Mark::Delimiter(Delimiter::SquareOpen),
                Mark::Letter('x'),
                Mark::Delimiter(Delimiter::SquareClose),
            ],
        );
    }

    #[test]
    fn characters_and_commands_agree() {
        check(
            "×≤πα",
            &[
                Mark::Times,
                Mark::Relation(Relation::LessOrEqual),
                Mark::Constant(Constant::Pi),
                Mark::Letter('α'),
            ],
        );
        check(
            "x⁻¹²",
            &[
                Mark::Letter('x'),
                Mark::Up,
                Mark::Open,
                Mark::Minus,
                Mark::Digit(1),
                Mark::Digit(2),
                Mark::Close,
            ],
        );
    }

    #[test]
    fn formulas_in_an_unclosed_text_end_where_it_ends() {
        check(r"\text{$≤", &[Mark::Relation(Relation::LessOrEqual)]);
    }

    #[test]
    fn words_are_one_token() {
        let found = tokens(r"\text{if {x} \} here}x");
        assert_eq!(found.len(), 2);
        assert_eq!(found[0].range(), 0..21);
    }
}
