//! An answer in several parts, each under its name: "Domain: …, range: …".

use super::{Asked, value_of};
use crate::expression::{Expression, Operator, Relation};
use crate::verdict::answer::Answer;
use crate::verdict::question::Question;
use crate::verdict::{Verdict, functions, vectors};

/// What a part may be called, and the words of a question that asks for it alone. Longer names
/// stand before those that they hold.
const NAMES: [(&str, &str); 46] = [
    ("vertical asymptote", "find the vertical asymptotes"),
    ("horizontal asymptote", "find the horizontal asymptotes"),
    ("slant asymptote", "find the slant asymptote"),
    ("oblique asymptote", "find the slant asymptote"),
    ("v.a.", "find the vertical asymptotes"),
    ("h.a.", "find the horizontal asymptotes"),
    ("s.a.", "find the slant asymptote"),
    ("asymptote", "find the asymptotes"),
    ("axis of symmetry", "find the axis of symmetry"),
    ("x-intercept", "find the x-intercepts"),
    ("y-intercept", "find the y-intercept"),
    ("x -intercept", "find the x-intercepts"),
    ("y -intercept", "find the y-intercept"),
    ("x- intercept", "find the x-intercepts"),
    ("y- intercept", "find the y-intercept"),
    ("absolute maximum", "find the absolute maximum"),
    ("absolute minimum", "find the absolute minimum"),
    ("absolute max", "find the absolute maximum"),
    ("absolute min", "find the absolute minimum"),
    ("local maximum", "find the local maximum"),
    ("local minimum", "find the local minimum"),
    ("local max", "find the local maximum"),
    ("local min", "find the local minimum"),
    ("relative maximum", "find the local maximum"),
    ("relative minimum", "find the local minimum"),
    ("maximum", "find the maximum value"),
    ("minimum", "find the minimum value"),
    ("max", "find the maximum value"),
    ("min", "find the minimum value"),
    ("amplitude", "find the amplitude"),
    ("phase shift", "find the phase shift"),
    ("period", "find the period"),
    ("midline", "find the midline"),
    ("domain", "find the domain"),
    ("range", "find the range"),
    ("vertices", "find the vertices"),
    ("vertex", "find the vertex"),
    ("foci", "find the foci"),
    ("focus", "find the focus"),
    ("directrix", "find the directrix"),
    ("center", "find the center"),
    ("centre", "find the center"),
    ("radius", "find the radius"),
    ("slope", "find the slope"),
    ("nullity", "find the nullity"),
    ("rank", "find the rank"),
];

/// A word starts there, rather than goes on: "min" does not stand in "determine".
fn starts_word(words: &str, place: usize) -> bool {
    !words[..place].ends_with(char::is_alphabetic)
}

/// The name among the last words before a formula.
fn name_in(words: &str) -> Option<&'static str> {
    match words.trim_matches(|c: char| !c.is_alphabetic()) {
        "d" => return Some("find the domain"),
        "r" => return Some("find the range"),
        _ => {}
    }
    let found = NAMES.iter().filter_map(|(name, question)| {
        let places = words.rmatch_indices(name).map(|(place, _)| place);
        let place = places
            .into_iter()
            .find(|place| starts_word(words, *place))?;
        Some((place + name.len(), question))
    });
    // The last of them; of those that end at one place the longest, which comes first.
    let mut best: Option<(usize, &'static str)> = None;
    for (end, question) in found {
        if best.is_none_or(|(known, _)| end > known) {
            best = Some((end, question));
        }
    }
    best.map(|(_, question)| question)
}

pub(super) fn judge(asked: &Asked<'_>) -> Option<Verdict> {
    let answer = asked.answer;
    let mut groups: Vec<(&'static str, Vec<usize>)> = Vec::new();
    let named = |place: usize| answer.labels.get(place).and_then(|words| name_in(words));
    let count = (0..answer.formulas.len()).filter(|place| named(*place).is_some());
    if count.count() >= 1 && answer.labels.len() == answer.formulas.len() {
        for place in 0..answer.formulas.len() {
            match (named(place), groups.last_mut()) {
                (Some(question), _) => groups.push((question, vec![place])),
                (None, Some((_, places))) => places.push(place),
                // What is asked for first and has no name.
                (None, None) => match asked_names(asked).first() {
                    Some(first) => groups.push((first, vec![place])),
                    None => return None,
                },
            }
        }
    } else {
        groups = in_order(asked)?;
    }
    // A single part is judged with the words of the problem, unless it answers one of several.
    if groups.len() < 2 && !asks_for_several(asked) {
        return None;
    }
    let mut all = Verdict::Holds;
    let is_local = asked.says(&["local", "relative"]);
    for (words, places) in groups {
        let words = match words {
            "find the maximum value" if is_local => "find the local maximum",
            "find the minimum value" if is_local => "find the local minimum",
            words => words,
        };
        let kind = ["hyperbola", "ellipse", "parabola", "sphere", "circle"]
            .into_iter()
            .find(|kind| asked.says(&[kind]));
        let question = Question {
            problem: asked.question.problem.clone(),
            words: match kind {
                Some(kind) => format!("{words} of the {kind}"),
                None => words.into(),
            },
            formulas: asked.formulas.clone(),
        };
        let formulas: Vec<Expression> = places
            .iter()
            .map(|place| answer.formulas[*place].clone())
            .collect();
        let answer = Answer {
            labels: vec![String::new(); formulas.len()],
            formulas,
            ..Answer::default()
        };
        let part = Asked {
            question: &question,
            answer: &answer,
            givens: asked.givens.clone(),
            formulas: asked.formulas.clone(),
        };
        let found = part
            .judge_one()
            .unwrap_or_else(|| match vectors::is_asked(&question) {
                true => vectors::judge(&question, &answer),
                false => functions::judge(&question, &answer),
            });
        match found {
            Verdict::Holds => {}
            Verdict::Fails { reason, witness } => {
                let name = words.trim_start_matches("find the ");
                return Some(Verdict::Fails {
                    reason: format!("{name}: {reason}"),
                    witness,
                });
            }
            doubt => all = doubt,
        }
    }
    Some(all)
}

/// How many of the names stand in the words of the problem.
fn asked_names(asked: &Asked<'_>) -> Vec<&'static str> {
    let words = &asked.question.words;
    let mut found: Vec<(usize, &'static str)> = Vec::new();
    let mut taken: Vec<(usize, usize)> = Vec::new();
    for (name, question) in NAMES {
        let mut from = 0;
        while let Some(place) = words[from..].find(name).map(|place| place + from) {
            from = place + name.len();
            if !starts_word(words, place) {
                continue;
            }
            if taken
                .iter()
                .all(|(start, end)| from <= *start || place >= *end)
            {
                taken.push((place, from));
                if found.iter().all(|(_, known)| *known != question) {
                    found.push((place, question));
                }
            }
        }
    }
    found.sort_unstable();
    found.into_iter().map(|(_, question)| question).collect()
}

fn asks_for_several(asked: &Asked<'_>) -> bool {
    asked_names(asked).len() >= 2
}

/// Parts without names, in the order in which the words ask for them: one formula for each.
fn in_order(asked: &Asked<'_>) -> Option<Vec<(&'static str, Vec<usize>)>> {
    let names = asked_names(asked);
    let formulas = &asked.answer.formulas;
    if names.len() < 2 || names.len() != formulas.len() || asked.answer.outcome().is_some() {
        return None;
    }
    // A part must look like what it is taken for.
    let fits = names.iter().zip(formulas).all(|(name, formula)| {
        let value = value_of(formula);
        let is_pair = matches!(value.operator(), Operator::Tuple(_) | Operator::Interval(_));
        let is_set = is_pair
            || matches!(
                value.operator(),
                Operator::Set | Operator::SetBuilder | Operator::SetOperation(_)
            )
            || value.as_constant().is_some()
            || matches!(formula.as_relation(), Some((_, r, _)) if r != Relation::Equal);
        match *name {
            "find the domain" | "find the range" => is_set,
            "find the vertex" | "find the focus" | "find the center" => is_pair,
            "find the vertices" | "find the foci" => false,
            "find the x-intercepts" | "find the y-intercept" => is_pair,
            "find the slope" | "find the radius" | "find the amplitude" | "find the period"
            | "find the phase shift" => !is_pair,
            "find the vertical asymptotes" => {
                matches!(formula.as_equation(), Some((l, _)) if l.as_symbol().is_some_and(|l| l.name() == "x"))
            }
            "find the horizontal asymptotes" | "find the slant asymptote" => {
                matches!(formula.as_equation(), Some((l, _)) if l.as_symbol().is_some_and(|l| l.name() == "y"))
            }
            "find the directrix" | "find the axis of symmetry" => formula.as_equation().is_some(),
            _ => false,
        }
    });
    fits.then(|| {
        names
            .into_iter()
            .enumerate()
            .map(|(place, name)| (name, vec![place]))
            .collect()
    })
}
