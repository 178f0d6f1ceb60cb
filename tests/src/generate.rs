//! Notebooks of any size, made from a seed: the same arguments give the same bytes.

use std::fmt::Write as _;

use chrono::{Days, NaiveDate};

/// Problems in one file.
const PROBLEMS_PER_FILE: usize = 250;
/// Problems in one course.
const PROBLEMS_PER_COURSE: usize = 5000;
/// Topics in one course, and patterns in each topic.
const TOPICS: usize = 10;
const PATTERNS_PER_TOPIC: usize = 6;

/// A generator of numbers: SplitMix64 (Steele, Lea and Flood 2014, "Fast splittable pseudorandom
/// number generators", figure 17; constants from memory).
struct Numbers(u64);

impl Numbers {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }
}

/// A notebook of `problems` problems: paths and texts. Each course has its folder, an exam on
/// 2027-02-20, ten topics and sixty patterns; about half the problems were tried in the six weeks
/// before 2027-02-15, and there is prose between them.
pub fn notebook(problems: usize, seed: u64) -> Vec<(String, String)> {
    let mut numbers = Numbers(seed);
    let mut files = Vec::new();
    for course in 0..problems.div_ceil(PROBLEMS_PER_COURSE).max(1) {
        let folder = format!("course-{course:02}");
        files.push((format!("{folder}/course.porism"), course_file(course)));
        let here = PROBLEMS_PER_COURSE.min(problems - course * PROBLEMS_PER_COURSE);
        for (number, first) in (0..here).step_by(PROBLEMS_PER_FILE).enumerate() {
            let count = PROBLEMS_PER_FILE.min(here - first);
            let text = problem_file(&mut numbers, course, first, count);
            files.push((format!("{folder}/week-{number:02}.porism"), text));
        }
    }
    files
}

/// What to plan for: a course `Term` in one file.
#[derive(Clone, Copy, Debug)]
pub struct Term {
    /// Patterns, ten to a topic, each with three problems.
    pub patterns: usize,
    /// Days from 2027-02-15 to the last exam.
    pub days: u64,
    /// Exams, evenly over these days; each covers a half of the topics, or a little more.
    pub exams: usize,
    /// Tries of all problems together, in the sixteen weeks before 2027-02-15.
    pub tries: usize,
}

impl Term {
    /// The path and text of its notes, with an hour of study a day. One topic in five was never
    /// learned, and its problems were not tried.
    pub fn notes(self, seed: u64) -> (String, String) {
        const PROBLEMS: usize = 3;
        let today = NaiveDate::from_ymd_opt(2027, 2, 15).expect("a date");
        let mut numbers = Numbers(seed);
        let topics = self.patterns.div_ceil(10);
        let mut text = "@course Term\n  minutes: 60 min\n\n".to_owned();
        for exam in 1..=self.exams {
            let on = today + Days::new(self.days * exam as u64 / self.exams as u64);
            let first = 1 + numbers.below(topics.div_ceil(2));
            let last = first + topics / 2;
            let weight = 100 / self.exams;
            writeln!(
                text,
                "@exam Exam {exam}\n  on: {on}\n  covers: {first} .. {last}\n  weight: {weight}%\n"
            )
            .expect("strings take text");
        }
        let learned = |pattern: usize| (pattern / 10) % 5 != 4;
        let mut tries = vec![Vec::new(); self.patterns * PROBLEMS];
        let tried: Vec<usize> = (0..tries.len())
            .filter(|problem| learned(problem / PROBLEMS))
            .collect();
        for _ in 0..self.tries {
            let problem = tried[numbers.below(tried.len())];
            let day = today - Days::new(1 + numbers.below(112) as u64);
            let how = ["right", "right", "partly", "wrong"][numbers.below(4)];
            let notes = ["closed", "closed", "open"][numbers.below(3)];
            tries[problem].push(format!("  tried: {day} {notes} {how} 5 min\n"));
        }
        for (problem, mut tries) in tries.into_iter().enumerate() {
            let pattern = problem / PROBLEMS;
            if problem % (10 * PROBLEMS) == 0 {
                let topic = 1 + pattern / 10;
                let learned = if learned(pattern) { "yes" } else { "no" };
                writeln!(
                    text,
                    "@topic {topic} Topic number {topic}\n  learned: {learned}\n"
                )
                .expect("strings take text");
            }
            if problem % PROBLEMS == 0 {
                writeln!(text, "@pattern kind {pattern}\n").expect("strings take text");
            }
            tries.sort();
            writeln!(
                text,
                "@problem {problem}\n  pattern: kind {pattern}\n  Solve ${}x = {}$.\n{}",
                2 + numbers.below(9),
                1 + numbers.below(99),
                tries.concat()
            )
            .expect("strings take text");
        }
        ("term.porism".to_owned(), text)
    }
}

/// One file of at least `bytes` bytes, of the course 0 of [`notebook`].
pub fn file(bytes: usize, seed: u64) -> String {
    let mut numbers = Numbers(seed);
    let mut text = String::new();
    let mut first = 1_000_000;
    while text.len() < bytes {
        text.push_str(&problem_file(&mut numbers, 0, first, PROBLEMS_PER_FILE));
        first += PROBLEMS_PER_FILE;
    }
    text
}

fn course_file(course: usize) -> String {
    let mut text = format!("@course Course {course}\n  term: 2027-01-04\n  target: 80%\n\n");
    writeln!(
        text,
        "@exam Midterm\n  on: 2027-02-20 10:00\n  covers: 1.1 .. 1.10\n  weight: 30%\n"
    )
    .expect("strings take text");
    for topic in 1..=TOPICS {
        writeln!(text, "@topic 1.{topic} Topic number {topic}\n").expect("strings take text");
        for pattern in 0..PATTERNS_PER_TOPIC {
            writeln!(
                text,
                "@pattern kind {topic}-{pattern}\n  cue: what tells kind {pattern} of topic {topic}\n  \
                 method: begin, go on, check\n"
            )
            .expect("strings take text");
        }
    }
    text
}

fn problem_file(numbers: &mut Numbers, course: usize, first: usize, count: usize) -> String {
    let mut text = String::new();
    let mut topic = 0;
    for i in 0..count {
        if i % (PROBLEMS_PER_FILE / 5) == 0 {
            topic = 1 + (first / PROBLEMS_PER_FILE + i) % TOPICS;
            writeln!(text, "@topic 1.{topic}\n").expect("strings take text");
        }
        if i % 4 == 0 {
            text.push_str(
                "What was said here in the lecture, in a line or two of plain prose that has a\n\
                 formula such as $f(x) = x^2 + 1$ in it and goes on to the end.\n\n",
            );
        }
        let pattern = numbers.below(PATTERNS_PER_TOPIC);
        writeln!(text, "@problem {course}.{}", first + i).expect("strings take text");
        writeln!(text, "  pattern: kind {topic}-{pattern}").expect("strings take text");
        let (a, b, c) = (
            2 + numbers.below(9),
            1 + numbers.below(99),
            2 + numbers.below(9),
        );
        let (statement, answer) = match pattern {
            0 => (
                format!("Solve ${a}x + {b} = 0$."),
                format!("x = -\\frac{{{b}}}{{{a}}}"),
            ),
            1 => (
                format!("Solve $x^2 = {}$.", b * b),
                format!("x = {b}, x = -{b}"),
            ),
            2 => (
                format!("Find the derivative of $f(x) = x^{a} \\sin({c}x)$."),
                format!("{a} x^{{{}}} \\sin({c}x) + {c} x^{a} \\cos({c}x)", a - 1),
            ),
            3 => (
                format!("Evaluate $\\int_0^{{{c}}} ({a}x + {b})\\,dx$."),
                format!("\\frac{{{}}}{{2}}", a * c * c + 2 * b * c),
            ),
            4 => (
                format!(
                    "Find the determinant of $\\begin{{bmatrix}} {a} & {b} \\\\ 1 & {c} \\end{{bmatrix}}$."
                ),
                format!("{}", (a * c) as i64 - b as i64),
            ),
            _ => (
                format!(
                    "Evaluate $\\lim_{{x \\to {a}}} \\frac{{x^2 - {}}}{{x - {a}}}$.",
                    a * a
                ),
                format!("{}", 2 * a),
            ),
        };
        writeln!(text, "  {statement}\n  answer: ${answer}$").expect("strings take text");
        for _ in 0..numbers.below(3) {
            let day = numbers.below(42);
            let (month, day) = if day < 28 {
                (1, day + 4)
            } else {
                (2, day - 27)
            };
            let notes = ["closed", "open"][numbers.below(2)];
            let how = ["right", "right", "partly", "wrong"][numbers.below(4)];
            writeln!(
                text,
                "  tried: 2027-{month:02}-{day:02} {notes} {how} 5 min"
            )
            .expect("strings take text");
        }
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_gives_the_same_notebook() {
        assert_eq!(notebook(600, 1), notebook(600, 1));
        assert_ne!(notebook(600, 1), notebook(600, 2));
        let problems = |files: &[(String, String)]| -> usize {
            files
                .iter()
                .map(|(_, text)| text.matches("\n@problem ").count())
                .sum()
        };
        assert_eq!(problems(&notebook(600, 1)), 600);
        assert_eq!(problems(&notebook(10_001, 1)), 10_001);
        assert!(file(100_000, 1).len() >= 100_000);
    }

    #[test]
    fn a_term_has_what_it_says() {
        let term = Term {
            patterns: 60,
            days: 14,
            exams: 3,
            tries: 500,
        };
        let (_, text) = term.notes(1);
        let count = |what: &str| text.matches(what).count();
        let counts = ["@pattern ", "@exam ", "@problem ", "  tried: "].map(count);
        assert_eq!(counts, [60, 3, 180, 500]);
        assert_eq!(count("learned: no"), 1);
        assert!(text.contains("@exam Exam 3\n  on: 2027-03-01\n"));
        assert_eq!(term.notes(1), term.notes(1));
    }
}
