//! The student's clock.

use chrono::{Local, NaiveDateTime};

/// The instant now, local to the student. `PORISM_NOW` (`2027-02-26 10:00`) takes the clock's
/// place, to rehearse another day.
pub(crate) fn now() -> NaiveDateTime {
    let rehearsed = std::env::var("PORISM_NOW").ok();
    rehearsed
        .and_then(|text| read(&text))
        .unwrap_or_else(|| Local::now().naive_local())
}

fn read(text: &str) -> Option<NaiveDateTime> {
    NaiveDateTime::parse_from_str(text.trim(), "%Y-%m-%d %H:%M").ok()
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
        assert_eq!(read("2027-02-30 10:00"), None);
    }
}
