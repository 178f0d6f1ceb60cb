//! Many items at once: JSON Lines on standard input, one result line for each, in order.
//!
//! A line that cannot be used gets a result line that says why, so that the result lines always
//! match the input lines one to one. Each is written as soon as it is ready.

use std::io::{self, BufRead, ErrorKind, Read, Write};
use std::panic::{AssertUnwindSafe, catch_unwind};

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::{Failure, Outcome};

/// The longest line that is read, in bytes.
const LONGEST: usize = 1 << 20;

/// Answers each line of standard input on standard output. `answer` is given the item's `id` and
/// the item; `refuse`, the `id` as far as it can be told and the reason.
pub(crate) fn answer_lines<I: DeserializeOwned, O: Serialize>(
    answer: impl Fn(Value, I) -> O,
    refuse: impl Fn(Value, String) -> O,
) -> Result<Outcome, Failure> {
    answer_all(io::stdin().lock(), io::stdout().lock(), answer, refuse)
}

fn answer_all<I: DeserializeOwned, O: Serialize>(
    mut input: impl BufRead,
    mut output: impl Write,
    answer: impl Fn(Value, I) -> O,
    refuse: impl Fn(Value, String) -> O,
) -> Result<Outcome, Failure> {
    let mut line = Vec::new();
    while let Some(is_whole) = read_line(&mut input, &mut line)? {
        let result = match item(&line, is_whole) {
            Ok((id, item)) => {
                // A defect costs one line, not the rest of the collection.
                let answered = catch_unwind(AssertUnwindSafe(|| answer(id.clone(), item)));
                answered.unwrap_or_else(|_| {
                    refuse(id, "the program failed on this item: a defect".to_owned())
                })
            }
            Err((id, reason)) => refuse(id, reason),
        };
        let written = serde_json::to_writer(&mut output, &result)
            .map_err(io::Error::from)
            .and_then(|()| output.write_all(b"\n"))
            .and_then(|()| output.flush());
        match written {
            // Whoever reads has seen enough.
            Err(problem) if problem.kind() == ErrorKind::BrokenPipe => break,
            written => written?,
        }
    }
    Ok(Outcome::Clean)
}

/// Reads the next line, without its end; `None` behind the last one. Gives whether the line was
/// kept whole: what is too long is passed over.
fn read_line(input: &mut impl BufRead, line: &mut Vec<u8>) -> io::Result<Option<bool>> {
    line.clear();
    let limit = LONGEST as u64 + 1;
    if input.by_ref().take(limit).read_until(b'\n', line)? == 0 {
        return Ok(None);
    }
    if line.last() == Some(&b'\n') {
        line.pop();
        return Ok(Some(true));
    }
    if line.len() <= LONGEST {
        return Ok(Some(true));
    }
    // The rest of a line that is too long.
    loop {
        let buffer = input.fill_buf()?;
        if buffer.is_empty() {
            return Ok(Some(false));
        }
        match buffer.iter().position(|byte| *byte == b'\n') {
            Some(end) => {
                input.consume(end + 1);
                return Ok(Some(false));
            }
            None => {
                let length = buffer.len();
                input.consume(length);
            }
        }
    }
}

/// The item of a line with its `id`, or why there is none.
fn item<I: DeserializeOwned>(line: &[u8], is_whole: bool) -> Result<(Value, I), (Value, String)> {
    let refused = |id: Value, reason: String| Err((id, reason));
    if !is_whole {
        return refused(
            Value::Null,
            format!("the line is longer than {LONGEST} bytes"),
        );
    }
    let value: Value = match serde_json::from_slice(line) {
        Ok(value) => value,
        Err(problem) => return refused(Value::Null, format!("not a line of JSON: {problem}")),
    };
    let Value::Object(object) = &value else {
        return refused(Value::Null, "not a JSON object".to_owned());
    };
    let id = object.get("id").cloned().unwrap_or_default();
    match I::deserialize(&value) {
        Ok(item) => Ok((id, item)),
        Err(problem) => refused(id, problem.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde::Deserialize;
    use serde_json::json;

    #[derive(Deserialize)]
    struct Item {
        n: u32,
    }

    /// Doubles `n`; panics at 13.
    fn check(input: &[u8], expected: &[Value]) {
        let mut output = Vec::new();
        let answered = answer_all(
            input,
            &mut output,
            |id, item: Item| {
                assert_ne!(item.n, 13);
                json!({"id": id, "twice": 2 * item.n})
            },
            |id, reason| json!({"id": id, "reason": reason}),
        );
        assert_eq!(answered.unwrap(), Outcome::Clean);
        let text = String::from_utf8(output).unwrap();
        let lines: Vec<Value> = text
            .lines()
            .map(|line| serde_json::from_str(line).unwrap())
            .collect();
        assert_eq!(lines, expected);
    }

    #[test]
    fn each_line_has_its_answer() {
        check(
            b"{\"id\": \"a\", \"n\": 2, \"more\": []}\n{\"n\": 3, \"id\": 7}",
            &[json!({"id": "a", "twice": 4}), json!({"id": 7, "twice": 6})],
        );
        check(b"", &[]);
    }

    #[test]
    fn a_line_that_cannot_be_used_says_why() {
        let mut input = b"nonsense\n[]\n{\"id\": 1}\n\n{\"id\": 2, \"n\": \"x\"}\n".to_vec();
        input.extend(b"\xff\xfe\n{\"id\": 3, \"n\": 13}\n{\"id\": 4, \"n\": 1}\n");
        let mut output = Vec::new();
        let hook = std::panic::take_hook();
        std::panic::set_hook(Box::new(|_| {}));
        let answered = answer_all(
            &input[..],
            &mut output,
            |id, item: Item| {
                assert_ne!(item.n, 13);
                json!({"id": id})
            },
            |id, reason| json!({"id": id, "reason": reason}),
        );
        std::panic::set_hook(hook);
        answered.unwrap();
        let text = String::from_utf8(output).unwrap();
        let ids: Vec<(Value, bool)> = text
            .lines()
            .map(|line| {
                let value: Value = serde_json::from_str(line).unwrap();
                (value["id"].clone(), value["reason"].is_string())
            })
            .collect();
        let expected = [
            (Value::Null, true),
            (Value::Null, true),
            (json!(1), true),
            (Value::Null, true),
            (json!(2), true),
            (Value::Null, true),
            (json!(3), true),
            (json!(4), false),
        ];
        assert_eq!(ids, expected, "{text}");
    }

    #[test]
    fn a_line_that_is_too_long_is_passed_over() {
        let mut input = vec![b'x'; 3 * LONGEST];
        input.extend(b"\n{\"n\": 1}\n");
        check(
            &input,
            &[
                json!({"id": null, "reason": "the line is longer than 1048576 bytes"}),
                json!({"id": null, "twice": 2}),
            ],
        );
    }
}
