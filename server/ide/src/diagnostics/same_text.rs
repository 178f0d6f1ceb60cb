use super::check::check;

check! {
    /// A problem says word for word what an earlier one of the course says.
    ///
    /// The two are one problem. Its tries are spread over two blocks, and a mock test may ask it
    /// twice.
    ///
    /// ```porism
    /// @problem 2.1
    ///   pattern: characteristic equation
    ///   Solve $y'' + 5y' + 6y = 0$.
    ///
    /// @problem Sheet 4, 3
    ///   pattern: characteristic equation
    ///   Solve $y'' + 5y' + 6y = 0$.
    /// ```
    ///
    /// Keep one block, and say in its `from:` where it stands.
    SAME_TEXT = "same-text", Information | Hint
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn the_later_of_two_with_the_same_text_is_marked() {
        check(
            &SAME_TEXT,
            "
@problem 1
  Solve $y'' + 5y' + 6y = 0$.

@problem 2
  Solve $y'' + 7y' + 12y = 0$.
  tried: 2027-02-11 closed right

@problem 3
^^^^^^^^^^ hint: This says the same as 1, word for word. [notes.porism \"@problem 1\": the earlier one] (unnecessary)
  from: sheet 2
  Solve
    $y'' + 5y' + 6y = 0$.
",
        );
    }

    #[test]
    fn other_words_are_not_marked() {
        check(
            &SAME_TEXT,
            "@problem 1\n  Solve $y'' + 5y' + 6y = 0$.\n\n@problem 2\n  Solve $y'' + 5y' + 6y = 0$ today.\n",
        );
    }
}
