//! What blocks call each other by: names, and the labels of topics.

use std::fmt;

/// A name as it is compared: lower case, single spaces. Two names that differ in case or spacing
/// only are the same name.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NameKey(Box<str>);

impl NameKey {
    /// The key of a name as it was typed.
    pub fn new(typed: &str) -> Self {
        let mut key = String::with_capacity(typed.len());
        for word in typed.split_whitespace() {
            if !key.is_empty() {
                key.push(' ');
            }
            key.extend(word.chars().flat_map(char::to_lowercase));
        }
        Self(key.into())
    }

    /// The key as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Whether the name is empty.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl fmt::Display for NameKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A topic's leading number, as `1.4`: whole numbers separated by full stops. Labels sort by
/// number, so that 1.10 follows 1.9.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Label(Vec<u32>);

impl Label {
    /// Reads a whole label; `None` for anything else. A trailing full stop is allowed, as in
    /// `2. Systems`.
    pub fn read(text: &str) -> Option<Self> {
        let text = text.strip_suffix('.').unwrap_or(text);
        let parts: Option<Vec<u32>> = text
            .split('.')
            .map(|part| {
                let digits = !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
                digits.then(|| part.parse().ok()).flatten()
            })
            .collect();
        parts.map(Self)
    }

    /// Splits a topic's title into its label and the rest.
    pub fn split(title: &str) -> (Option<Self>, &str) {
        let title = title.trim();
        let end = title.find(char::is_whitespace).unwrap_or(title.len());
        match Self::read(&title[..end]) {
            Some(label) => (Some(label), title[end..].trim_start()),
            None => (None, title),
        }
    }

    /// Whether `other` is this label or one below it: 1.4 holds 1.4.2.
    pub fn holds(&self, other: &Self) -> bool {
        other.0.starts_with(&self.0)
    }

    /// Whether `other` lies in the range from `self` to `last`, both included with all that is
    /// below them.
    pub fn range_holds(&self, last: &Self, other: &Self) -> bool {
        self <= other && (other < last || last.holds(other))
    }
}

impl fmt::Display for Label {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, part) in self.0.iter().enumerate() {
            if i > 0 {
                f.write_str(".")?;
            }
            write!(f, "{part}")?;
        }
        Ok(())
    }
}

/// The candidate nearest to `typed`, if one is near enough to be a slip of the fingers: at most
/// one edit for each three letters. Distance is optimal string alignment (insert, delete,
/// replace, swap of neighbours; Damerau 1964), ties go to the first candidate.
pub fn nearest<'a>(typed: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let limit = (typed.chars().count() / 3).clamp(1, 4);
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        let limit = best.map_or(limit, |(d, _)| d.saturating_sub(1));
        if let Some(distance) = distance_within(typed, candidate, limit)
            && distance > 0
        {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// The edit distance if it is at most `limit`.
fn distance_within(a: &str, b: &str, limit: usize) -> Option<usize> {
    let a: Vec<char> = a.chars().collect();
    let b: Vec<char> = b.chars().collect();
    // A name of any length may be typed; a long one is no slip of a short one.
    if a.len().abs_diff(b.len()) > limit || a.len().max(b.len()) > 200 {
        return None;
    }
    let width = b.len() + 1;
    let mut before: Vec<usize> = vec![0; width];
    let mut above: Vec<usize> = (0..width).collect();
    for i in 1..=a.len() {
        let mut row = vec![i; width];
        for j in 1..width {
            let same = usize::from(a[i - 1] != b[j - 1]);
            row[j] = (above[j] + 1).min(row[j - 1] + 1).min(above[j - 1] + same);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                row[j] = row[j].min(before[j - 2] + 1);
            }
        }
        before = std::mem::replace(&mut above, row);
    }
    (above[b.len()] <= limit).then_some(above[b.len()])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_match_whatever_the_case_and_spacing() {
        assert_eq!(
            NameKey::new("  Integrating   FACTOR "),
            NameKey::new("integrating factor")
        );
        assert_ne!(
            NameKey::new("integratingfactor"),
            NameKey::new("integrating factor")
        );
    }

    #[test]
    fn labels_sort_by_number() {
        let label = |text| Label::read(text).expect("a label");
        assert!(label("1.9") < label("1.10"));
        assert!(label("1") < label("1.1"));
        assert_eq!(Label::read("1.x"), None);
        assert_eq!(Label::read(""), None);
        assert_eq!(Label::read("1..2"), None);
    }

    #[test]
    fn ranges_hold_what_is_below_their_ends() {
        let label = |text| Label::read(text).expect("a label");
        let holds = |a, b, c| label(a).range_holds(&label(b), &label(c));
        assert!(holds("1.1", "1.5", "1.5.3"));
        assert!(holds("1.1", "1.5", "1.1"));
        assert!(!holds("1.1", "1.5", "1.6"));
        assert!(!holds("1.1", "1.5", "1"));
        assert!(holds("1", "2", "2.9"));
    }

    #[test]
    fn a_title_splits_into_label_and_name() {
        let (label, rest) = Label::split("1.4 First-order linear equations");
        assert_eq!(label.map(|l| l.to_string()).as_deref(), Some("1.4"));
        assert_eq!(rest, "First-order linear equations");
        assert_eq!(Label::split("Review"), (None, "Review"));
    }

    #[test]
    fn the_nearest_name_is_a_slip_away() {
        let names = ["separable", "integrating factor", "exact"];
        assert_eq!(nearest("seperable", names), Some("separable"));
        assert_eq!(
            nearest("intergating factor", names),
            Some("integrating factor")
        );
        assert_eq!(nearest("eigenvalues", names), None);
        assert_eq!(nearest("exact", names), None, "itself is no suggestion");
    }
}
