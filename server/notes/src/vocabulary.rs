//! The kinds of block and their fields: one table, from which reading, checking, completion and
//! the format reference all take what may be written.

/// A kind of block, written as `@` and a word in column 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BlockKind {
    /// A course; sets the context of what follows.
    Course,
    /// An exam of the course.
    Exam,
    /// A section of the course; sets the context of what follows.
    Topic,
    /// A kind of problem: the approach it calls for.
    Pattern,
    /// One problem.
    Problem,
    /// Something to state and prove from memory.
    Theorem,
    /// Something to state from memory.
    Definition,
    /// A whole practice paper, mock test, drill sheet or spotting round.
    Paper,
    /// One question of a drawn paper.
    Question,
}

impl BlockKind {
    /// Every kind, in the order in which the format reference lists them.
    pub const ALL: [Self; 9] = [
        Self::Course,
        Self::Exam,
        Self::Topic,
        Self::Pattern,
        Self::Problem,
        Self::Theorem,
        Self::Definition,
        Self::Paper,
        Self::Question,
    ];

    /// The word behind `@`.
    pub fn word(self) -> &'static str {
        match self {
            Self::Course => "course",
            Self::Exam => "exam",
            Self::Topic => "topic",
            Self::Pattern => "pattern",
            Self::Problem => "problem",
            Self::Theorem => "theorem",
            Self::Definition => "definition",
            Self::Paper => "paper",
            Self::Question => "question",
        }
    }

    /// The kind that `word` names.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }

    /// What the block marks, in one phrase for a menu.
    pub fn summary(self) -> &'static str {
        match self {
            Self::Course => "a course; what follows in the file belongs to it",
            Self::Exam => "an exam: its date, what it covers, the score you aim at",
            Self::Topic => "a section of the course; a leading number is its label",
            Self::Pattern => "a kind of problem: how to tell it and how to begin",
            Self::Problem => "one problem to practise",
            Self::Theorem => "a theorem to state and prove from memory",
            Self::Definition => "a definition to state from memory",
            Self::Paper => {
                "a practice paper, mock test, drill sheet or spotting round; the problems or questions \
                 after it belong to it"
            }
            Self::Question => "one question of a drawn paper or sheet",
        }
    }

    /// Whether a student practises blocks of this kind.
    pub fn is_practised(self) -> bool {
        matches!(self, Self::Problem | Self::Theorem | Self::Definition)
    }

    /// The fields a block of this kind may have, in the order in which one would write them.
    pub fn fields(self) -> impl Iterator<Item = &'static FieldRule> {
        FIELDS.iter().filter(move |rule| rule.kinds.contains(&self))
    }

    /// The rule of one field in a block of this kind.
    pub fn field(self, key: Key) -> Option<&'static FieldRule> {
        self.fields().find(|rule| rule.key == key)
    }
}

/// A field's key, written in lower case before a colon.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(
    missing_docs,
    reason = "each key is documented by its rule in the table below"
)]
pub enum Key {
    Answer,
    By,
    ConfusedWith,
    Covers,
    Cue,
    Drawn,
    Finished,
    For,
    Fresh,
    From,
    Hint,
    Homework,
    Learned,
    Length,
    Mark,
    Method,
    Mine,
    Minutes,
    Notes,
    Of,
    Off,
    On,
    Pages,
    Pattern,
    Points,
    Proof,
    Questions,
    Quiz,
    Recorded,
    ReducesTo,
    Result,
    Room,
    Seed,
    Shape,
    Solution,
    Spotted,
    Start,
    Started,
    Target,
    Term,
    Text,
    Topic,
    Tried,
    Uid,
    Weight,
    Zone,
}

impl Key {
    /// The key as it is written.
    pub fn word(self) -> &'static str {
        match self {
            Self::Answer => "answer",
            Self::By => "by",
            Self::ConfusedWith => "confused with",
            Self::Covers => "covers",
            Self::Cue => "cue",
            Self::Drawn => "drawn",
            Self::Finished => "finished",
            Self::For => "for",
            Self::Fresh => "fresh",
            Self::From => "from",
            Self::Hint => "hint",
            Self::Homework => "homework",
            Self::Learned => "learned",
            Self::Length => "length",
            Self::Mark => "mark",
            Self::Method => "method",
            Self::Mine => "mine",
            Self::Minutes => "minutes",
            Self::Notes => "notes",
            Self::Of => "of",
            Self::Off => "off",
            Self::On => "on",
            Self::Pages => "pages",
            Self::Pattern => "pattern",
            Self::Points => "points",
            Self::Proof => "proof",
            Self::Questions => "questions",
            Self::Quiz => "quiz",
            Self::Recorded => "recorded",
            Self::ReducesTo => "reduces to",
            Self::Result => "result",
            Self::Room => "room",
            Self::Seed => "seed",
            Self::Shape => "shape",
            Self::Solution => "solution",
            Self::Spotted => "spotted",
            Self::Start => "start",
            Self::Started => "started",
            Self::Target => "target",
            Self::Term => "term",
            Self::Text => "text",
            Self::Topic => "topic",
            Self::Tried => "tried",
            Self::Uid => "uid",
            Self::Weight => "weight",
            Self::Zone => "zone",
        }
    }

    /// The key that `word` names, whatever the spacing inside.
    pub fn from_word(word: &str) -> Option<Self> {
        let mut parts = word.split_whitespace();
        let (first, second) = (parts.next()?, parts.next());
        if parts.next().is_some() {
            return None;
        }
        FIELDS.iter().map(|rule| rule.key).find(|key| {
            let mut own = key.word().split(' ');
            own.next() == Some(first) && own.next() == second
        })
    }
}

/// How a field's value is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ValueKind {
    /// Words and formulas.
    Text,
    /// Names of blocks of a kind, separated by commas.
    Names(BlockKind),
    /// A date, or a date and a time.
    Moment,
    /// A length of time.
    Duration,
    /// Study time a day, then other times for weekdays or dates.
    StudyTime,
    /// Days without study: weekdays, dates and ranges of them.
    DaysOff,
    /// A score, as `17/20` or `85%`.
    Score,
    /// A whole number.
    Count,
    /// A record of one try: date, notes, outcome, duration, remark.
    Attempt,
    /// A record of one spotting: date and `right` or `wrong`.
    Spotting,
    /// A mark from outside: date and score.
    OutsideMark,
    /// `no`, `partly` or `yes`.
    Learned,
    /// Topics: labels, ranges of labels and names, separated by commas.
    Coverage,
    /// Topics as in [`ValueKind::Coverage`], each with what it counts for.
    TopicPoints,
    /// The first day of revision: `7 days before`, or a date.
    Start,
    /// `right`, `partly`, `wrong`, `skipped` or a score.
    Mark,
    /// `closed`, `open`, or what is allowed, in words.
    NotesRule,
    /// A TeX formula whose letters are holes, with conditions in words.
    Shape,
}

impl ValueKind {
    /// What a value of this kind looks like, as the end of a sentence that starts "expected".
    pub fn expected(self) -> &'static str {
        match self {
            Self::Text => "words or formulas",
            Self::Names(_) => "names, separated by commas",
            Self::Moment => "a date such as 2027-02-26, or 2027-02-26 10:00",
            Self::Duration => "a length of time such as 75 min or 1 h 15 min",
            Self::StudyTime => {
                "a length of time a day, then other ones for weekdays or dates, \
                 such as 60 min, sat 2 h, 2027-02-20 30 min"
            }
            Self::DaysOff => {
                "weekdays, dates or ranges, such as sun, 2027-02-20, 2027-03-13 .. 2027-03-21"
            }
            Self::Score => "a score such as 17/20 or 85%",
            Self::Count => "a whole number",
            Self::Attempt => {
                "a date, open or closed, and right, partly, wrong, skipped or a score, \
                 such as 2027-02-21 closed right 11 min"
            }
            Self::Spotting => "a date and right or wrong, such as 2027-02-21 right",
            Self::OutsideMark => "a date and a score, such as 2027-02-03 4/10",
            Self::Learned => "no, partly or yes",
            Self::Coverage => "topic labels, ranges or names, such as 1.1 .. 1.5, 2.1",
            Self::TopicPoints => {
                "topics as in covers, each with its points, such as 1.1 .. 1.5 40, 2.1 60"
            }
            Self::Start => "a number of days such as 7 days before, or a date",
            Self::Mark => "right, partly, wrong, skipped or a score such as 3/4",
            Self::NotesRule => "closed, open, or what is allowed",
            Self::Shape => "a formula between $ signs, then perhaps where and conditions",
        }
    }
}

/// What the format says of one field.
#[derive(Clone, Copy, Debug)]
pub struct FieldRule {
    /// The key.
    pub key: Key,
    /// The kinds of block that may have it.
    pub kinds: &'static [BlockKind],
    /// How its value is read.
    pub value: ValueKind,
    /// Whether it may stand more than once in a block.
    pub repeats: bool,
    /// What it says, in one phrase for a menu and the format reference.
    pub summary: &'static str,
}

const fn rule(
    key: Key,
    kinds: &'static [BlockKind],
    value: ValueKind,
    repeats: bool,
    summary: &'static str,
) -> FieldRule {
    FieldRule {
        key,
        kinds,
        value,
        repeats,
        summary,
    }
}

use BlockKind as B;
use ValueKind as V;

/// Every field of every block. A key means one thing wherever it stands, but may be read
/// differently in two kinds of block (it then has two rows).
#[rustfmt::skip]
pub const FIELDS: &[FieldRule] = &[
    rule(Key::Text, &[B::Course], V::Text, false, "the textbook"),
    rule(Key::Term, &[B::Course], V::Moment, false, "the first day of the term"),
    rule(Key::Minutes, &[B::Course], V::StudyTime, false, "study time a day; a plan shares the sum over all courses"),
    rule(Key::Off, &[B::Course], V::DaysOff, true, "days without study for the course"),
    rule(Key::Zone, &[B::Course], V::Text, false, "its time zone, such as Europe/Berlin, for the calendar"),
    rule(Key::For, &[B::Paper], V::Names(B::Exam), false, "the exam it prepares for"),
    rule(Key::By, &[B::Paper], V::Text, false, "who made it: instructor, or a name"),
    rule(Key::On, &[B::Exam], V::Moment, false, "when the exam is"),
    rule(Key::Length, &[B::Exam, B::Paper], V::Duration, false, "the time allowed"),
    rule(Key::Covers, &[B::Exam], V::Coverage, false, "the topics it covers"),
    rule(Key::Notes, &[B::Exam, B::Paper], V::NotesRule, false, "closed, open, or what is allowed"),
    rule(Key::Target, &[B::Course, B::Exam], V::Score, false, "the score to reach"),
    rule(Key::Weight, &[B::Exam], V::Score, false, "its share of the course's mark"),
    rule(Key::Questions, &[B::Exam], V::Count, false, "how many questions it has"),
    rule(Key::Start, &[B::Exam], V::Start, false, "when to start revising; 7 days before if not said"),
    rule(Key::Points, &[B::Exam], V::TopicPoints, false, "what its topics count for; topics it leaves out count for nothing"),
    rule(Key::Room, &[B::Exam], V::Text, false, "where it is"),
    rule(Key::Uid, &[B::Exam], V::Text, false, "the event of a calendar that it comes from; written by porism dates"),
    rule(Key::Result, &[B::Exam], V::Score, false, "the score you got"),
    rule(Key::Learned, &[B::Topic], V::Learned, false, "no, partly or yes; no puts it first in every plan"),
    rule(Key::Quiz, &[B::Topic], V::OutsideMark, true, "a quiz: date and score"),
    rule(Key::Homework, &[B::Topic], V::OutsideMark, true, "homework: date and score"),
    rule(Key::Pages, &[B::Topic], V::Text, false, "where it stands in the textbook"),
    rule(Key::Topic, &[B::Paper], V::Names(B::Topic), false, "the topics that a drill sheet or a spotting round is about"),
    rule(Key::Topic, &[B::Pattern, B::Problem, B::Theorem, B::Definition], V::Names(B::Topic), false, "the topic, when it is not the one above"),
    rule(Key::Of, &[B::Question], V::Names(B::Problem), false, "the problem it was drawn from"),
    rule(Key::Shape, &[B::Pattern], V::Shape, true, "a formula whose letters are holes, and conditions"),
    rule(Key::Cue, &[B::Pattern], V::Text, false, "what tells the kind at sight"),
    rule(Key::Method, &[B::Pattern], V::Text, false, "how to begin and go on"),
    rule(Key::ReducesTo, &[B::Pattern], V::Names(B::Pattern), false, "the kinds it becomes after a step"),
    rule(Key::ConfusedWith, &[B::Pattern], V::Names(B::Pattern), false, "the kinds it is mistaken for"),
    rule(Key::Fresh, &[B::Pattern], V::Text, false, "how to vary the numbers"),
    rule(Key::Pattern, &[B::Paper], V::Names(B::Pattern), false, "the patterns that a drill sheet or a spotting round is about"),
    rule(Key::Pattern, &[B::Question], V::Names(B::Pattern), false, "in a spotting round: what you say its kind is"),
    rule(Key::Pattern, &[B::Problem, B::Theorem, B::Definition], V::Names(B::Pattern), false, "its kind; several are separated by commas"),
    rule(Key::From, &[B::Problem, B::Theorem, B::Definition], V::Text, false, "where it comes from"),
    rule(Key::Points, &[B::Problem, B::Theorem, B::Definition, B::Question], V::Count, false, "what it counts for"),
    rule(Key::Hint, &[B::Problem], V::Text, false, "a hint"),
    rule(Key::Answer, &[B::Problem, B::Question], V::Text, false, "the right answer"),
    rule(Key::Solution, &[B::Problem], V::Text, false, "the way to the answer"),
    rule(Key::Proof, &[B::Theorem], V::Text, false, "the proof"),
    rule(Key::Mine, &[B::Question], V::Text, false, "your final answer"),
    rule(Key::Mark, &[B::Question], V::Mark, false, "right, partly, wrong, skipped or a score"),
    rule(Key::Tried, &[B::Problem, B::Theorem, B::Definition], V::Attempt, true, "one try: date, open or closed, outcome, time"),
    rule(Key::Spotted, &[B::Problem], V::Spotting, true, "whether you named its kind at sight: date, right or wrong"),
    rule(Key::Drawn, &[B::Paper], V::Moment, false, "when it was drawn"),
    rule(Key::Seed, &[B::Paper], V::Count, false, "the number it was drawn with: the same seed draws the same paper"),
    rule(Key::Seed, &[B::Question], V::Count, false, "the number its numbers were drawn with, where they are not those of the problem"),
    rule(Key::Started, &[B::Paper], V::Moment, false, "when you began"),
    rule(Key::Finished, &[B::Paper], V::Moment, false, "when you stopped"),
    rule(Key::Recorded, &[B::Paper], V::Moment, false, "when its marks were written back to the problems"),
];

#[cfg(test)]
mod tests {
    use super::*;
    use std::fmt::Write as _;

    /// The table of the format reference.
    fn table() -> String {
        let mut out = String::new();
        for kind in BlockKind::ALL {
            writeln!(
                out,
                "### `@{}`\n\n{}.\n",
                kind.word(),
                capitalised(kind.summary())
            )
            .expect("strings take text");
            out.push_str("| field | says | value |\n| --- | --- | --- |\n");
            for rule in kind.fields() {
                let repeats = if rule.repeats { " (*repeats*)" } else { "" };
                let (word, summary) = (rule.key.word(), rule.summary);
                writeln!(
                    out,
                    "| `{word}`{repeats} | {summary} | {} |",
                    rule.value.expected()
                )
                .expect("strings take text");
            }
            out.push('\n');
        }
        out
    }

    fn capitalised(text: &str) -> String {
        let mut letters = text.chars();
        letters
            .next()
            .map(|c| c.to_uppercase().chain(letters).collect())
            .unwrap_or_default()
    }

    #[test]
    fn the_format_reference_has_the_table_of_this_file() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../grammar/FORMAT.md");
        #[expect(
            clippy::disallowed_methods,
            reason = "the test compares a file of the project"
        )]
        let page = std::fs::read_to_string(path).expect("the format reference is there");
        let (head, rest) = page
            .split_once("<!-- fields -->\n")
            .expect("the table's start");
        let (old, tail) = rest
            .split_once("<!-- end of fields -->")
            .expect("the table's end");
        if std::env::var_os("PORISM_WRITE").is_some() {
            let page = format!(
                "{head}<!-- fields -->\n\n{}<!-- end of fields -->{tail}",
                table()
            );
            #[expect(clippy::disallowed_methods, reason = "asked for by the environment")]
            std::fs::write(path, page).expect("the format reference can be written");
            return;
        }
        assert_eq!(
            old.trim(),
            table().trim(),
            "the format reference is stale: run PORISM_WRITE=1 cargo test -p porism-notes"
        );
    }

    #[test]
    fn every_key_is_found_by_its_word() {
        for rule in FIELDS {
            assert_eq!(Key::from_word(rule.key.word()), Some(rule.key));
        }
        assert_eq!(Key::from_word("reduces   to"), Some(Key::ReducesTo));
        assert_eq!(Key::from_word("reduces"), None);
        assert_eq!(Key::from_word("reduces to what"), None);
    }
}
