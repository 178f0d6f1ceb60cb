//! The command line, as a student at a terminal uses it.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use porism_tests::program::program;

/// Runs the program in a folder, on 2027-02-15.
fn porism(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(program())
        .args(arguments)
        .current_dir(folder)
        .env("PORISM_NOW", "2027-02-15 10:00")
        .env_remove("PORISM_LOG")
        .output()
        .expect("the program runs")
}

fn output(out: &Output) -> String {
    String::from_utf8(out.stdout.clone()).expect("the output is UTF-8")
}

fn errors(out: &Output) -> String {
    String::from_utf8(out.stderr.clone()).expect("the errors are UTF-8")
}

fn folder() -> tempfile::TempDir {
    tempfile::Builder::new()
        .prefix("notes")
        .tempdir()
        .expect("a folder")
}

const NOTES: &str = "\
@course Waves

@exam First midterm
  on: 2027-02-26 10:00
  covers: 1.1

@topic 1.1 Separable equations

@pattern separable
  cue: a product

@problem 1.1.1
  pattern: separable
  Solve $y' = x y$ with $y(0) = 2$.
  answer: $y = 2 e^{x^2/2}$

@problem 1.1.2
  pattern: separable
  Solve $y' = \\frac{x}{y}$.
  answer: $y^2 = x^2 + C$
";

#[test]
fn the_demo_unpacks_checks_and_draws_and_never_overwrites() {
    let home = folder();
    let out = porism(home.path(), &["demo"]);
    assert_eq!(out.status.code(), Some(0), "{}", errors(&out));
    let said = output(&out);
    assert!(
        said.contains("error[impossible-date]: There is no 2027-02-30"),
        "{said}"
    );
    assert!(
        said.contains("--> differential-equations/2-second-order.porism:"),
        "{said}"
    );
    assert!(
        said.contains("First midterm: 2027-02-20 10:00, in 5 days"),
        "{said}"
    );
    assert!(said.contains("An estimate, not a promise."), "{said}");
    assert!(
        said.contains(
            "porism-demo/differential-equations/papers/first-midterm-2027-02-15-1.porism"
        ),
        "{said}"
    );
    assert!(
        !said.contains('\u{1b}'),
        "no colours where there is no terminal"
    );
    let paper = home
        .path()
        .join("porism-demo/differential-equations/papers/first-midterm-2027-02-15-1.porism");
    let text = fs::read_to_string(&paper).expect("the paper is written");
    assert!(!text.contains("answer:"), "a drawn paper shows no answers");

    let again = porism(home.path(), &["demo"]);
    assert_eq!(again.status.code(), Some(2));
    assert!(errors(&again).contains("porism-demo: is not empty, and nothing in it is touched"));
}

#[test]
fn lines_fit_a_narrow_terminal_width() {
    let home = folder();
    let said = output(&porism(home.path(), &["demo"]));
    // Snippets of notes are cut by the renderer and sentences are wrapped; a command to type and
    // a message with its code stay on one line.
    let whole = ["error[", "warning[", "  porism "];
    let long: Vec<_> = said
        .lines()
        .filter(|line| line.chars().count() > 80)
        .filter(|line| !whole.iter().any(|start| line.starts_with(start)))
        .collect();
    assert_eq!(long, Vec::<&str>::new());
}

#[test]
fn check_ends_with_1_when_there_are_errors() {
    let home = folder();
    fs::write(home.path().join("a.porism"), NOTES).expect("a file");
    let clean = porism(home.path(), &["check"]);
    assert_eq!(clean.status.code(), Some(0), "{}", output(&clean));
    fs::write(
        home.path().join("b.porism"),
        "@exam Final\n  on: 2027-02-30\n",
    )
    .expect("a file");
    let wrong = porism(home.path(), &["check", "--format", "json"]);
    assert_eq!(wrong.status.code(), Some(1));
    let found: serde_json::Value = serde_json::from_slice(&wrong.stdout).expect("JSON");
    let codes: Vec<_> = found
        .as_array()
        .expect("a list")
        .iter()
        .map(|f| f["code"].clone())
        .collect();
    assert!(codes.contains(&"impossible-date".into()), "{found:#}");
    let first = &found.as_array().expect("a list")[0];
    for key in [
        "file", "line", "column", "start", "end", "severity", "message",
    ] {
        assert!(first.get(key).is_some(), "{key} is missing: {first}");
    }
}

#[test]
fn files_that_cannot_be_read_are_named_and_the_rest_counts() {
    let home = folder();
    fs::write(home.path().join("a.porism"), NOTES).expect("a file");
    fs::write(home.path().join("latin.porism"), b"caf\xe9\n").expect("a file");
    let large = fs::File::create(home.path().join("large.porism")).expect("a file");
    large.set_len((16 << 20) + 1).expect("a large file");
    #[cfg(unix)]
    std::os::unix::fs::symlink("..", home.path().join("loop")).expect("a link");
    let out = porism(home.path(), &["check"]);
    assert_eq!(out.status.code(), Some(0), "{}", errors(&out));
    let said = errors(&out);
    assert!(
        said.contains("latin.porism: not UTF-8, first on line 1"),
        "{said}"
    );
    assert!(said.contains("large.porism:"), "{said}");
    assert_eq!(said.matches("Not read").count(), 1, "one warning: {said}");
}

#[test]
fn a_mock_test_is_drawn_marked_and_recorded_once() {
    let home = folder();
    let notes = home.path().join("a.porism");
    fs::write(&notes, NOTES).expect("a file");
    let out = porism(home.path(), &["mock", "--seed", "7"]);
    assert_eq!(out.status.code(), Some(0), "{}", errors(&out));
    let paper = "papers/first-midterm-2027-02-15-1.porism";
    let drawn = fs::read_to_string(home.path().join(paper)).expect("the paper");
    assert!(drawn.contains("seed: 7\n"), "{drawn}");
    assert!(
        drawn.contains("Solve $y' = x y$ with $y(0) = 2$."),
        "{drawn}"
    );

    let unmarked = porism(home.path(), &["record", paper]);
    assert_eq!(unmarked.status.code(), Some(2));
    let marked = drawn.replace("mark:", "mark: right");
    fs::write(home.path().join(paper), &marked).expect("the marks");
    let answers = porism(home.path(), &["answers", paper]);
    assert_eq!(answers.status.code(), Some(0), "{}", errors(&answers));
    let with_answers = fs::read_to_string(home.path().join(paper)).expect("the paper");
    assert!(
        with_answers.contains("answer: $y = 2 e^{x^2/2}$"),
        "{with_answers}"
    );

    let recorded = porism(home.path(), &["record", paper]);
    assert_eq!(recorded.status.code(), Some(0), "{}", errors(&recorded));
    let after = fs::read_to_string(&notes).expect("the notes");
    assert_eq!(
        after.matches("tried: 2027-02-15 closed mock right").count(),
        2,
        "{after}"
    );
    let added: Vec<_> = after
        .lines()
        .filter(|line| !NOTES.lines().any(|old| old == *line))
        .collect();
    assert!(
        added
            .iter()
            .all(|line| line.trim_start().starts_with("tried: ")),
        "{added:?}"
    );

    let again = porism(home.path(), &["record", paper]);
    assert_eq!(again.status.code(), Some(2));
    assert!(errors(&again).contains("recorded"), "{}", errors(&again));
    assert_eq!(fs::read_to_string(&notes).expect("the notes"), after);
}

#[test]
fn the_same_notes_date_and_seed_give_the_same_paper() {
    let home = folder();
    fs::write(home.path().join("a.porism"), NOTES).expect("a file");
    let first = porism(home.path(), &["mock", "--print", "--seed", "3"]);
    let second = porism(home.path(), &["mock", "--print", "--seed", "3"]);
    assert_eq!(first.stdout, second.stdout);
    assert!(output(&first).contains("@question 1"));
    assert!(
        !home.path().join("papers").exists(),
        "printing writes nothing"
    );
}

#[test]
fn a_drill_sheet_is_drawn_answered_and_recorded() {
    let home = folder();
    fs::write(home.path().join("a.porism"), NOTES).expect("a file");
    let drawn = porism(
        home.path(),
        &["drill", "--patterns", "separable", "--seed", "3", "-n", "2"],
    );
    assert_eq!(drawn.status.code(), Some(0), "{}", errors(&drawn));
    let said = output(&drawn);
    assert!(
        said.contains("Drew separable, drill sheet 1: 2 questions, in"),
        "{said}"
    );
    let file = "papers/drill-separable-2027-02-15-1.porism";
    assert!(said.contains(&format!("porism record {file}")), "{said}");
    let path = home.path().join(file);
    let sheet = fs::read_to_string(&path).expect("it is written");
    assert!(
        sheet.contains("  pattern: separable\n") && !sheet.contains("answer:"),
        "{sheet}"
    );
    let (first, second) = sheet.split_once("@question 2").expect("two questions");
    let answer = |text: &str| match text.contains("of: 1.1.1\n") {
        true => text.replace("  mine: ", "  mine: $y = 2 e^{x^2/2}$"),
        false => text.replace("  mark: ", "  mark: wrong"),
    };
    let half = format!("{}@question 2{second}", answer(first));
    fs::write(&path, half).expect("written");
    let refused = porism(home.path(), &["record", file]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(
        errors(&refused).contains("No mark yet: question 2.")
            && errors(&refused).contains("To record the others: --skip-rest."),
        "{}",
        errors(&refused)
    );
    fs::write(
        &path,
        format!("{}@question 2{}", answer(first), answer(second)),
    )
    .expect("written");
    let recorded = porism(home.path(), &["record", file]);
    assert_eq!(recorded.status.code(), Some(0), "{}", errors(&recorded));
    let notes = fs::read_to_string(home.path().join("a.porism")).expect("readable");
    assert!(
        notes.contains("e^{x^2/2}$\n  tried: 2027-02-15 closed right\n"),
        "a drill is practice: {notes}"
    );
    assert!(
        notes.contains("+ C$\n  tried: 2027-02-15 closed wrong\n"),
        "{notes}"
    );
    let again = porism(home.path(), &["record", file]);
    assert_eq!(again.status.code(), Some(2));
    assert!(
        errors(&again).contains("recorded before"),
        "{}",
        errors(&again)
    );

    // What was asked is asked again with other numbers.
    let more = output(&porism(
        home.path(),
        &["drill", "--patterns", "separable", "-n", "5", "--print"],
    ));
    assert_eq!(more.matches("@question").count(), 5, "{more}");
    assert_eq!(more.matches("  of: 1.1").count(), 5, "{more}");
    assert_eq!(more.matches("\n  seed: ").count(), 1 + 5, "{more}");

    let print = [
        "drill", "--topics", "1.1", "-n", "1", "--print", "--seed", "5",
    ];
    let once = output(&porism(home.path(), &print));
    assert_eq!(once, output(&porism(home.path(), &print)));
    assert!(
        once.contains("@question 1\n") && !once.contains("@question 2"),
        "{once}"
    );
    let unknown = porism(home.path(), &["drill", "--patterns", "seperable"]);
    assert_eq!(unknown.status.code(), Some(2));
    assert!(
        errors(&unknown).contains("No pattern is called seperable. Did you mean separable?"),
        "{}",
        errors(&unknown)
    );
}

#[test]
fn a_spotting_round_is_drawn_named_and_recorded_once() {
    let home = folder();
    let notes = format!(
        "{NOTES}\n@pattern linear\n\n@problem 1.1.3\n  pattern: linear\n  Solve $y' + y = x$.\n"
    );
    fs::write(home.path().join("a.porism"), notes).expect("a file");
    let exam = ["spotting", "--exam", "First midterm", "--format", "json"];
    let drawn = porism(home.path(), &exam);
    assert_eq!(drawn.status.code(), Some(0), "{}", errors(&drawn));
    let said: serde_json::Value = serde_json::from_slice(&drawn.stdout).expect("JSON");
    let mut documented_keys = std::collections::BTreeSet::new();
    keys(&said, &mut documented_keys);
    let page = fs::read_to_string(porism_tests::program::project().join("server/porism/JSON.md"));
    let page = page.expect("readable");
    for key in &documented_keys {
        assert!(
            page.contains(&format!("`{key}`")),
            "{key} is not documented"
        );
    }
    let file = said["file"].as_str().expect("a file");
    let path = home.path().join(file);
    let round = fs::read_to_string(&path).expect("it is written");
    assert_eq!(
        round.matches("  pattern: \n").count(),
        said["questions"].as_array().expect("a list").len()
    );
    assert!(
        !round.contains("mark:") && !round.contains("separable"),
        "{round}"
    );

    let too_early = porism(home.path(), &["record", file]);
    assert!(
        errors(&too_early).contains("No kind is named yet"),
        "{}",
        errors(&too_early)
    );
    fs::write(&path, round.replace("  pattern: \n", "  pattern: linear\n")).expect("written");
    let recorded = porism(home.path(), &["record", file]);
    assert_eq!(recorded.status.code(), Some(0), "{}", errors(&recorded));
    assert!(output(&recorded).contains("Recorded a spotting round of 2027-02-15: 1 of "));
    let notes = fs::read_to_string(home.path().join("a.porism")).expect("readable");
    assert!(
        notes.contains("Solve $y' + y = x$.\n  spotted: 2027-02-15 right\n"),
        "{notes}"
    );
    assert!(
        notes.contains("  spotted: 2027-02-15 wrong, taken for linear\n"),
        "{notes}"
    );
    let again = porism(home.path(), &["record", file]);
    assert_eq!(again.status.code(), Some(2));
    assert!(
        errors(&again).contains("This round was recorded before"),
        "{}",
        errors(&again)
    );
}

#[test]
fn explain_knows_every_code_and_its_neighbours() {
    let home = folder();
    let list = output(&porism(home.path(), &["explain"]));
    for line in list.lines() {
        let code = line.split_whitespace().next().expect("a code");
        let page = porism(home.path(), &["explain", code]);
        assert_eq!(page.status.code(), Some(0), "{code}");
        assert!(output(&page).contains(code), "{code}");
    }
    let wrong = porism(home.path(), &["explain", "unclosed-maths"]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(
        errors(&wrong).contains("did you mean unclosed-math?"),
        "{}",
        errors(&wrong)
    );
}

#[test]
fn standing_looks_back_to_a_past_day() {
    let home = folder();
    let notes = format!("{NOTES}  tried: 2027-02-10 closed right\n");
    fs::write(home.path().join("a.porism"), notes).expect("a file");
    let now = output(&porism(home.path(), &["standing"]));
    assert!(now.contains("Standing on 2027-02-15"), "{now}");
    assert!(now.contains("5 days ago"), "{now}");
    let then = output(&porism(home.path(), &["standing", "--on", "2027-02-01"]));
    assert!(then.contains("never"), "{then}");
    let none = porism(home.path(), &["standing", "--course", "Wavs"]);
    assert_eq!(none.status.code(), Some(2));
}

#[test]
fn a_folder_without_notes_is_said() {
    let home = folder();
    let out = porism(home.path(), &["check"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(errors(&out).contains("no notes in ."), "{}", errors(&out));
    let out = porism(home.path(), &["check", "nowhere"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(errors(&out).contains("nowhere"), "{}", errors(&out));
}

#[test]
fn shells_get_a_script() {
    let home = folder();
    for shell in ["bash", "zsh", "fish"] {
        let out = porism(home.path(), &["completions", shell]);
        assert_eq!(out.status.code(), Some(0));
        assert!(output(&out).contains("porism"), "{shell}");
    }
}

/// Every key of a JSON value, at any depth.
fn keys(value: &serde_json::Value, into: &mut std::collections::BTreeSet<String>) {
    match value {
        serde_json::Value::Object(fields) => {
            for (key, value) in fields {
                into.insert(key.clone());
                keys(value, into);
            }
        }
        serde_json::Value::Array(items) => items.iter().for_each(|item| keys(item, into)),
        _ => {}
    }
}

/// Runs a command on the demo with `--format json` and checks that each field is documented.
fn documented(command: &str) -> serde_json::Value {
    let home = folder();
    assert!(porism(home.path(), &["demo"]).status.success());
    let out = porism(home.path(), &[command, "porism-demo", "--format", "json"]);
    assert_eq!(out.status.code(), Some(0), "{}", errors(&out));
    let value: serde_json::Value = serde_json::from_slice(&out.stdout).expect("JSON");
    let page = include_str!("../../server/porism/JSON.md");
    let heading = format!("## `porism {command} ");
    let start = page.find(&heading).expect("a part of its own");
    let mut found = std::collections::BTreeSet::new();
    keys(&value, &mut found);
    for key in found {
        // Fields that mean the same everywhere are described where they come first.
        assert!(
            page.contains(&format!("`{key}`")),
            "{command}: {key} is not documented"
        );
    }
    assert!(page[start..].contains("| field | meaning |"));
    value
}

#[test]
fn the_standing_is_there_for_programs() {
    let value = documented("standing");
    assert_eq!(value["on"], "2027-02-15");
    let exams = value["exams"].as_array().expect("a list");
    let midterm = exams
        .iter()
        .find(|exam| exam["name"] == "First midterm")
        .expect("the exam");
    assert_eq!(midterm["date"], "2027-02-20");
    let distribution: Vec<f64> =
        serde_json::from_value(midterm["distribution"].clone()).expect("numbers");
    assert_eq!(
        distribution.len() as u64,
        midterm["questions"].as_u64().expect("a number") + 1
    );
    assert!((distribution.iter().sum::<f64>() - 1.0).abs() < 1e-9);
    let lost: f64 = midterm["costs"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|cost| cost["lost"].as_f64().expect("a number"))
        .sum();
    let expected = midterm["expected"].as_f64().expect("a number");
    assert!(
        (lost + expected - 1.0).abs() < 0.02,
        "{lost} and {expected}"
    );
    for pattern in value["patterns"].as_array().expect("a list") {
        let number = |key: &str| pattern[key].as_f64().expect("a number");
        assert!(number("low") <= number("mastery") && number("mastery") <= number("high"));
    }
}

#[test]
fn the_plan_fills_the_days_and_no_more() {
    let value = documented("plan");
    let number = |value: &serde_json::Value, key: &str| value[key].as_f64().expect("a number");
    for day in value["days"].as_array().expect("a list") {
        let blocks = day["blocks"].as_array().expect("a list").iter();
        let mock = day["mock"].get("minutes").and_then(|m| m.as_f64());
        let planned: f64 =
            blocks.map(|block| number(block, "minutes")).sum::<f64>() + mock.unwrap_or(0.0);
        assert!(
            planned <= number(day, "minutes").max(mock.unwrap_or(0.0)),
            "{day:#}"
        );
    }
    for exam in value["exams"].as_array().expect("a list") {
        assert!(number(exam, "expected_with_plan") >= number(exam, "expected"));
    }
    assert!(number(&value, "relearn_first_costs") >= 0.0);

    let home = folder();
    fs::write(home.path().join("a.porism"), NOTES).expect("a file");
    let plan = output(&porism(home.path(), &["plan"]));
    assert!(plan.contains("60 minutes a day are assumed"), "{plan}");
    let why = output(&porism(home.path(), &["plan", "--why"]));
    assert!(why.contains("points of the course's mark in"), "{why}");
    assert!(!why.contains("cannot"), "{why}");
}

#[test]
fn what_to_do_next_is_one_line_for_each_exam() {
    let value = documented("next");
    let steps: Vec<_> = value["exams"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|exam| (exam["exam"].clone(), exam["step"].clone()))
        .collect();
    assert!(
        steps.contains(&("First midterm".into(), "relearn".into())),
        "{steps:?}"
    );

    let home = folder();
    fs::write(home.path().join("a.porism"), NOTES).expect("a file");
    let said = output(&porism(home.path(), &["next"]));
    assert_eq!(
        said,
        "First midterm of Waves, 2027-02-26 10:00, in 11 days\n  Revision begins in 4 days, 2027-02-19\n\n\
         An estimate, not a promise. Your course's own rules on materials and\n\
         collaboration come first.\n"
    );
    let none = porism(home.path(), &["next", "--exam", "Finale"]);
    assert_eq!(none.status.code(), Some(2));
    assert!(errors(&none).contains("No exam is called Finale"));
}

#[test]
fn a_calendar_brings_its_exams_once() {
    let home = folder();
    fs::write(home.path().join("a.porism"), NOTES).expect("a file");
    let event = "BEGIN:VEVENT\r\nUID:x@y\r\nSUMMARY:Final exam\r\nDTSTART;TZID=Europe/Berlin:20270420T090000\r\n\
                 DTEND;TZID=Europe/Berlin:20270420T110000\r\nEND:VEVENT\r\n";
    let other = event
        .replace("Final exam", "Office hour")
        .replace("x@y", "z");
    let calendar = format!("BEGIN:VCALENDAR\r\n{event}{other}END:VCALENDAR\r\n");
    fs::write(home.path().join("term.ics"), calendar).expect("a file");
    let dates = ["dates", "term.ics", "--zone", "Europe/London"];
    let out = porism(home.path(), &dates);
    assert_eq!(out.status.code(), Some(0), "{}", errors(&out));
    let said = output(&out);
    assert!(
        said.starts_with("added 2027-04-20 08:00  Final exam\n1 exam added"),
        "{said}"
    );
    assert!(said.contains("1 event passed over"), "{said}");
    let notes = fs::read_to_string(home.path().join("a.porism")).expect("readable");
    let block =
        "\n\n@exam Final exam\n  on: 2027-04-20 08:00\n  length: 2 h\n  uid: x@y\n\n@topic 1.1";
    assert!(notes.contains(block), "{notes}");
    let again = output(&porism(home.path(), &dates));
    assert!(
        again.starts_with("0 exams added, 1 known already"),
        "{again}"
    );

    fs::write(home.path().join("term.ics"), "bread").expect("a file");
    let none = porism(home.path(), &dates);
    assert_eq!(none.status.code(), Some(2));
    assert!(
        errors(&none).contains("term.ics: holds no calendar"),
        "{}",
        errors(&none)
    );
}

#[test]
fn a_calendar_of_ten_megabytes_is_read() {
    let home = folder();
    fs::write(home.path().join("a.porism"), NOTES).expect("a file");
    let bomb = "BEGIN:VEVENT\rUID:b\rSUMMARY:Test\rDTSTART:20270301T090000Z\rRRULE:FREQ=DAILY\rEND:VEVENT\r";
    let long = format!(
        "BEGIN:VEVENT\rSUMMARY:{}\rEND:VEVENT\r",
        "x".repeat(5 << 20)
    );
    let calendar = format!(
        "BEGIN:VCALENDAR\r{}{long}END:VCALENDAR\r",
        bomb.repeat(80_000)
    );
    assert!(calendar.len() > 10 << 20);
    fs::write(home.path().join("term.ics"), calendar).expect("a file");
    let out = porism(home.path(), &["dates", "term.ics"]);
    assert_eq!(out.status.code(), Some(0), "{}", errors(&out));
    assert!(output(&out).contains("100 exams added"), "{}", output(&out));
}
