//! The student's clock.

use std::sync::OnceLock;
use std::time::Instant;

use chrono::{Local, NaiveDateTime};

/// The instant now, local to the student. `PORISM_NOW` (`2027-02-26 10:00`, with seconds perhaps)
/// takes the place of the instant at which the program starts, to rehearse another day.
pub(crate) fn now() -> NaiveDateTime {
    static REHEARSED: OnceLock<Option<(NaiveDateTime, Instant)>> = OnceLock::new();
    let rehearsed = REHEARSED.get_or_init(|| {
        let text = std::env::var("PORISM_NOW").ok()?;
        Some((read(&text)?, Instant::now()))
    });
    match rehearsed {
        Some((start, since)) => *start + since.elapsed(),
        None => Local::now().naive_local(),
    }
}

fn read(text: &str) -> Option<NaiveDateTime> {
    let text = text.trim();
    NaiveDateTime::parse_from_str(text, "%Y-%m-%d %H:%M")
        .or_else(|_| NaiveDateTime::parse_from_str(text, "%Y-%m-%d %H:%M:%S"))
        .ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_instant_is_a_date_and_a_time() {
        assert_eq!(
            read("2027-02-26 10:00").unwrap().to_string(),
            "2027-02-26 10:00:00"
        );
        assert_eq!(
            read("2027-02-26 10:00:57").unwrap().to_string(),
            "2027-02-26 10:00:57"
        );
        assert_eq!(read("2027-02-30 10:00"), None);
    }
}
