//! Checks of the notebook.
