"""Pages for the terminal."""

import io

from evenhand.paper.terminal import Facts, Page, Table, plain, printable, show


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


_PAGE = Page(
    "take.mid",
    [
        Facts("found", ["3 hits", "and more"]),
        Table("list", ["what", "ms"], [["a", "1.5"]], ["what"]),
    ],
)


def test_plain_text_in_a_pipe() -> None:
    assert plain(_PAGE) == (
        "take.mid\n"
        "  found     3 hits\n"
        "            and more\n"
        "  list      what   ms\n"
        "            a     1.5\n"
    )
    stream = io.StringIO()
    show(_PAGE, stream)
    assert stream.getvalue() == plain(_PAGE)


def test_same_words_on_a_terminal() -> None:
    stream = _Terminal()
    show(_PAGE, stream)
    for word in plain(_PAGE).split():
        assert word in stream.getvalue()
    assert "\x1b[" in stream.getvalue()


def test_names_cannot_steer_the_terminal() -> None:
    hostile = "\x1b[2Jtake\r\n[red]x[/red]\u202e"
    assert printable(hostile) == "\\x1b[2Jtake\\r\\n[red]x[/red]\\u202e"
    stream = _Terminal()
    show(Page(hostile, [Facts(hostile, [hostile]), Table("", ["a"], [[hostile]])]), stream)
    assert "\x1b[2J" not in stream.getvalue()
    assert "[red]" in stream.getvalue()
