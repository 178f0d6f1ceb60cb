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
