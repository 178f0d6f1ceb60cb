"""The words that the editors colour are those of the format's reference page."""

import json
import re

from conftest import ROOT

PAGE = (ROOT / "grammar" / "FORMAT.md").read_text(encoding="utf-8")
KINDS = set(re.findall(r"^### `@([a-z]+)`$", PAGE, re.M))
KEYS = set(re.findall(r"^\| `([a-z ]+)`(?: \(\*repeats\*\))? \|", PAGE, re.M))
VIM = (ROOT / "editors/neovim/syntax/porism.vim").read_text(encoding="utf-8")
LISP = (ROOT / "editors/emacs/porism-mode.el").read_text(encoding="utf-8")
TEXTMATE = json.loads((ROOT / "editors/vscode/syntaxes/porism.tmLanguage.json").read_text("utf-8"))


def vim_words(group: str) -> set[str]:
    """The alternatives in the pattern of a group."""
    pattern = re.search(rf"^syntax match {group}\n.*?%\((.*?)\\\)[:\\]", VIM, re.M).group(1)
    return set(pattern.split("\\|"))


def lisp_words(name: str) -> set[str]:
    """The strings in the list that a constant holds."""
    words = re.search(rf"\(defconst {name}\s+'\(([^)]*)\)", LISP).group(1)
    return set(re.findall(r'"([^"]*)"', words))


def textmate_words(rule: str, lead: str) -> set[str]:
    """The alternatives behind `lead` in the pattern that begins a rule."""
    pattern = TEXTMATE["repository"][rule]["begin"]
    assert pattern.startswith(lead), pattern
    return set(pattern[len(lead) :].split(")")[0].split("|"))


def test_the_page_is_read():
    assert {"exam", "pattern", "question"} <= KINDS
    assert {"tried", "reduces to", "recorded"} <= KEYS


def test_neovim():
    assert vim_words("porismHeader") == KINDS
    assert vim_words("porismKey") == KEYS
    assert vim_words("porismRecordKey") <= KEYS


def test_emacs():
    assert lisp_words("porism-kinds") == KINDS
    assert lisp_words("porism-keys") == KEYS


def test_visual_studio_code():
    assert textmate_words("header", "^(@)(") == KINDS
    assert textmate_words("field", r"^\s+(") == KEYS
    assert textmate_words("record", r"^\s+(") <= KEYS
