//! The commands that change the notebook: what a lens, a code action, an editor's command and the
//! command line all call. Each has one name and one list of arguments; [`run`] does it.

use std::collections::BTreeSet;
use std::fmt;

use notes::value::NotesUse;
use notes::{FilePath, NameKey, Span};
use study::paper::Kind;

use study::drill::Arrangement;

use crate::another_like_this::{NoOther, another_like_this};
use crate::draw_drill::{DrillRequest, draw_drill};
use crate::draw_paper::{DrawRequest, draw_paper, offered_first};
use crate::draw_spotting::{SpottingRequest, draw_spotting};
use crate::drawn_paper::DrawnPaper;
use crate::edit::NotebookEdit;
use crate::exam_clock::{finish_paper, pace, start_paper};
use crate::exams::{Exam, all_exams};
use crate::insert_starter_patterns::{self, insert_starter_patterns};
use crate::papers::{Paper, PaperUse, paper};
use crate::record_marks::{Unmarked, record_marks};
use crate::record_spotting::record_spotting;
use crate::sheet_scope::Scope;
use crate::show_answers::show_answers;
use crate::show_reasons::show_reasons;
use crate::tag_problems::{Untagged, tag_problems};
use crate::{Analysis, words};

/// A command with its arguments.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Command {
    /// `porism.drawPaper` (course, exam, `closed` or `open`, number of questions or nothing, seed
    /// or nothing, `problems` or `theorems` or nothing): draws a mock test for an exam into a new
    /// file.
    DrawPaper {
        /// The course's title; empty for notes of no course.
        course: String,
        /// The exam's title.
        exam: String,
        /// Whether it is to be sat with notes open.
        notes: NotesUse,
        /// How many questions; `None` for the usual number.
        questions: Option<u32>,
        /// The seed; `None` for the usual one.
        seed: Option<u32>,
        /// What to ask; `None` for problems, or theorems where there is nothing else.
        kind: Option<Kind>,
    },
    /// `porism.drawDrill` (course, patterns or nothing, topics or nothing, `mixed` or `blocked`,
    /// number of questions or nothing, seed or nothing): draws a drill sheet on patterns and topics,
    /// names separated by commas, into a new file; without any, on the whole course.
    DrawDrill {
        /// The course's title; empty for notes of no course.
        course: String,
        /// The patterns, separated by commas; empty for none.
        patterns: String,
        /// The topics, separated by commas; empty for none.
        topics: String,
        /// In which order to ask.
        arrangement: Arrangement,
        /// How many questions; `None` for the usual number.
        questions: Option<u32>,
        /// The seed; `None` for the usual one.
        seed: Option<u32>,
    },
    /// `porism.drawSpotting` (course, exam or nothing, patterns or nothing, topics or nothing, number
    /// of questions or nothing, seed or nothing): draws a spotting round into a new file, from what
    /// an exam covers, from patterns and topics, or from the whole course.
    DrawSpotting {
        /// The course's title; empty for notes of no course.
        course: String,
        /// The exam's title; empty for none.
        exam: String,
        /// The patterns, separated by commas; empty for none.
        patterns: String,
        /// The topics, separated by commas; empty for none.
        topics: String,
        /// How many questions; `None` for the usual number.
        questions: Option<u32>,
        /// The seed; `None` for the usual one.
        seed: Option<u32>,
    },
    /// `porism.recordMarks` (file, paper, whether questions without a mark count as skipped):
    /// writes a paper's marks, or what was said in a spotting round, back to its problems.
    RecordMarks {
        /// The paper.
        paper: PaperName,
        /// What to do with questions without a mark.
        unmarked: Unmarked,
    },
    /// `porism.showAnswers` (file, paper): adds the answers to a paper's questions.
    ShowAnswers {
        /// The paper.
        paper: PaperName,
    },
    /// `porism.showReasons` (file, paper): adds to a drawn paper's questions why each was chosen.
    ShowReasons {
        /// The paper.
        paper: PaperName,
    },
    /// `porism.startPaper` (file, paper): stamps the paper with the instant, from which its clock
    /// runs.
    StartPaper {
        /// The paper.
        paper: PaperName,
    },
    /// `porism.finishPaper` (file, paper): stamps the paper with the instant at which it was
    /// finished.
    FinishPaper {
        /// The paper.
        paper: PaperName,
    },
    /// `porism.showPace` (file, paper): says which question an even pace has come to.
    ShowPace {
        /// The paper.
        paper: PaperName,
    },
    /// `porism.showPlan` (whether to relearn everything first, whether to say why each block is
    /// there): writes the plan of the days left into a file of the notes and shows it.
    ShowPlan {
        /// Whether everything that was not learned comes first.
        relearn_first: bool,
        /// Whether each block stands with its reason.
        why: bool,
    },
    /// `porism.writeCalendar` (file or nothing): writes exams, plan and mock tests into a calendar
    /// file; without a name into `porism.ics` at the top of the notes.
    WriteCalendar {
        /// The file.
        path: Option<FilePath>,
    },
    /// `porism.tagProblems` (file or nothing, course or nothing, pattern or nothing): tags the
    /// problems without a pattern of a file, each with the pattern whose shape fits best; or
    /// without a file those of a course that have a shape of one pattern.
    TagProblems {
        /// Which problems.
        which: Untagged,
    },
    /// `porism.insertStarterPatterns` (course, subject): inserts those starter patterns of a
    /// subject that a course does not have.
    InsertStarterPatterns {
        /// The course's title; empty for notes of no course.
        course: String,
        /// The subject.
        subject: String,
    },
    /// `porism.anotherLikeThis` (file, byte): adds a problem like the one at that byte of the file, or
    /// like one of the pattern there, with other numbers and its answer.
    AnotherLikeThis {
        /// The file.
        path: FilePath,
        /// A byte of the problem or pattern, counted from the start of the file.
        byte: u32,
    },
    /// `porism.showPlace` (file, first byte, byte behind the last): shows a place of the notes.
    ShowPlace {
        /// The file.
        path: FilePath,
        /// The place.
        span: Span,
    },
}

/// Which paper.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PaperName {
    /// Its file.
    pub path: FilePath,
    /// Its title; empty for the only paper of the file.
    pub title: String,
}

/// An argument as it goes through an editor and back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Argument {
    /// Nothing given.
    Nothing,
    /// Text.
    Text(String),
    /// A whole number.
    Count(u32),
    /// Yes or no.
    Flag(bool),
}

/// A command that cannot be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum BadCommand {
    /// There is no command of this name.
    UnknownName(String),
    /// An argument is missing or is not what is expected.
    BadArgument {
        /// The command.
        name: &'static str,
        /// The argument's place in the list, from 1.
        place: usize,
        /// What is expected there.
        expected: &'static str,
    },
}

impl fmt::Display for BadCommand {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UnknownName(name) => write!(
                f,
                "There is no command {name}; there are {}.",
                Command::NAMES.join(", ")
            ),
            Self::BadArgument {
                name,
                place,
                expected,
            } => {
                write!(f, "{name}: argument {place} must be {expected}.")
            }
        }
    }
}

const DRAW_PAPER: &str = "porism.drawPaper";
const DRAW_DRILL: &str = "porism.drawDrill";
const DRAW_SPOTTING: &str = "porism.drawSpotting";
const RECORD_MARKS: &str = "porism.recordMarks";
const SHOW_ANSWERS: &str = "porism.showAnswers";
const SHOW_REASONS: &str = "porism.showReasons";
const TAG_PROBLEMS: &str = "porism.tagProblems";
const INSERT_STARTER_PATTERNS: &str = "porism.insertStarterPatterns";
const ANOTHER_LIKE_THIS: &str = "porism.anotherLikeThis";
const SHOW_PLACE: &str = "porism.showPlace";
const START_PAPER: &str = "porism.startPaper";
const FINISH_PAPER: &str = "porism.finishPaper";
const SHOW_PACE: &str = "porism.showPace";
const SHOW_PLAN: &str = "porism.showPlan";
const WRITE_CALENDAR: &str = "porism.writeCalendar";
/// What the calendar's file is called where nobody says.
const CALENDAR_FILE: &str = "porism.ics";

impl Command {
    /// The names of all commands.
    pub const NAMES: [&str; 15] = [
        DRAW_PAPER,
        DRAW_DRILL,
        DRAW_SPOTTING,
        RECORD_MARKS,
        SHOW_ANSWERS,
        SHOW_REASONS,
        TAG_PROBLEMS,
        INSERT_STARTER_PATTERNS,
        ANOTHER_LIKE_THIS,
        SHOW_PLACE,
        SHOW_PLAN,
        WRITE_CALENDAR,
        START_PAPER,
        FINISH_PAPER,
        SHOW_PACE,
    ];

    /// The command's name.
    pub fn name(&self) -> &'static str {
        match self {
            Self::DrawPaper { .. } => DRAW_PAPER,
            Self::DrawDrill { .. } => DRAW_DRILL,
            Self::DrawSpotting { .. } => DRAW_SPOTTING,
            Self::RecordMarks { .. } => RECORD_MARKS,
            Self::ShowAnswers { .. } => SHOW_ANSWERS,
            Self::ShowReasons { .. } => SHOW_REASONS,
            Self::TagProblems { .. } => TAG_PROBLEMS,
            Self::InsertStarterPatterns { .. } => INSERT_STARTER_PATTERNS,
            Self::AnotherLikeThis { .. } => ANOTHER_LIKE_THIS,
            Self::ShowPlace { .. } => SHOW_PLACE,
            Self::ShowPlan { .. } => SHOW_PLAN,
            Self::StartPaper { .. } => START_PAPER,
            Self::FinishPaper { .. } => FINISH_PAPER,
            Self::ShowPace { .. } => SHOW_PACE,
            Self::WriteCalendar { .. } => WRITE_CALENDAR,
        }
    }

    /// The arguments, in the order in which [`Command::read`] takes them.
    pub fn arguments(&self) -> Vec<Argument> {
        let count = |n: &Option<u32>| n.map_or(Argument::Nothing, Argument::Count);
        let text = |text: &String| match text.is_empty() {
            true => Argument::Nothing,
            false => Argument::Text(text.clone()),
        };
        match self {
            Self::DrawPaper {
                course,
                exam,
                notes,
                questions,
                seed,
                kind,
            } => vec![
                Argument::Text(course.clone()),
                Argument::Text(exam.clone()),
                Argument::Text(notes_word(*notes).to_owned()),
                count(questions),
                count(seed),
                kind.map_or(Argument::Nothing, |kind| {
                    Argument::Text(kind_word(kind).to_owned())
                }),
            ],
            Self::DrawDrill {
                course,
                patterns,
                topics,
                arrangement,
                questions,
                seed,
            } => vec![
                Argument::Text(course.clone()),
                text(patterns),
                text(topics),
                Argument::Text(arrangement_word(*arrangement).to_owned()),
                count(questions),
                count(seed),
            ],
            Self::DrawSpotting {
                course,
                exam,
                patterns,
                topics,
                questions,
                seed,
            } => vec![
                Argument::Text(course.clone()),
                text(exam),
                text(patterns),
                text(topics),
                count(questions),
                count(seed),
            ],
            Self::RecordMarks { paper, unmarked } => vec![
                Argument::Text(paper.path.as_str().to_owned()),
                Argument::Text(paper.title.clone()),
                Argument::Flag(*unmarked == Unmarked::Skipped),
            ],
            Self::ShowAnswers { paper }
            | Self::ShowReasons { paper }
            | Self::StartPaper { paper }
            | Self::FinishPaper { paper }
            | Self::ShowPace { paper } => vec![
                Argument::Text(paper.path.as_str().to_owned()),
                Argument::Text(paper.title.clone()),
            ],
            Self::ShowPlan { relearn_first, why } => {
                vec![Argument::Flag(*relearn_first), Argument::Flag(*why)]
            }
            Self::WriteCalendar { path } => vec![match path {
                Some(path) => Argument::Text(path.as_str().to_owned()),
                None => Argument::Nothing,
            }],
            Self::TagProblems { which } => match which {
                Untagged::InFile(path) => vec![Argument::Text(path.as_str().to_owned())],
                Untagged::Matching { course, pattern } => vec![
                    Argument::Nothing,
                    Argument::Text(course.to_string()),
                    Argument::Text(pattern.to_string()),
                ],
            },
            Self::InsertStarterPatterns { course, subject } => vec![
                Argument::Text(course.clone()),
                Argument::Text(subject.clone()),
            ],
            Self::AnotherLikeThis { path, byte } => vec![
                Argument::Text(path.as_str().to_owned()),
                Argument::Count(*byte),
            ],
            Self::ShowPlace { path, span } => vec![
                Argument::Text(path.as_str().to_owned()),
                Argument::Count(span.start),
                Argument::Count(span.end),
            ],
        }
    }

    /// Reads a command. Arguments that may be left out may be missing at the end, too.
    pub fn read(name: &str, arguments: &[Argument]) -> Result<Self, BadCommand> {
        let known = Self::NAMES.into_iter().find(|known| *known == name);
        let Some(name) = known else {
            return Err(BadCommand::UnknownName(name.to_owned()));
        };
        let read = Reader { name, arguments };
        Ok(match name {
            DRAW_PAPER => Self::DrawPaper {
                course: read.text(1)?,
                exam: read.text(2)?,
                notes: read.notes(3)?,
                questions: read.optional_count(4)?,
                seed: read.optional_count(5)?,
                kind: read.optional_kind(6)?,
            },
            DRAW_DRILL => Self::DrawDrill {
                course: read.text(1)?,
                patterns: read.optional_text(2)?,
                topics: read.optional_text(3)?,
                arrangement: read.arrangement(4)?,
                questions: read.optional_count(5)?,
                seed: read.optional_count(6)?,
            },
            DRAW_SPOTTING => Self::DrawSpotting {
                course: read.text(1)?,
                exam: read.optional_text(2)?,
                patterns: read.optional_text(3)?,
                topics: read.optional_text(4)?,
                questions: read.optional_count(5)?,
                seed: read.optional_count(6)?,
            },
            RECORD_MARKS => Self::RecordMarks {
                paper: read.paper()?,
                unmarked: match read.flag(3)? {
                    true => Unmarked::Skipped,
                    false => Unmarked::Refuse,
                },
            },
            SHOW_ANSWERS => Self::ShowAnswers {
                paper: read.paper()?,
            },
            SHOW_REASONS => Self::ShowReasons {
                paper: read.paper()?,
            },
            WRITE_CALENDAR => Self::WriteCalendar {
                path: match read.at(1) {
                    Argument::Nothing => None,
                    _ => Some(FilePath::new(&read.text(1)?)),
                },
            },
            START_PAPER => Self::StartPaper {
                paper: read.paper()?,
            },
            FINISH_PAPER => Self::FinishPaper {
                paper: read.paper()?,
            },
            SHOW_PACE => Self::ShowPace {
                paper: read.paper()?,
            },
            SHOW_PLAN => Self::ShowPlan {
                relearn_first: read.flag(1)?,
                why: read.flag(2)?,
            },
            TAG_PROBLEMS => Self::TagProblems {
                which: match read.at(1) {
                    Argument::Nothing => Untagged::Matching {
                        course: NameKey::new(&read.text(2)?),
                        pattern: NameKey::new(&read.text(3)?),
                    },
                    _ => Untagged::InFile(FilePath::new(&read.text(1)?)),
                },
            },
            INSERT_STARTER_PATTERNS => Self::InsertStarterPatterns {
                course: read.text(1)?,
                subject: read.text(2)?,
            },
            ANOTHER_LIKE_THIS => Self::AnotherLikeThis {
                path: FilePath::new(&read.text(1)?),
                byte: read.count(2)?,
            },
            _ => Self::ShowPlace {
                path: FilePath::new(&read.text(1)?),
                span: Span::new(read.count(2)? as usize, read.count(3)? as usize),
            },
        })
    }
}

struct Reader<'a> {
    name: &'static str,
    arguments: &'a [Argument],
}

impl Reader<'_> {
    /// The argument at a place, from 1.
    fn at(&self, place: usize) -> &Argument {
        self.arguments.get(place - 1).unwrap_or(&Argument::Nothing)
    }

    fn bad(&self, place: usize, expected: &'static str) -> BadCommand {
        BadCommand::BadArgument {
            name: self.name,
            place,
            expected,
        }
    }

    fn text(&self, place: usize) -> Result<String, BadCommand> {
        match self.at(place) {
            Argument::Text(text) => Ok(text.clone()),
            _ => Err(self.bad(place, "text")),
        }
    }

    /// Text, empty where nothing is given.
    fn optional_text(&self, place: usize) -> Result<String, BadCommand> {
        match self.at(place) {
            Argument::Nothing => Ok(String::new()),
            _ => self.text(place),
        }
    }

    fn arrangement(&self, place: usize) -> Result<Arrangement, BadCommand> {
        let known = [Arrangement::Mixed, Arrangement::Blocked];
        match self.at(place) {
            Argument::Nothing => Ok(Arrangement::Mixed),
            Argument::Text(word) => known
                .into_iter()
                .find(|one| arrangement_word(*one) == word)
                .ok_or_else(|| self.bad(place, "mixed or blocked")),
            _ => Err(self.bad(place, "mixed or blocked")),
        }
    }

    fn paper(&self) -> Result<PaperName, BadCommand> {
        let title = match self.at(2) {
            Argument::Nothing => String::new(),
            _ => self.text(2)?,
        };
        Ok(PaperName {
            path: FilePath::new(&self.text(1)?),
            title,
        })
    }

    fn notes(&self, place: usize) -> Result<NotesUse, BadCommand> {
        match self.at(place) {
            Argument::Nothing => Ok(NotesUse::Closed),
            Argument::Text(word) if word == notes_word(NotesUse::Closed) => Ok(NotesUse::Closed),
            Argument::Text(word) if word == notes_word(NotesUse::Open) => Ok(NotesUse::Open),
            _ => Err(self.bad(place, "closed or open")),
        }
    }

    fn count(&self, place: usize) -> Result<u32, BadCommand> {
        match self.at(place) {
            Argument::Count(n) => Ok(*n),
            _ => Err(self.bad(place, "a whole number")),
        }
    }

    fn optional_count(&self, place: usize) -> Result<Option<u32>, BadCommand> {
        match self.at(place) {
            Argument::Nothing => Ok(None),
            _ => self.count(place).map(Some),
        }
    }

    fn optional_kind(&self, place: usize) -> Result<Option<Kind>, BadCommand> {
        match self.at(place) {
            Argument::Nothing => Ok(None),
            Argument::Text(word) if word == kind_word(Kind::Problems) => Ok(Some(Kind::Problems)),
            Argument::Text(word) if word == kind_word(Kind::Theorems) => Ok(Some(Kind::Theorems)),
            _ => Err(self.bad(place, "problems or theorems")),
        }
    }

    fn flag(&self, place: usize) -> Result<bool, BadCommand> {
        match self.at(place) {
            Argument::Nothing => Ok(false),
            Argument::Flag(flag) => Ok(*flag),
            _ => Err(self.bad(place, "true or false")),
        }
    }
}

fn notes_word(notes: NotesUse) -> &'static str {
    match notes {
        NotesUse::Open => "open",
        NotesUse::Closed => "closed",
    }
}

fn arrangement_word(arrangement: Arrangement) -> &'static str {
    match arrangement {
        Arrangement::Mixed => "mixed",
        Arrangement::Blocked => "blocked",
    }
}

fn kind_word(kind: Kind) -> &'static str {
    match kind {
        Kind::Problems => "problems",
        Kind::Theorems => "theorems",
    }
}

/// What a command did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Done {
    /// The change to make; it may be empty.
    pub edit: NotebookEdit,
    /// The file to write the calendar to: it is made from the one that is there, which is no note.
    pub calendar: Option<FilePath>,
    /// The place to show afterwards.
    pub show: Option<(FilePath, Span)>,
    /// What to tell; empty where the place says it all.
    pub message: String,
}

/// Works out a command. What cannot be done is a message that says why and what to do.
pub fn run(analysis: &Analysis, command: &Command) -> Result<Done, String> {
    match command {
        Command::DrawPaper {
            course,
            exam,
            notes,
            questions,
            seed,
            kind,
        } => {
            let exam = find_exam(analysis, Some(course), Some(exam)).map_err(|e| e.to_string())?;
            let request = DrawRequest {
                kind: *kind,
                notes: *notes,
                questions: *questions,
                seed: *seed,
            };
            drawn(analysis, &exam, request)
        }
        Command::DrawDrill {
            course,
            patterns,
            topics,
            arrangement,
            questions,
            seed,
        } => {
            let scope = scope(analysis, course, patterns, topics)?;
            let request = DrillRequest {
                arrangement: *arrangement,
                questions: *questions,
                seed: *seed,
            };
            let sheet = draw_drill(analysis, &scope, request).map_err(|no| no.to_string())?;
            Ok(shown(&sheet, None))
        }
        Command::DrawSpotting {
            course,
            exam,
            patterns,
            topics,
            questions,
            seed,
        } => {
            let scope = match exam.as_str() {
                "" => scope(analysis, course, patterns, topics)?,
                exam => {
                    let exam = find_exam(analysis, Some(course), Some(exam));
                    Scope::of_exam(&exam.map_err(|e| e.to_string())?)
                }
            };
            let request = SpottingRequest {
                questions: *questions,
                seed: *seed,
            };
            let round = draw_spotting(analysis, &scope, request).map_err(|no| no.to_string())?;
            Ok(shown(&round, None))
        }
        Command::RecordMarks { paper, unmarked } => {
            let paper =
                find_paper(analysis, &paper.path, &paper.title).map_err(|e| e.to_string())?;
            if paper.purpose() == PaperUse::Spotting {
                let done = record_spotting(analysis, &paper, *unmarked);
                let done = done.map_err(|refusal| refusal.to_string())?;
                return Ok(Done {
                    message: done.summary(),
                    edit: done.edit,
                    ..Done::default()
                });
            }
            let marks = record_marks(analysis, &paper, *unmarked).map_err(|r| r.to_string())?;
            Ok(Done {
                message: marks.summary(),
                edit: marks.edit,
                ..Done::default()
            })
        }
        Command::ShowAnswers { paper } => {
            let paper =
                find_paper(analysis, &paper.path, &paper.title).map_err(|e| e.to_string())?;
            let shown = show_answers(analysis, &paper).map_err(|none| none.to_string())?;
            Ok(Done {
                message: shown.summary(),
                edit: shown.edit,
                ..Done::default()
            })
        }
        Command::ShowReasons { paper } => {
            let paper =
                find_paper(analysis, &paper.path, &paper.title).map_err(|e| e.to_string())?;
            let shown = show_reasons(analysis, &paper).map_err(|none| none.to_string())?;
            Ok(Done {
                message: shown.summary(),
                edit: shown.edit,
                ..Done::default()
            })
        }
        Command::StartPaper { paper } | Command::FinishPaper { paper } => {
            let paper =
                find_paper(analysis, &paper.path, &paper.title).map_err(|e| e.to_string())?;
            let stamp = match command {
                Command::StartPaper { .. } => start_paper,
                _ => finish_paper,
            };
            let stamped = stamp(analysis, &paper).map_err(|refusal| refusal.to_string())?;
            Ok(Done {
                edit: stamped.edit,
                message: stamped.message,
                ..Done::default()
            })
        }
        Command::ShowPace { paper } => {
            let paper =
                find_paper(analysis, &paper.path, &paper.title).map_err(|e| e.to_string())?;
            let none = || {
                format!(
                    "{} has no length: or no questions, so there is no pace to tell.",
                    words::title(&paper.at)
                )
            };
            Ok(Done {
                message: pace(analysis, &paper).ok_or_else(none)?,
                ..Done::default()
            })
        }
        Command::WriteCalendar { path } => Ok(Done {
            calendar: Some(match path {
                Some(path) => path.clone(),
                None => crate::plan::top_file(&analysis.notebook, CALENDAR_FILE),
            }),
            ..Done::default()
        }),
        Command::ShowPlan { relearn_first, why } => Ok(planned(analysis, *relearn_first, *why)),
        Command::TagProblems { which } => {
            let done = tag_problems(analysis, which).map_err(|nothing| nothing.to_string())?;
            Ok(Done {
                message: done.summary(),
                edit: done.edit,
                ..Done::default()
            })
        }
        Command::InsertStarterPatterns { course, subject } => {
            let subject = insert_starter_patterns::subject(subject);
            let subject = subject.map_err(|refusal| refusal.to_string())?;
            let done = insert_starter_patterns(analysis, &NameKey::new(course), subject)
                .map_err(|refusal| refusal.to_string())?;
            Ok(Done {
                message: done.summary(),
                edit: done.edit,
                show: Some(done.place),
                ..Done::default()
            })
        }
        Command::AnotherLikeThis { path, byte } => {
            let file = analysis.notebook.file(path);
            if file.is_none_or(|file| *byte as usize > file.text().len_bytes()) {
                return Err(format!("{path} is no longer as it was among the notes."));
            }
            let at = analysis.notebook.block_at(path, *byte as usize);
            let at = at.ok_or_else(|| NoOther::NotAProblem.to_string())?;
            let added = another_like_this(analysis, &at).map_err(|no| no.to_string())?;
            let is_elsewhere = at.block.kind != Some(notes::BlockKind::Problem);
            Ok(Done {
                message: added.summary(),
                show: is_elsewhere.then_some(added.place),
                edit: added.edit,
                ..Done::default()
            })
        }
        Command::ShowPlace { path, span } => {
            if analysis.notebook.file(path).is_none() {
                return Err(format!("{path} is no longer among the notes."));
            }
            Ok(Done {
                show: Some((path.clone(), *span)),
                ..Done::default()
            })
        }
    }
}

/// Writes the plan into its file, in place of an older plan.
fn planned(analysis: &Analysis, relearn_first: bool, why: bool) -> Done {
    let text = crate::plan::plan(analysis, relearn_first).to_notes(why);
    let path = crate::plan::top_file(&analysis.notebook, crate::plan::PLAN_FILE);
    let mut done = Done::default();
    match analysis.notebook.file(&path) {
        Some(file) => {
            let whole = Span::new(0, file.text().len_bytes());
            done.edit.replace(&path, whole, text);
        }
        None => {
            done.edit.created.insert(path.clone(), text);
        }
    }
    done.show = Some((path, Span::at(0)));
    done
}

fn drawn(analysis: &Analysis, exam: &Exam<'_>, request: DrawRequest) -> Result<Done, String> {
    let paper = draw_paper(analysis, exam, request).map_err(|refusal| refusal.to_string())?;
    let first = offered_first(analysis, exam).map(|first| {
        let title = words::title(&first.at);
        format!("{title} comes first: it is the instructor's.")
    });
    Ok(shown(&paper, first))
}

/// Creates a drawn paper and shows it. What comes first is said before what it lacks.
fn shown(paper: &DrawnPaper, first: Option<String>) -> Done {
    let mut said = vec![format!(
        "Drew {}: {} in {}.",
        paper.title,
        words::count(paper.questions.len(), "question"),
        paper.path
    )];
    said.extend(first);
    said.extend(paper.varied_in_words());
    said.extend(paper.shortfalls.iter().cloned());
    Done {
        edit: paper.edit(),
        show: Some((paper.path.clone(), Span::at(0))),
        calendar: None,
        message: said.join(" "),
    }
}

/// Patterns and topics, each a list of names separated by commas, of a course.
fn scope(analysis: &Analysis, course: &str, patterns: &str, topics: &str) -> Result<Scope, String> {
    let given = |names: &str| match names.trim() {
        "" => Vec::new(),
        names => vec![names.to_owned()],
    };
    Scope::find(analysis, Some(course), &given(patterns), &given(topics))
        .map_err(|no| no.to_string())
}

/// Why an exam is not found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoExam {
    /// There is no exam in the notes that is still to come.
    NoneAhead,
    /// No exam has this title.
    Unknown {
        /// What was asked for.
        asked: String,
        /// A title that is near it.
        near: Option<String>,
        /// All titles.
        all: Vec<String>,
    },
    /// Exams of several courses have this title.
    SeveralCourses {
        /// What was asked for.
        asked: String,
        /// The courses.
        courses: Vec<String>,
    },
}

impl fmt::Display for NoExam {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoneAhead => f.write_str(
                "No exam lies ahead in these notes: write @exam with its title, and on: with its date.",
            ),
            Self::Unknown { asked, near: Some(near), .. } => {
                write!(f, "No exam is called {asked}. Did you mean {near}?")
            }
            Self::Unknown { asked, all, .. } if all.is_empty() => {
                write!(f, "No exam is called {asked}: there is none in these notes yet.")
            }
            Self::Unknown { asked, all, .. } => {
                write!(f, "No exam is called {asked}. There are: {}.", all.join(", "))
            }
            Self::SeveralCourses { asked, courses } => {
                write!(f, "Several courses have an exam called {asked}: {}. Say which.", courses.join(", "))
            }
        }
    }
}

/// Finds an exam by its title, in a course or in all; without a title the next one to come.
pub fn find_exam<'a>(
    analysis: &'a Analysis,
    course: Option<&str>,
    title: Option<&str>,
) -> Result<Exam<'a>, NoExam> {
    let course = course.map(NameKey::new);
    let mut exams = all_exams(analysis);
    exams.retain(|exam| course.as_ref().is_none_or(|course| exam.course == *course));
    let Some(title) = title else {
        let ahead = |exam: &Exam<'_>| {
            exam.days_left(analysis.today())
                .is_some_and(|days| days >= 0)
        };
        return exams.into_iter().find(ahead).ok_or(NoExam::NoneAhead);
    };
    let key = NameKey::new(title);
    let mut found = exams.iter().filter(|exam| exam.at.block.name == key);
    let Some(first) = found.next() else {
        let all: Vec<String> = exams.iter().map(|exam| words::title(&exam.at)).collect();
        let keys: Vec<&NameKey> = exams.iter().map(|exam| &exam.at.block.name).collect();
        let near = notes::name::nearest(key.as_str(), keys.iter().map(|key| key.as_str()));
        let near = near.and_then(|near| keys.iter().position(|key| key.as_str() == near));
        return Err(NoExam::Unknown {
            asked: title.to_owned(),
            near: near.map(|i| all[i].clone()),
            all,
        });
    };
    let mut courses = BTreeSet::from([&first.course]);
    courses.extend(found.map(|exam| &exam.course));
    if courses.len() > 1 {
        return Err(NoExam::SeveralCourses {
            asked: title.to_owned(),
            courses: courses
                .into_iter()
                .map(|course| course_title(analysis, course))
                .collect(),
        });
    }
    Ok(first.clone())
}

/// A course's title as it was typed; empty for notes of no course.
pub fn course_title(analysis: &Analysis, course: &NameKey) -> String {
    let thing = notes::NamedThing {
        course: NameKey::default(),
        kind: notes::BlockKind::Course,
        name: course.clone(),
    };
    let definition = analysis.notebook.definition(&thing);
    definition.map_or_else(|| course.to_string(), |at| words::title(&at))
}

/// The titles of all courses, as they were typed.
pub fn course_titles(analysis: &Analysis) -> Vec<String> {
    let courses = analysis.notebook.courses().into_iter();
    let named = courses.filter(|course| !course.is_empty());
    named
        .map(|course| course_title(analysis, &course))
        .collect()
}

/// Why a paper is not found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoPaper {
    /// There is no such file among the notes.
    NoFile(FilePath),
    /// The file holds no paper (of this title).
    None {
        /// The file.
        path: FilePath,
        /// The title, if one was asked for.
        title: String,
    },
    /// The file holds several papers, and none was named.
    Several {
        /// The file.
        path: FilePath,
        /// Their titles.
        titles: Vec<String>,
    },
}

impl fmt::Display for NoPaper {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoFile(path) => write!(f, "{path} is not among the notes."),
            Self::None { path, title } if title.is_empty() => write!(f, "{path} holds no @paper."),
            Self::None { path, title } => write!(f, "{path} holds no paper called {title}."),
            Self::Several { path, titles } => {
                write!(
                    f,
                    "{path} holds several papers: {}. Say which.",
                    titles.join(", ")
                )
            }
        }
    }
}

/// Finds a paper in a file: by title, or the only one.
pub fn find_paper<'a>(
    analysis: &'a Analysis,
    path: &FilePath,
    title: &str,
) -> Result<Paper<'a>, NoPaper> {
    let notebook = &analysis.notebook;
    if notebook.file(path).is_none() {
        return Err(NoPaper::NoFile(path.clone()));
    }
    let key = NameKey::new(title);
    let mut found: Vec<_> = notebook
        .blocks_in(path)
        .filter(|at| at.block.kind == Some(notes::BlockKind::Paper))
        .filter(|at| key.is_empty() || at.block.name == key)
        .collect();
    match found.len() {
        0 => Err(NoPaper::None {
            path: path.clone(),
            title: title.to_owned(),
        }),
        1 => Ok(paper(notebook, found.remove(0))),
        // Of two papers of one title, the first stands for both, as everywhere.
        _ if !key.is_empty() => Ok(paper(notebook, found.remove(0))),
        _ => Err(NoPaper::Several {
            path: path.clone(),
            titles: found.iter().map(words::title).collect(),
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    const NOTES: &str = "\
=== a/course.porism
@course Algebra
@exam Midterm
  on: 2027-02-10
@exam Final
  on: 2027-03-10
@topic 1 Sets
@problem 1
  Decide.
  answer: yes
=== b/course.porism
@course Geometry
@exam Final
  on: 2027-02-20
=== a/papers.porism
@paper A
  for: Final

@question 1
  of: 1
  Decide.
  mark: right

@paper B
";

    /// Runs the command and prints what it says, shows and changes.
    fn check(command: &Command, expected: &str) {
        let again = Command::read(command.name(), &command.arguments());
        assert_eq!(
            again.as_ref(),
            Ok(command),
            "it goes through an editor and back"
        );
        let fixture = fixture::notebook(NOTES);
        let said = match run(fixture.analysis(), command) {
            Err(why) => format!("refused: {why}"),
            Ok(done) => {
                let show = done.show.map_or_else(String::new, |(path, span)| {
                    format!("\nshows {path} {}", span.start)
                });
                let changed: Vec<String> =
                    done.edit.files.keys().map(ToString::to_string).collect();
                let created: Vec<String> =
                    done.edit.created.keys().map(ToString::to_string).collect();
                format!(
                    "{}{show}\nchanges {changed:?} creates {created:?}",
                    done.message
                )
            }
        };
        assert_eq!(said, expected);
    }

    #[test]
    fn problems_are_tagged_and_patterns_inserted() {
        let which = Untagged::InFile(FilePath::new("algebra.porism"));
        check(
            &Command::TagProblems { which },
            "refused: No problem without a pattern has a shape of one: give patterns a shape: line, \
             or insert starter patterns.",
        );
        let matching = Untagged::Matching {
            course: NameKey::new("Algebra"),
            pattern: NameKey::new("slope"),
        };
        check(
            &Command::TagProblems { which: matching },
            "refused: No problem without a pattern has a shape of one: give patterns a shape: line, \
             or insert starter patterns.",
        );
        let insert = |course: &str, subject: &str| Command::InsertStarterPatterns {
            course: course.to_owned(),
            subject: subject.to_owned(),
        };
        check(
            &insert("Nothing", "series"),
            "refused: No course is called nothing in these notes: write @course and its name first.",
        );
        let refused = run(
            fixture::notebook(NOTES).analysis(),
            &insert("Algebra", "songs"),
        );
        assert!(
            refused
                .unwrap_err()
                .contains("No starter patterns are called songs")
        );
    }

    fn draw(course: &str, exam: &str) -> Command {
        Command::DrawPaper {
            course: course.to_owned(),
            exam: exam.to_owned(),
            notes: NotesUse::Closed,
            questions: Some(10),
            seed: Some(7),
            kind: Some(Kind::Problems),
        }
    }

    fn of(path: &str, title: &str) -> PaperName {
        PaperName {
            path: FilePath::new(path),
            title: title.to_owned(),
        }
    }

    #[test]
    fn drawing_creates_a_file_and_shows_it() {
        check(
            &draw("Algebra", "final"),
            "Drew Final, mock test 2: 1 question in a/papers/final-2027-02-15-1.porism. 1 question \
             instead of 10: the notes hold no more that may be asked together. Only 1 question from 1 Sets.\n\
             shows a/papers/final-2027-02-15-1.porism 0\n\
             changes [] creates [\"a/papers/final-2027-02-15-1.porism\"]",
        );
        check(
            &draw("Algebra", "Finale"),
            "refused: No exam is called Finale. Did you mean Final?",
        );
        check(
            &draw("Geometry", "Midterm"),
            "refused: No exam is called Midterm. There are: Final.",
        );
    }

    #[test]
    fn sheets_are_drawn_by_names() {
        let drill = |patterns: &str, topics: &str| Command::DrawDrill {
            course: "Algebra".to_owned(),
            patterns: patterns.to_owned(),
            topics: topics.to_owned(),
            arrangement: Arrangement::Blocked,
            questions: Some(1),
            seed: None,
        };
        check(
            &drill("", "1"),
            "Drew 1 Sets, drill sheet 1: 1 question in a/papers/drill-1-sets-2027-02-15-1.porism.\n\
             shows a/papers/drill-1-sets-2027-02-15-1.porism 0\n\
             changes [] creates [\"a/papers/drill-1-sets-2027-02-15-1.porism\"]",
        );
        check(
            &drill("no such", ""),
            "refused: No pattern is called no such: write @pattern no such to define it.",
        );
        let spotting = |exam: &str| Command::DrawSpotting {
            course: "Algebra".to_owned(),
            exam: exam.to_owned(),
            patterns: String::new(),
            topics: String::new(),
            questions: None,
            seed: Some(3),
        };
        check(
            &spotting("Final"),
            "refused: There is no problem of Final that says its kind: write pattern: below its problems.",
        );
        check(
            &spotting("Finale"),
            "refused: No exam is called Finale. Did you mean Final?",
        );
        let bad = Command::read(
            DRAW_DRILL,
            &["a", "b", "c", "heaped"].map(|text| Argument::Text(text.to_owned())),
        );
        assert_eq!(
            bad.expect_err("a bad word").to_string(),
            "porism.drawDrill: argument 4 must be mixed or blocked."
        );
    }

    #[test]
    fn papers_are_found_by_file_and_title() {
        let record = |paper| Command::RecordMarks {
            paper,
            unmarked: Unmarked::Refuse,
        };
        check(
            &record(of("a/papers.porism", "a")),
            "Recorded 1 mark of 2027-02-15, notes closed: 1 right.\n\
             changes [\"a/course.porism\", \"a/papers.porism\"] creates []",
        );
        check(
            &record(of("a/papers.porism", "")),
            "refused: a/papers.porism holds several papers: A, B. Say which.",
        );
        check(
            &record(of("a/papers.porism", "C")),
            "refused: a/papers.porism holds no paper called C.",
        );
        check(
            &record(of("b/course.porism", "")),
            "refused: b/course.porism holds no @paper.",
        );
        check(
            &record(of("b/no.porism", "")),
            "refused: b/no.porism is not among the notes.",
        );
        check(
            &Command::ShowAnswers {
                paper: of("a/papers.porism", "A"),
            },
            "Added 1 answer.\nchanges [\"a/papers.porism\"] creates []",
        );
        let path = FilePath::new("a/papers.porism");
        check(
            &Command::ShowPlace {
                path,
                span: Span::new(3, 5),
            },
            "\nshows a/papers.porism 3\nchanges [] creates []",
        );
    }

    #[test]
    fn the_plan_is_written_with_reasons_or_without() {
        let show = |relearn_first, why| Command::ShowPlan { relearn_first, why };
        for (relearn_first, why) in [(false, false), (false, true), (true, true)] {
            check(
                &show(relearn_first, why),
                "\nshows plan.porism 0\nchanges [] creates [\"plan.porism\"]",
            );
        }
        let fixture = fixture::notebook(NOTES);
        let written = |why| {
            let done = run(fixture.analysis(), &show(false, why)).expect("a plan");
            done.edit.created[&FilePath::new("plan.porism")].clone()
        };
        let (with, without) = (written(true), written(false));
        assert!(with.contains("about 100% of Final; gains "), "{with}");
        assert!(!without.contains("gains "), "{without}");
        let lines: Vec<&str> = with.lines().collect();
        assert!(without.lines().all(|line| lines.contains(&line)));

        let read = |arguments: &[Argument]| Command::read(SHOW_PLAN, arguments);
        assert_eq!(read(&[]), Ok(show(false, false)));
        assert_eq!(read(&[Argument::Flag(true)]), Ok(show(true, false)));
        assert_eq!(
            read(&[Argument::Nothing, Argument::Flag(true)]),
            Ok(show(false, true))
        );
        assert_eq!(
            read(&[Argument::Nothing, Argument::Count(1)])
                .expect_err("not a flag")
                .to_string(),
            "porism.showPlan: argument 2 must be true or false."
        );
    }

    #[test]
    fn an_exam_is_found_by_title_or_date() {
        let fixture = fixture::notebook(NOTES);
        let find = |course, title| match find_exam(fixture.analysis(), course, title) {
            Ok(exam) => format!("{} {}", exam.course, exam.name()),
            Err(why) => why.to_string(),
        };
        assert_eq!(find(None, None), "geometry Final");
        assert_eq!(find(Some("Algebra"), None), "algebra Final");
        assert_eq!(find(None, Some("midterm")), "algebra Midterm");
        assert_eq!(
            find(None, Some("Final")),
            "Several courses have an exam called Final: Algebra, Geometry. Say which."
        );
        assert_eq!(
            find(Some("None"), None),
            "No exam lies ahead in these notes: write @exam with its title, and on: with its date."
        );
        assert_eq!(
            find(Some("None"), Some("Final")),
            "No exam is called Final: there is none in these notes yet."
        );
    }

    #[test]
    fn arguments_that_do_not_fit_are_said() {
        let read = |name, arguments: &[Argument]| match Command::read(name, arguments) {
            Ok(command) => format!("{command:?}"),
            Err(bad) => bad.to_string(),
        };
        let text = |text: &str| Argument::Text(text.to_owned());
        assert_eq!(
            read("porism.nothing", &[]),
            format!(
                "There is no command porism.nothing; there are {}.",
                Command::NAMES.join(", ")
            )
        );
        assert_eq!(
            read(DRAW_PAPER, &[text("a")]),
            "porism.drawPaper: argument 2 must be text."
        );
        assert_eq!(
            read(DRAW_PAPER, &[text("a"), text("b"), text("ajar")]),
            "porism.drawPaper: argument 3 must be closed or open."
        );
        assert_eq!(
            read(
                RECORD_MARKS,
                &[text("a"), Argument::Nothing, Argument::Count(1)]
            ),
            "porism.recordMarks: argument 3 must be true or false."
        );
        assert_eq!(
            Command::read(RECORD_MARKS, &[text("a")]),
            Ok(Command::RecordMarks {
                paper: of("a", ""),
                unmarked: Unmarked::Refuse
            })
        );
        assert_eq!(
            Command::read(DRAW_PAPER, &[text("Algebra"), text("Final")]),
            Ok(Command::DrawPaper {
                course: "Algebra".to_owned(),
                exam: "Final".to_owned(),
                notes: NotesUse::Closed,
                questions: None,
                seed: None,
                kind: None,
            })
        );
    }
}
