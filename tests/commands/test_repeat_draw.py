"""``manage.py repeat-draw``: anybody repeats a draw, with no register at hand."""

import importlib

import pytest

Command = importlib.import_module("registry.management.commands.repeat-draw").Command


@pytest.fixture
def repeat(capsys):
    """Run the command as from a terminal: (exit code, standard output, error)."""

    def run(*arguments):
        code = 0
        try:
            Command().run_from_argv(["manage.py", "repeat-draw", *arguments])
        except SystemExit as stop:
            code = stop.code
        out, err = capsys.readouterr()
        return code, out, err

    return run


def drawn(out):
    return [int(line.rsplit(" ", 1)[1]) for line in out.splitlines()[1:]]


@pytest.mark.parametrize(
    "seed",
    [
        "9319 / 2 5 12 8 10 / 9 18 26 34 41 45",
        "9319./2.5.8.10.12./9.18.26.34.41.45./",
    ],
)
def test_the_example_of_the_rfc_from_the_terminal(repeat, seed):
    # RFC 3797, section 6, as quoted by programs that test themselves against it.
    code, out, err = repeat("--seed", seed, "--population", "25", "--count", "11")
    assert (code, err) == (0, "")
    assert out.splitlines()[0] == "Key: 9319./2.5.8.10.12./9.18.26.34.41.45./"
    assert drawn(out) == [17, 7, 2, 16, 25, 23, 8, 24, 19, 13, 22]


@pytest.mark.parametrize(
    ("seed", "population", "count", "words"),
    [
        ("soon", "25", "3", "Enter the public numbers"),
        ("1 2 3", "25", "26", "no more than there are"),
        ("1 2 3", "many", "2", "invalid int value"),
    ],
)
def test_what_cannot_be_drawn_ends_in_one_line(repeat, seed, population, count, words):
    code, out, err = repeat(
        "--seed", seed, "--population", population, "--count", count
    )
    assert (code, out) == (2, "")
    assert words in err
    assert len(err.splitlines()) == 1
