//! What may be typed on the command line.

use std::path::PathBuf;

use chrono::NaiveDate;
use clap::{Args, Parser, Subcommand, ValueEnum};

/// Plain-text mathematics notes that can be drilled.
#[derive(Debug, Parser)]
#[command(name = "porism", version, max_term_width = 80)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Serve an editor over standard input and output (Language Server Protocol).
    Serve(Serve),
    /// Check notes and print what does not fit; exit status 1 if there are errors.
    Check(Check),
    /// Print where you stand: each exam and each pattern.
    Standing(Standing),
    /// Print what to do next for each exam.
    Next(Next),
    /// Plan the days until the last exam: what to relearn, practise and sit on each.
    Plan(Plan),
    /// Write exams, plan and mock tests as a calendar file (iCalendar).
    Calendar(Calendar),
    /// Add the exams of a calendar file (iCalendar) to the notes.
    Dates(Dates),
    /// Draw a mock test for an exam into a new file.
    Mock(Mock),
    /// Draw a drill sheet on patterns or topics into a new file.
    Drill(Drill),
    /// Draw a spotting round, which asks only what kind each problem is, into a new file.
    Spotting(Spotting),
    /// Write the marks of a paper back to the problems it was drawn from.
    Record(Record),
    /// Add the answers to a paper.
    Answers(Answers),
    /// Say what kind of problem a formula or a statement is.
    Classify(Classify),
    /// Say whether an answer is right for a problem; exit status 1 if it is wrong.
    Verify(Verify),
    /// Make fresh problems with other numbers from a problem, with their answers.
    Siblings(Siblings),
    /// Insert starter patterns into a course, or list their subjects.
    Starter(Starter),
    /// Explain a check by its code, or list all checks.
    Explain(Explain),
    /// Unpack a notebook to try things on, check it, and draw a mock test.
    Demo(Demo),
    /// Print a script that completes the command line in a shell.
    Completions(Completions),
}

/// The notes that a command works on.
#[derive(Args, Debug)]
pub(crate) struct Notes {
    /// The folder of the notes.
    #[arg(value_name = "FOLDER", default_value = ".")]
    pub(crate) folder: PathBuf,
}

#[derive(Args, Debug)]
pub(crate) struct Serve {
    /// Speak over standard input and output. This is the only way; editors may say so.
    #[arg(long)]
    pub(crate) stdio: bool,

    /// How much to log on standard error.
    #[arg(long, value_enum, env = "PORISM_LOG", default_value = "warn")]
    pub(crate) log: Log,
}

/// What is logged: messages of this weight and weightier ones.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum Log {
    Off,
    Error,
    Warn,
    Info,
    Debug,
    /// With every message of the protocol.
    Trace,
}

#[derive(Args, Debug)]
pub(crate) struct Check {
    #[command(flatten)]
    pub(crate) notes: Notes,

    /// How to print the findings.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(crate) format: Format,

    /// Print hints too.
    #[arg(long)]
    pub(crate) hints: bool,
}

/// How to print a result.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    /// For people.
    Text,
    /// For programs.
    Json,
}

#[derive(Args, Debug)]
pub(crate) struct Standing {
    #[command(flatten)]
    pub(crate) notes: Notes,

    /// Show the standing of a past day, from the tries up to then.
    #[arg(long, value_name = "DATE")]
    pub(crate) on: Option<NaiveDate>,

    /// Show one course only.
    #[arg(long, value_name = "NAME")]
    pub(crate) course: Option<String>,

    /// How to print it.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(crate) format: Format,
}

#[derive(Args, Debug)]
pub(crate) struct Next {
    #[command(flatten)]
    pub(crate) notes: Notes,

    /// Show this exam only.
    #[arg(long, value_name = "NAME")]
    pub(crate) exam: Option<String>,

    /// Show the exams of this course only.
    #[arg(long, value_name = "NAME")]
    pub(crate) course: Option<String>,

    /// How to print it.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(crate) format: Format,
}

#[derive(Args, Debug)]
pub(crate) struct Plan {
    #[command(flatten)]
    pub(crate) notes: Notes,

    /// Relearn everything that was not learned before practising anything.
    #[arg(long)]
    pub(crate) relearn_first: bool,

    /// Say why each block is there.
    #[arg(long)]
    pub(crate) why: bool,

    /// How to print it.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(crate) format: Format,
}

#[derive(Args, Debug)]
pub(crate) struct Calendar {
    #[command(flatten)]
    pub(crate) notes: Notes,

    /// The file to write; one that was written before is brought up to date. Printed if not given.
    #[arg(long, value_name = "FILE")]
    pub(crate) to: Option<PathBuf>,

    /// The time zone of courses that do not say theirs; that of this computer if not given.
    #[arg(long, value_name = "NAME")]
    pub(crate) zone: Option<String>,
}

#[derive(Args, Debug)]
pub(crate) struct Dates {
    /// The calendar file.
    #[arg(value_name = "FILE")]
    pub(crate) file: PathBuf,

    /// The folder of the notes.
    #[arg(long = "in", value_name = "FOLDER", default_value = ".")]
    pub(crate) folder: PathBuf,

    /// The course that the exams belong to; not needed where the notes have one.
    #[arg(long, value_name = "NAME")]
    pub(crate) course: Option<String>,

    /// Your time zone; that of the course or of this computer if not given.
    #[arg(long, value_name = "NAME")]
    pub(crate) zone: Option<String>,

    /// Take every event, not only those called exam, midterm, final, quiz or test.
    #[arg(long)]
    pub(crate) all: bool,
}

#[derive(Args, Debug)]
pub(crate) struct Mock {
    #[command(flatten)]
    pub(crate) notes: Notes,

    /// The exam to draw for; the nearest one if not given.
    #[arg(long, value_name = "NAME")]
    pub(crate) exam: Option<String>,

    /// The exam's course, if several courses have an exam of that name.
    #[arg(long, value_name = "NAME")]
    pub(crate) course: Option<String>,

    /// Whether notes may be open in this round.
    #[arg(long, value_enum, default_value_t = NotesUse::Closed)]
    pub(crate) allow: NotesUse,

    /// How many questions to draw.
    #[arg(long, value_name = "N")]
    pub(crate) questions: Option<u32>,

    /// The number to draw with: the same seed draws the same paper from the same notes.
    #[arg(long, value_name = "N")]
    pub(crate) seed: Option<u32>,

    /// Ask to state and prove theorems instead of solving problems.
    #[arg(long)]
    pub(crate) theorems: bool,

    /// Say why each question was chosen.
    #[arg(long)]
    pub(crate) why: bool,

    /// Print the paper instead of writing it to a file.
    #[arg(long)]
    pub(crate) print: bool,
}

#[derive(Args, Debug)]
pub(crate) struct Drill {
    #[command(flatten)]
    pub(crate) about: About,

    /// In which order to ask.
    #[arg(long, value_enum, default_value_t = Order::Mixed)]
    pub(crate) order: Order,

    #[command(flatten)]
    pub(crate) sheet: Sheet,
}

#[derive(Args, Debug)]
pub(crate) struct Spotting {
    #[command(flatten)]
    pub(crate) about: About,

    /// Ask about what this exam covers.
    #[arg(long, value_name = "NAME", conflicts_with_all = ["patterns", "topics"])]
    pub(crate) exam: Option<String>,

    #[command(flatten)]
    pub(crate) sheet: Sheet,
}

/// What a sheet is about; without patterns or topics, the whole course.
#[derive(Args, Debug)]
pub(crate) struct About {
    #[command(flatten)]
    pub(crate) notes: Notes,

    /// A pattern, or several separated by commas; may be given several times.
    #[arg(long, value_name = "NAMES")]
    pub(crate) patterns: Vec<String>,

    /// A topic, or several separated by commas; may be given several times.
    #[arg(long, value_name = "NAMES")]
    pub(crate) topics: Vec<String>,

    /// The course, if several have what is asked for.
    #[arg(long, value_name = "NAME")]
    pub(crate) course: Option<String>,
}

/// How a sheet is drawn and where it goes.
#[derive(Args, Debug)]
pub(crate) struct Sheet {
    /// How many questions to draw.
    #[arg(short, long = "questions", value_name = "N")]
    pub(crate) n: Option<u32>,

    /// The number to draw with: the same seed draws the same sheet from the same notes.
    #[arg(long, value_name = "N")]
    pub(crate) seed: Option<u32>,

    /// Say why each question was chosen.
    #[arg(long)]
    pub(crate) why: bool,

    /// Print the sheet instead of writing it to a file.
    #[arg(long)]
    pub(crate) print: bool,

    /// How to say what was drawn.
    #[arg(long, value_enum, default_value_t = Format::Text, conflicts_with = "print")]
    pub(crate) format: Format,
}

/// In which order a drill sheet asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Order {
    /// The kinds mixed, so that each time the approach must be chosen.
    Mixed,
    /// All questions of one kind, then all of the next: for a first acquaintance.
    Blocked,
}

/// Whether notes are open.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum NotesUse {
    /// No notes.
    Closed,
    /// With notes.
    Open,
}

/// A paper and the notes it was drawn from.
#[derive(Args, Debug)]
pub(crate) struct PaperFile {
    /// The file of the paper.
    #[arg(value_name = "PAPER")]
    pub(crate) paper: PathBuf,

    /// The paper's title, where the file holds several.
    #[arg(long, value_name = "NAME")]
    pub(crate) title: Option<String>,

    /// The folder of the notes.
    #[arg(long = "in", value_name = "FOLDER", default_value = ".")]
    pub(crate) folder: PathBuf,
}

#[derive(Args, Debug)]
pub(crate) struct Record {
    #[command(flatten)]
    pub(crate) file: PaperFile,

    /// Count the questions without a mark as skipped.
    #[arg(long)]
    pub(crate) skip_rest: bool,
}

#[derive(Args, Debug)]
pub(crate) struct Answers {
    #[command(flatten)]
    pub(crate) file: PaperFile,
}

#[derive(Args, Debug)]
pub(crate) struct Classify {
    /// The notes whose patterns to classify by, a file or a folder; the starter set if not given.
    #[arg(long, value_name = "NOTES")]
    pub(crate) patterns: Option<PathBuf>,

    #[command(flatten)]
    pub(crate) lines: Lines,

    #[command(flatten)]
    pub(crate) statement: Statement,
}

#[derive(Args, Debug)]
pub(crate) struct Verify {
    #[command(flatten)]
    pub(crate) lines: Lines,

    #[command(flatten)]
    pub(crate) statement: Statement,

    /// The answer: a formula in TeX, or words with formulas between dollar signs.
    #[arg(
        value_name = "ANSWER",
        allow_hyphen_values = true,
        required_unless_present = "jsonl"
    )]
    pub(crate) answer: Option<String>,
}

#[derive(Args, Debug)]
pub(crate) struct Siblings {
    /// How many to make, at most 200.
    #[arg(short, value_name = "N", default_value_t = 3)]
    pub(crate) n: usize,

    /// The number to draw with: the same seed makes the same problems.
    #[arg(long, value_name = "S", default_value_t = 1)]
    pub(crate) seed: u64,

    #[command(flatten)]
    pub(crate) lines: Lines,

    #[command(flatten)]
    pub(crate) statement: Statement,
}

#[derive(Args, Debug)]
pub(crate) struct Starter {
    #[command(flatten)]
    pub(crate) notes: Notes,

    /// A subject whose patterns to insert; may be given several times.
    #[arg(long = "subject", value_name = "NAME")]
    pub(crate) subjects: Vec<String>,

    /// The course, if the notes have several.
    #[arg(long, value_name = "NAME")]
    pub(crate) course: Option<String>,
}

/// Whether many items are read from standard input.
#[derive(Args, Debug)]
pub(crate) struct Lines {
    /// Read JSON Lines from standard input, one item each, and write one line for each.
    #[arg(long, conflicts_with = "tex")]
    pub(crate) jsonl: bool,
}

/// A problem on the command line.
#[derive(Args, Debug)]
pub(crate) struct Statement {
    /// The instruction in front of the formula, such as "Factor completely."
    #[arg(
        long,
        value_name = "WORDS",
        default_value = "",
        hide_default_value = true
    )]
    pub(crate) prompt: String,

    /// The problem: a formula in TeX, or words with formulas between dollar signs.
    #[arg(
        value_name = "TEX",
        allow_hyphen_values = true,
        required_unless_present = "jsonl"
    )]
    pub(crate) tex: Option<String>,
}

#[derive(Args, Debug)]
pub(crate) struct Explain {
    /// The code, as it stands in brackets behind a finding.
    pub(crate) code: Option<String>,
}

#[derive(Args, Debug)]
pub(crate) struct Demo {
    /// The folder to unpack into; it must not exist yet, or be empty.
    #[arg(value_name = "FOLDER", default_value = "porism-demo")]
    pub(crate) folder: PathBuf,
}

#[derive(Args, Debug)]
pub(crate) struct Completions {
    /// The shell.
    pub(crate) shell: clap_complete::Shell,
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_arguments_are_consistent() {
        Arguments::command().debug_assert();
    }

    /// The table of commands in README.
    fn table() -> String {
        let mut out = String::from("| command | what it does |\n| --- | --- |\n");
        let program = Arguments::command();
        for command in program.get_subcommands() {
            let about = command
                .get_about()
                .map(|about| about.to_string())
                .unwrap_or_default();
            out.push_str(&format!("| `porism {}` | {about} |\n", command.get_name()));
        }
        out
    }

    #[test]
    fn the_readme_lists_the_commands() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../README.md");
        let page = std::fs::read_to_string(path).unwrap();
        let (head, rest) = page.split_once("<!-- commands -->\n").unwrap();
        let (old, tail) = rest.split_once("<!-- end of commands -->").unwrap();
        if std::env::var_os("PORISM_WRITE").is_some() {
            let table = table();
            let page =
                format!("{head}<!-- commands -->\n\n{table}\n<!-- end of commands -->{tail}");
            std::fs::write(path, page).unwrap();
            return;
        }
        assert_eq!(
            old.trim(),
            table().trim(),
            "README's table of commands is stale: run PORISM_WRITE=1 cargo test -p porism"
        );
    }
}
