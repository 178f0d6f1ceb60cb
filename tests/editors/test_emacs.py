"""Emacs with Eglot in a terminal, driven by its own keys: from a note just typed to a recorded
paper."""

from __future__ import annotations

import fcntl
import json
import os
import pathlib
import pty
import shutil
import signal
import struct
import subprocess
import tempfile
import termios
import threading

import pytest

from conftest import ROOT, TODAY, needs, wait_until

SETUP = ROOT / "editors" / "emacs"


def quoted(text: str) -> str:
    """A string in Emacs Lisp."""
    return json.dumps(text, ensure_ascii=False)


class Emacs:
    """A running Emacs with the set-up of this project and nothing else."""

    def __init__(self, program: str, porism: str, folder: pathlib.Path, home: dict[str, str]):
        # Short, as the paths of sockets have to be, and for nobody else, or Emacs refuses it.
        self.sockets = tempfile.mkdtemp()
        self.home, self.socket = home, f"{self.sockets}/emacs"
        own = pathlib.Path(home["HOME"]) / ".emacs.d"
        own.mkdir()
        # Emacs would compile its own libraries first, for minutes.
        (own / "early-init.el").write_text(
            "(setq native-comp-deferred-compilation nil native-comp-jit-compilation nil)"
        )
        (own / "init.el").write_text(f"""
            (setq server-socket-dir {quoted(self.sockets)}
                  server-name "emacs"
                  inhibit-startup-screen t
                  auto-save-default nil
                  create-lockfiles nil)
            (require 'json)
            (require 'server)
            (server-start)
            ;; What README.md says.
            (add-to-list 'load-path {quoted(str(SETUP))})
            (require 'porism-mode)
            (add-hook 'porism-mode-hook #'eglot-ensure)
            (setq porism-program '({quoted(porism)} "serve" "--stdio"))
        """)
        # A process of its own with the terminal to itself.
        self.process, self.terminal = pty.fork()
        if self.process == 0:
            os.chdir(folder)
            os.execve(program, [program, "-nw"], home)
        fcntl.ioctl(self.terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 40, 120, 0, 0))
        # Emacs waits when nobody reads what it draws.
        threading.Thread(target=self._read, daemon=True).start()
        wait_until(lambda: self._try_lisp("t") == "t", "Emacs answers")

    def _read(self):
        try:
            while os.read(self.terminal, 65536):
                pass
        except OSError:
            pass

    def _client(self, code: str):
        client = shutil.which("emacsclient") or "emacsclient"
        argv = [client, "-s", self.socket, "--eval", code]
        return subprocess.run(argv, capture_output=True, text=True, env=self.home, timeout=60)

    def _try_lisp(self, code: str) -> str | None:
        out = self._client(code)
        return out.stdout.strip() if out.returncode == 0 else None

    def lisp(self, code: str):
        """The value of a form, by way of JSON, in the buffer that is shown."""
        form = f"""
            (with-current-buffer (window-buffer (selected-window))
              (let ((value {code}))
                (json-encode value)))
        """
        out = self._client(form)
        assert out.returncode == 0, out.stderr + out.stdout
        return json.loads(json.loads(out.stdout))

    def keys(self, keys: str):
        os.write(self.terminal, keys.encode())

    def command(self, name: str):
        self.keys(f"\x1bx{name}\r")

    def text(self, buffer: str | None = None) -> str:
        where = f"(get-file-buffer {quoted(buffer)})" if buffer else "(current-buffer)"
        return self.lisp(
            f"(with-current-buffer {where} (buffer-substring-no-properties (point-min) (point-max)))"
        )

    def file(self) -> str:
        return self.lisp("(or buffer-file-name \"\")")

    def open(self, path: pathlib.Path):
        self.keys(f"\x18\x06\x01\x0b{path}\r")
        wait_until(lambda: self.file() == str(path), f"{path.name} is shown")
        self.wait_for_server()

    def wait_for_server(self):
        wait_until(
            lambda: self.lisp("(and (featurep 'eglot) (eglot-managed-p) (eglot-current-server) t)"),
            "Eglot serves the buffer",
        )

    def findings(self) -> str:
        return self.lisp("(mapconcat #'flymake-diagnostic-text (flymake-diagnostics) \"\\n\")")

    def messages(self) -> str:
        return self.lisp(
            "(with-current-buffer (messages-buffer) (buffer-substring-no-properties 1 (point-max)))"
        )

    def close(self):
        os.kill(self.process, signal.SIGKILL)
        os.waitpid(self.process, 0)
        os.close(self.terminal)
        shutil.rmtree(self.sockets)


@pytest.fixture
def emacs(porism, notebook, home):
    program = needs("emacs", "Emacs with Eglot (Debian: apt-get install emacs-nox elpa-eglot)")
    editor = Emacs(program, porism, notebook, home)
    yield editor
    editor.close()


def test_a_note_just_typed_is_checked_and_mended(emacs, notebook):
    emacs.open(notebook / "new.porism")
    emacs.keys("@course Waves\r\r@problem 1.1.2\rpattern: seperable\rSolve $y' = 3 y$.")
    typed = "@course Waves\n\n@problem 1.1.2\n  pattern: seperable\n  Solve $y' = 3 y$."
    # The indentation comes from the mode.
    wait_until(lambda: emacs.text() == typed, "typed")
    wait_until(lambda: "seperable" in emacs.findings(), "the misspelt pattern is found")
    assert "separable" in emacs.findings()
    # M-<, to the word, and over it.
    emacs.keys("\x1b<\x13seperable\r\x1b\x7fseparable")
    wait_until(lambda: "pattern: separable" in emacs.text(), "mended")
    wait_until(lambda: "seperable" not in emacs.findings(), "the finding goes")
    # A header goes to column 0 wherever it is typed.
    emacs.keys("\x1b>\r@problem 1.1.3")
    wait_until(lambda: emacs.text().endswith("\n@problem 1.1.3"), "a second problem")


def test_hover_tells_about_a_pattern(emacs, notebook):
    emacs.open(notebook / "waves.porism")
    emacs.keys("\x1b<\x13pattern: sep\r")
    emacs.command("eldoc-doc-buffer")
    said = """
        (let ((buffer (seq-find (lambda (b) (string-match-p "eldoc" (buffer-name b))) (buffer-list))))
          (if buffer (with-current-buffer buffer (buffer-string)) ""))
    """
    wait_until(lambda: "divide by the factor with y" in emacs.lisp(said), "the hover")


def test_names_complete(emacs, notebook):
    emacs.open(notebook / "waves.porism")
    emacs.keys("\x1b>\r@problem 1.2.2\rpattern: int")
    wait_until(lambda: emacs.text().endswith("pattern: int"), "typed")
    emacs.command("completion-at-point")
    wait_until(
        lambda: emacs.text().splitlines()[-1] == "  pattern: integrating factor",
        "the only pattern that begins so is put in",
    )


def test_a_paper_is_drawn_marked_and_recorded_and_the_record_undone(emacs, notebook):
    notes = notebook / "waves.porism"
    emacs.open(notes)
    emacs.command("porism-draw-paper")

    wait_until(
        lambda: os.path.dirname(emacs.file()) == str(notebook / "papers"),
        "the paper is in the current window",
    )
    wait_until(lambda: "@paper First midterm, mock test 1" in emacs.text(), "the paper's text")
    paper = emacs.text()
    assert emacs.lisp("(symbol-name major-mode)") == "porism-mode"
    assert "@question 1" in paper and "@question 2" in paper
    assert "answer:" not in paper

    emacs.wait_for_server()
    emacs.keys("\x1b<\x1b\x13^  mark: $\rright\x1b\x13^  mark: $\rwrong")
    wait_until(lambda: "mark: right" in emacs.text() and "mark: wrong" in emacs.text(), "marks")
    emacs.keys("\x03\x01")
    wait_until(lambda: "answer: $y = 2 e^{x^2/2}$" in emacs.text(), "the answers are shown")
    emacs.keys("\x03\x12")
    tried = f"  tried: {TODAY} closed mock "
    wait_until(lambda: emacs.text(str(notes)).count(tried) == 2, "both marks are in the notes")
    assert tried + "right" in emacs.text(str(notes)) and tried + "wrong" in emacs.text(str(notes))
    wait_until(lambda: "  recorded: 2027-02-15" in emacs.text(), "the paper is stamped")

    # The paper can be saved; the record is not on disk until the notes are.
    emacs.keys("\x18\x13")
    wait_until(lambda: list((notebook / "papers").glob("*.porism")), "the paper is saved")
    wait_until(lambda: not emacs.lisp("(buffer-modified-p)"), "the paper is saved whole")
    assert tried not in notes.read_text()
    emacs.open(notes)
    emacs.keys("\x1f")
    wait_until(lambda: tried not in emacs.text(), "one undo takes the record back")


def test_a_sheet_is_drawn_and_recorded_and_another_problem_added(emacs, notebook):
    notes = notebook / "waves.porism"
    emacs.open(notes)
    # What it is about is asked for by name.
    emacs.keys("\x03\x14separable\t\r")
    wait_until(lambda: "drill-separable" in emacs.file(), "the sheet is in the current window")
    wait_until(lambda: emacs.text().count("@question") == 5, "the sheet's text")
    # The notes have one problem of the kind: it comes as it stands, and with other numbers.
    assert emacs.text().count("  seed: ") == 1 + 4, emacs.text()
    emacs.wait_for_server()
    # The kinds are mixed, so that the problem as it stands may be any of them.
    emacs.keys("\x1b<\x13y(0) = 2$\r\x1b\x13^  mine: $\r$y = 2 e^{x^2/2}$")
    wait_until(lambda: "  mine: $y = 2 e^{x^2/2}$" in emacs.text(), "the answer")
    emacs.keys("\x03\x01")
    wait_until(lambda: emacs.text().count("  answer: $") == 5, "every question has its key")
    # With a prefix, what is left counts as skipped.
    emacs.keys("\x15\x03\x12")
    tried = f"  tried: {TODAY} closed right"
    wait_until(lambda: tried in emacs.text(str(notes)), "the try")

    emacs.open(notes)
    emacs.keys("\x1b<\x13@problem 1.2.1\r\x03\x0e")
    wait_until(lambda: "  from: 1.2.1, with other numbers" in emacs.text(), "another problem")


def test_the_plan_is_shown_and_says_why_on_request(emacs, notebook):
    notes, plan = notebook / "waves.porism", notebook / "plan.porism"
    emacs.open(notes)
    # C-u C-c C-p, with reasons, and not relearning first.
    emacs.keys("\x15\x03\x10")
    emacs.keys("yn")
    wait_until(lambda: emacs.file() == str(plan), "the plan is in the window")
    wait_until(lambda: emacs.text().startswith("# Plan from 2027-02-15"), "the plan's text")
    blocks = emacs.text().count("    practise ") + emacs.text().count("    relearn ")
    assert blocks > 0 and emacs.text().count("; about ") == blocks
    emacs.keys("\x18\x13")
    wait_until(lambda: plan.exists() and not emacs.lisp("(buffer-modified-p)"), "the plan is saved")

    # Again, from the notes and without reasons: the same file is brought up to date.
    emacs.open(notes)
    emacs.command("porism-plan")
    wait_until(lambda: emacs.file() == str(plan), "the plan is in the window again")
    wait_until(lambda: "; about " not in emacs.text(), "without reasons")
    assert emacs.text().count("    practise ") + emacs.text().count("    relearn ") == blocks


def test_the_calendar_is_written(emacs, notebook):
    emacs.open(notebook / "waves.porism")
    emacs.command("porism-write-calendar")
    wait_until(lambda: (notebook / "porism.ics").exists(), "the calendar's file")
    wait_until(lambda: "porism.ics: 1 exam" in emacs.messages(), "what it holds")


def test_what_cannot_be_done_is_said(emacs, notebook):
    emacs.open(notebook / "waves.porism")
    emacs.keys("\x03\x12")
    wait_until(lambda: "holds no @paper" in emacs.messages(), "there is no paper in these notes")


# A line, and the faces of some of its words.
COLOURS = [
    ("@problem 1.1", {"@problem": "porism-kind", "1.1": "porism-title"}),
    ("@prolbem 1.1", {"@prolbem": None}),
    ("# Waves", {"Waves": "porism-title"}),
    ("  tried: 2027-02-15 closed wrong, right?", {
        "tried": "porism-key", "2027": "porism-date", "closed": "font-lock-type-face",
        "wrong": "porism-wrong", "right": None,
    }),
    ("  on: 2027-02-26 10:00", {"on": "porism-key", "10:00": "porism-date"}),
    ("  Note: nothing", {"Note": None}),
    (r"  Solve $\frac{a}{2}$ now % soon", {
        "Solve": None, r"\frac": "porism-tex-command", "{a}": "porism-math", "now": None,
        "soon": "font-lock-comment-face",
    }),
    ("costs $5 and $6 more, or $x$", {"$5": None, "and": None, "more": None, "x": "porism-math"}),
    ("$2 + 2$ is four", {"+": "porism-math", "four": None}),
    (r"\$5 and $a % b$ c", {r"\$": None, "and": None, "% b": "porism-math", " c": None}),
    ("% a comment", {"comment": "font-lock-comment-face"}),
    ("50% of it", {"of": None}),
]


def test_colours(tmp_path):
    program = needs("emacs", "Emacs with Eglot (Debian: apt-get install emacs-nox elpa-eglot)")
    lines = "(list " + " ".join(
        f"(list {quoted(line)} " + " ".join(quoted(word) for word in words) + ")"
        for line, words in COLOURS
    ) + ")"
    form = f"""
        (progn
          (require 'json)
          (princ (json-encode
            (mapcar (lambda (row)
                      (with-temp-buffer
                        (insert "@course Waves\\n" (car row))
                        (porism-mode)
                        (font-lock-ensure)
                        (vconcat (mapcar (lambda (word)
                                  (goto-char (point-min))
                                  (forward-line)
                                  (search-forward word)
                                  (let ((face (get-text-property (match-beginning 0) 'face)))
                                    (if (consp face) (car face) face)))
                                (cdr row)))))
                    {lines}))))
    """
    argv = [program, "-q", "--batch", "-L", str(SETUP), "-l", "porism-mode", "--eval", form]
    out = subprocess.run(argv, capture_output=True, text=True, check=True)
    for (line, words), found in zip(COLOURS, json.loads(out.stdout), strict=True):
        assert dict(zip(words, found, strict=True)) == words, line


def test_the_lisp_compiles_without_a_warning(tmp_path):
    program = needs("emacs", "Emacs with Eglot (Debian: apt-get install emacs-nox elpa-eglot)")
    for name in ("porism-mode.el", "porism-eglot.el"):
        shutil.copy(SETUP / name, tmp_path)
    for name in ("porism-mode.el", "porism-eglot.el"):
        argv = [program, "-q", "--batch", "-L", str(SETUP), "--eval"]
        argv += ["(setq byte-compile-error-on-warn t)", "-f", "batch-byte-compile", name]
        out = subprocess.run(argv, capture_output=True, text=True, cwd=tmp_path)
        assert out.returncode == 0, out.stderr
