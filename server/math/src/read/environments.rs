//! Environments: matrices, systems, cases, aligned rows.

use super::statements::Word;
use super::tokens::{Delimiter, Mark, Token};
use super::{Class, Reader};
use crate::expression::{Expression, Function, Operands, Operator, Shape};

/// What the rows and columns of an environment are for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    /// One formula, or several, broken into lines; columns are for alignment only.
    Lines,
    /// Equations that hold together, or values with conditions.
    Cases,
    /// Entries.
    Matrix,
    Unknown,
}

fn kind_of(name: &str) -> Kind {
    match name.trim_end_matches('*') {
        "aligned" | "align" | "alignat" | "alignedat" | "gather" | "gathered" | "split"
        | "multline" | "multlined" | "equation" | "eqnarray" | "flalign" | "displaymath"
        | "math" => Kind::Lines,
        "cases" | "dcases" | "rcases" => Kind::Cases,
        "matrix" | "pmatrix" | "bmatrix" | "Bmatrix" | "vmatrix" | "Vmatrix" | "smallmatrix"
        | "psmallmatrix" | "bsmallmatrix" | "vsmallmatrix" | "array" => Kind::Matrix,
        _ => Kind::Unknown,
    }
}

/// The name in `\begin{name}`.
fn name_of<'t>(tex: &'t str, token: &Token) -> &'t str {
    let text = tex.get(token.range()).unwrap_or_default();
    let open = text.find('{').map_or(text.len(), |open| open + 1);
    text[open..].trim_end_matches('}').trim()
}

/// Drops the marks that only align: `&` in lines and equations, and the ends of rows that the
/// next row continues.
pub(super) fn without_alignment(tokens: Vec<Token>, tex: &str) -> Vec<Token> {
    if !tokens.iter().any(|token| token.mark == Mark::Begin) {
        return tokens;
    }
    let kinds = kinds_of_alignment(&tokens, tex);
    let mut kept: Vec<Token> = Vec::with_capacity(tokens.len());
    for (index, token) in tokens.iter().enumerate() {
        let drop = match (token.mark, kinds[index]) {
            (Mark::Align, Some(Kind::Lines)) => true,
            (Mark::Align, Some(Kind::Cases)) => !is_condition(&tokens, index),
            (Mark::Row, Some(Kind::Lines)) => is_continued(&tokens, index),
            // The value of a case may begin with a sign.
            (Mark::Row, Some(Kind::Cases)) => starts_with_relation(&tokens, index),
            _ => false,
        };
        if !drop {
            kept.push(*token);
        }
    }
    kept
}

/// For every `&` and `\\`, the kind of the environment around it.
fn kinds_of_alignment(tokens: &[Token], tex: &str) -> Vec<Option<Kind>> {
    let mut open: Vec<Kind> = Vec::new();
    let mut kinds = vec![None; tokens.len()];
    for (index, token) in tokens.iter().enumerate() {
        match token.mark {
            Mark::Begin => {
                let name = name_of(tex, token);
                let kind = match kind_of(name) {
                    Kind::Matrix if name == "array" => array_kind(tokens, index),
                    kind => kind,
                };
                open.push(kind);
                kinds[index] = Some(kind);
            }
            Mark::End => {
                open.pop();
            }
            Mark::Align | Mark::Row => kinds[index] = open.last().copied(),
            _ => {}
        }
    }
    kinds
}

/// An array after `\left\{` holds cases; one without brackets that holds relations, equations.
fn array_kind(tokens: &[Token], begin: usize) -> Kind {
    let before = |offset: usize| begin.checked_sub(offset).map(|at| tokens[at].mark);
    match (before(2), before(1)) {
        (_, Some(Mark::Delimiter(Delimiter::BraceOpen))) => return Kind::Cases,
        (_, Some(Mark::Delimiter(_))) => return Kind::Matrix,
        _ => {}
    }
    let mut depth = 0;
    for token in &tokens[begin..] {
        match token.mark {
            Mark::Begin => depth += 1,
            Mark::End => {
                depth -= 1;
                if depth == 0 {
                    break;
                }
            }
            Mark::Relation(_) if depth == 1 => return Kind::Lines,
            _ => {}
        }
    }
    Kind::Matrix
}

/// The tokens of the row around this one, which is not at a row's end.
fn row_around(tokens: &[Token], index: usize) -> (usize, usize) {
    let ends = |token: &Token| matches!(token.mark, Mark::Row | Mark::Begin | Mark::End);
    let from = tokens[..index]
        .iter()
        .rposition(ends)
        .map_or(0, |at| at + 1);
    let to = tokens[index..]
        .iter()
        .position(ends)
        .map_or(tokens.len(), |at| index + at);
    (from, to)
}

/// The `&` at this token of a cases environment stands between a value and its condition, and not
/// inside an equation.
fn is_condition(tokens: &[Token], index: usize) -> bool {
    let (from, to) = row_around(tokens, index);
    let before = &tokens[from..index];
    let after = &tokens[index + 1..to];
    let Some(first) = after.first() else {
        return false;
    };
    if first.mark == Mark::Text {
        return true;
    }
    if matches!(
        first.mark,
        Mark::Relation(_) | Mark::Plus | Mark::Minus | Mark::Align | Mark::PlusMinus
    ) {
        return false;
    }
    let ends_with_comma = before
        .iter()
        .rev()
        .find(|token| token.mark != Mark::Gap)
        .is_some_and(|token| matches!(token.mark, Mark::Comma));
    if ends_with_comma {
        return true;
    }
    let relates = |tokens: &[Token]| {
        tokens
            .iter()
            .any(|token| matches!(token.mark, Mark::Relation(_) | Mark::Not))
    };
    let last_is_operator = before.last().is_none_or(|token| {
        matches!(
            token.mark,
            Mark::Plus | Mark::Minus | Mark::Relation(_) | Mark::CenterDot | Mark::Align
        )
    });
    !relates(before) && !last_is_operator && relates(after)
}

/// The first mark of the row after the `\\` at this token.
fn first_of_next_row(tokens: &[Token], index: usize) -> Option<usize> {
    tokens[index + 1..]
        .iter()
        .position(|token| !matches!(token.mark, Mark::Align | Mark::Gap))
        .map(|at| index + 1 + at)
}

fn starts_with_relation(tokens: &[Token], index: usize) -> bool {
    first_of_next_row(tokens, index)
        .is_some_and(|next| matches!(tokens[next].mark, Mark::Relation(_)))
}

/// The row after the `\\` at this token goes on with the formula of the row before.
fn is_continued(tokens: &[Token], index: usize) -> bool {
    let Some(next) = first_of_next_row(tokens, index) else {
        return false;
    };
    match tokens[next].mark {
        Mark::Relation(_) | Mark::CenterDot | Mark::Times => true,
        Mark::Plus | Mark::Minus => {
            let (_, to) = row_around(tokens, next);
            !tokens[next..to]
                .iter()
                .any(|token| matches!(token.mark, Mark::Relation(_)))
        }
        _ => false,
    }
}

impl Reader<'_> {
    /// Reads a sequence that ends before the token `end`, whatever stands there.
    pub(super) fn sequence_within(&mut self, end: usize) -> (Operands, bool) {
        let (items, rows) = self.sequence();
        if self.at < end && !self.aborted {
            let range = self.here();
            let text = self.text(range.clone()).to_owned();
            self.malformed(range, format!("`{text}` cannot stand here"));
        }
        (items, rows)
    }

    pub(super) fn environment(&mut self) -> Expression {
        let start = self.start();
        let begin = self.at;
        let name = name_of(self.tex, &self.tokens[begin]).to_owned();
        let mut kind = kind_of(&name);
        if kind == Kind::Matrix && name == "array" {
            kind = array_kind(&self.tokens, begin);
        }
        self.advance();
        if kind == Kind::Unknown {
            return self.unknown_environment(&name, start);
        }
        let rule = self.column_specification(&name);
        let rows = self.enclosed(|reader| {
            reader.rows = true;
            reader.bracketed = kind == Kind::Matrix;
            reader.read_rows()
        });
        self.end_environment(&name, start);
        match kind {
            Kind::Matrix => self.matrix(&name, rows, rule, start),
            Kind::Cases => self.cases(rows, start),
            _ => self.lines(rows, start),
        }
    }

    fn unknown_environment(&mut self, name: &str, start: usize) -> Expression {
        let mut depth = 1;
        while depth > 0 && self.at < self.tokens.len() {
            match self.peek() {
                Mark::Begin => depth += 1,
                Mark::End => depth -= 1,
                _ => {}
            }
            self.advance();
        }
        let range = self.since(start);
        self.unsupported(
            range.clone(),
            format!(
                "the environment `{name}` is not known here: use `cases`, `aligned`, `array` or a \
                 matrix"
            ),
        );
        self.opaque(range)
    }

    /// `{cc|c}` after an array, `[t]` or `{2}` after aligned lines: the column after which a rule
    /// stands.
    fn column_specification(&mut self, name: &str) -> Option<u32> {
        if self.peek() == Mark::Delimiter(Delimiter::SquareOpen)
            && matches!(self.peek_at(1), Mark::Letter('t' | 'b' | 'c'))
            && self.peek_at(2) == Mark::Delimiter(Delimiter::SquareClose)
        {
            self.at += 3;
        }
        let takes_argument = name == "array"
            || name.starts_with("aligned") && name.ends_with("at")
            || name.starts_with("alignat");
        if !takes_argument || self.peek() != Mark::Open {
            return None;
        }
        let close = super::context::matching(&self.tokens, self.at).min(self.tokens.len());
        let mut columns = 0;
        let mut rule = None;
        for token in &self.tokens[self.at..close] {
            match token.mark {
                Mark::Letter('l' | 'c' | 'r') => columns += 1,
                Mark::Delimiter(Delimiter::Bar) if columns > 0 => rule = Some(columns),
                _ => {}
            }
        }
        self.at = (close + 1).min(self.tokens.len());
        // A rule at the right edge is a frame.
        rule.filter(|rule| *rule < columns)
    }

    /// Cells up to `\end`, row by row.
    fn read_rows(&mut self) -> Vec<Vec<Operands>> {
        let mut rows: Vec<Vec<Operands>> = vec![Vec::new()];
        loop {
            self.skip_condition_words();
            let (items, _) = self.sequence();
            if let Some(row) = rows.last_mut() {
                row.push(items);
            }
            match self.peek() {
                Mark::Align => self.advance(),
                Mark::Row => {
                    self.advance();
                    rows.push(Vec::new());
                }
                Mark::End | Mark::Eof => break,
                _ => {
                    let range = self.here();
                    let text = self.text(range.clone()).to_owned();
                    self.malformed(
                        range,
                        format!("`{text}` closes nothing in this cell: take it out, or open it"),
                    );
                    self.advance();
                }
            }
        }
        // A last `\\` starts no row.
        if rows
            .last()
            .is_some_and(|row| row.iter().all(|cell| cell.is_empty()))
            && rows.len() > 1
        {
            rows.pop();
        }
        rows
    }

    /// `\text{if }` before a condition.
    fn skip_condition_words(&mut self) {
        while self.peek() == Mark::Text && matches!(self.word(), Word::If | Word::And)
            || self.peek() == Mark::Gap
        {
            self.advance();
        }
    }

    fn end_environment(&mut self, name: &str, start: usize) {
        if self.aborted {
            return;
        }
        let begin = start..start + 6.min(self.tex.len() - start);
        match self.peek() {
            Mark::End => {
                let token = self.tokens[self.at];
                let found = name_of(self.tex, &token).to_owned();
                self.advance();
                if found != name {
                    self.malformed(
                        token.range(),
                        format!("`\\begin{{{name}}}` is closed by `\\end{{{found}}}`: write `\\end{{{name}}}`"),
                    );
                }
            }
            _ => self.malformed(
                begin,
                format!("this environment is never closed: write `\\end{{{name}}}` where it ends"),
            ),
        }
    }

    fn matrix(
        &mut self,
        name: &str,
        rows: Vec<Vec<Operands>>,
        rule: Option<u32>,
        start: usize,
    ) -> Expression {
        let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
        if rows.iter().any(|row| row.len() != columns) {
            self.say_since(
                Class::Malformed,
                start,
                "the rows of this matrix have different lengths: write one `&` between every two \
                 entries of each row",
            );
        }
        let mut entries = Operands::new();
        for row in rows {
            let length = row.len();
            for cell in row {
                let begin = cell.first().map_or(start, |item| item.range().start);
                // An empty cell is a blank, as in a matrix whose zeros are left out.
                entries.push(match cell.is_empty() {
                    true => self.hole(),
                    false => self.collect(cell, false, begin),
                });
            }
            for _ in length..columns {
                entries.push(self.hole());
            }
        }
        let shape = Shape {
            columns: u32::try_from(columns).unwrap_or(u32::MAX),
            rule,
        };
        let matrix = self.node(Operator::Matrix(shape), entries, start);
        match name {
            "vmatrix" | "vsmallmatrix" => {
                self.unary(Operator::Function(Function::Determinant), matrix, start)
            }
            "Vmatrix" => self.unary(Operator::Function(Function::Norm), matrix, start),
            _ => matrix,
        }
    }

    /// Statements, one to a row.
    fn lines(&mut self, rows: Vec<Vec<Operands>>, start: usize) -> Expression {
        let mut statements: Operands = rows.into_iter().flatten().flatten().collect();
        match statements.len() {
            0 => {
                self.say_since(
                    Class::Malformed,
                    start,
                    "this environment is empty: write its rows",
                );
                self.hole()
            }
            1 => statements.remove(0),
            _ => self.node(Operator::System, statements, start),
        }
    }

    /// Equations that hold together, or values with conditions.
    fn cases(&mut self, rows: Vec<Vec<Operands>>, start: usize) -> Expression {
        let is_piecewise = rows.iter().any(|row| value_and_condition(row).is_some());
        if !is_piecewise {
            return self.lines(rows, start);
        }
        let mut operands = Operands::new();
        for row in &rows {
            if row.iter().all(|cell| cell.is_empty()) {
                continue;
            }
            match value_and_condition(row) {
                Some((value, condition)) => operands.extend([value, condition]),
                None => {
                    let items: Operands = row.iter().flatten().cloned().collect();
                    let begin = items.first().map_or(start, |item| item.range().start);
                    let value = self.collect(items, false, begin);
                    self.malformed(
                        value.range(),
                        "this row has a value but no condition: write it after `&`, as in `x^2 & \
                         x > 0`",
                    );
                    let place = value.range().end;
                    operands.push(value);
                    operands.push(Expression::at(
                        Operator::Hole,
                        Operands::new(),
                        place..place,
                    ));
                }
            }
        }
        self.node(Operator::Piecewise, operands, start)
    }

    /// What `\left\{ ... \right.` holds: rows of an array are statements.
    pub(super) fn cases_of_matrix(&mut self, inside: Expression, start: usize) -> Expression {
        match inside.operator() {
            Operator::Matrix(shape) if shape.columns == 1 && inside.operands().len() > 1 => {
                let rows: Operands = inside.operands().into();
                self.node(Operator::System, rows, start)
            }
            _ => inside,
        }
    }
}

/// The value and the condition of one row of cases.
fn value_and_condition(row: &[Operands]) -> Option<(Expression, Expression)> {
    let joined = |items: &[Expression]| match items {
        [] => None,
        [item] => Some(item.clone()),
        _ => {
            let range = items[0].range().start..items[items.len() - 1].range().end;
            Some(Expression::at(Operator::List, items.into(), range))
        }
    };
    match row {
        [value, conditions @ ..] if !conditions.is_empty() => {
            let conditions: Operands = conditions.iter().flatten().cloned().collect();
            let value = joined(value)?;
            let condition = joined(&conditions)?;
            (!matches!(value.operator(), Operator::Relation(_))
                || matches!(condition.operator(), Operator::Text(_)))
            .then_some((value, condition))
        }
        [cell] => match cell.as_slice() {
            [given] if matches!(given.operator(), Operator::Given) => {
                let [value, condition] = given.operands() else {
                    return None;
                };
                (!matches!(value.operator(), Operator::Relation(_)))
                    .then(|| (value.clone(), condition.clone()))
            }
            [value, conditions @ ..] if !conditions.is_empty() => {
                let is_value = !matches!(
                    value.operator(),
                    Operator::Relation(_) | Operator::Text(_) | Operator::Logic(_)
                );
                let is_condition = conditions.iter().all(|condition| {
                    matches!(
                        condition.operator(),
                        Operator::Relation(_) | Operator::Text(_) | Operator::Logic(_)
                    )
                });
                let condition = joined(conditions)?;
                (is_value && is_condition).then(|| (value.clone(), condition))
            }
            _ => None,
        },
        _ => None,
    }
}
