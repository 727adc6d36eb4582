"""The line of every key, for messages: found in any layout that TOML 1.0.0 allows."""

from __future__ import annotations

import random
import tomllib

import pytest

from padwright.core.base.errors import InputError
from padwright.core.job.toml_lines import locate_keys, parse_toml, show_path

NASTY = '''\
# [not.a] = "table"
schema = 1 # comment with [ and "
title = "a # b \\" ] = {"
raw = 'C:\\dir\\'   # a literal string ends here
long = """
[fake]
fake = 1 \\""" still
"""
lit = \'\'\'
[[fake]]
it''s \'\'\'
ends = """two quotes""""" # five at the end
[base]
scan = "x"
"quoted key" = 1
a.b."c d" = 2
a.e = [ 1,
  [2, 3], # inner ]
  { x = 1, y = [4,
   5] },
]
[[base.list]]
name = "one"
[base.list.sub]
deep = 1
[[base.list]]
name = "two"
from = [0.1, 1979-05-27T07:32:00Z, inf]
[[base.list.inner]]
k = true
[[base.list.inner]]
k = false
[other . spaced]
z = 07:32:00
'''


def every_path(value, path=()):
    """Walk what the standard reader found: (path, value)."""
    if path:
        yield path, value
    if isinstance(value, dict):
        for name, item in value.items():
            yield from every_path(item, (*path, name))
    if isinstance(value, list):
        for index, item in enumerate(value):
            yield from every_path(item, (*path, index))


def test_every_key_of_a_nasty_file_is_found_on_the_line_that_holds_it():
    found = locate_keys(NASTY)
    lines = NASTY.splitlines()
    paths = dict(every_path(tomllib.loads(NASTY)))
    assert set(paths) == set(found)
    for path in paths:
        named = [part for part in path if isinstance(part, str)][-1]
        if isinstance(path[-1], str):
            assert named in lines[found[path] - 1], path


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("ends",), 12),
        (("base", "a", "b", "c d"), 16),
        (("base", "a", "e", 1), 18),
        (("base", "a", "e", 2, "y", 1), 20),
        (("base", "list", 0, "sub", "deep"), 25),
        (("base", "list", 1), 26),
        (("base", "list", 1, "from", 2), 28),
        (("base", "list", 1, "inner", 1, "k"), 32),
        (("other", "spaced", "z"), 34),
    ],
)
def test_lines_counted_by_hand(path, line):
    assert locate_keys(NASTY)[path] == line


def test_windows_line_ends_do_not_change_the_lines():
    assert locate_keys(NASTY.replace("\n", "\r\n")) == locate_keys(NASTY)


def test_byte_order_mark_is_taken_off():
    assert parse_toml(b"\xef\xbb\xbfschema = 1\n", "j")[0] == {"schema": 1}


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"a = 1\nb = \n", r"^j\.toml:2, column 5: this is not valid TOML: Invalid value"),
        (b"a = 1\na = 2\n", r"^j\.toml:2: the key a stands twice"),
        (b"a = 'open", r"^j\.toml:1: "),
        (b"a = 1\nb = '\xff'\n", r"^j\.toml:2: the text is not UTF-8"),
        (b"a = " + b"[" * 5000, r"^j\.toml: lists are nested too deeply"),
    ],
)
def test_what_is_no_toml_is_refused_with_its_place(data, says):
    with pytest.raises(InputError, match=says):
        parse_toml(data, "j.toml")


def test_paths_are_shown_as_a_person_counts():
    assert show_path(("base", "check_lengths", 1, "from", 0)) == "base.check_lengths[2].from[1]"


def test_whatever_the_text_it_is_refused_or_every_key_is_found():
    """400 texts spoilt at random places: no other error, and lines for the very keys that the standard reader finds."""
    rng = random.Random(5)
    pieces = ["[", "[[", "]", "{", "}", '"', "'", '"""', "'''", "\\", "#", "=", ".", ",", "\n", "nan", "1", "é", "\x00"]
    taken = 0
    for _ in range(400):
        text = NASTY
        for _ in range(rng.randint(1, 2)):
            at = rng.randrange(len(text))
            text = text[:at] + rng.choice(pieces) + text[at + rng.choice([0, 1, 1, 5]) :]
        try:
            tables, found = parse_toml(text.encode(), "j.toml")
        except InputError:
            continue
        taken += 1
        assert {path for path, _ in every_path(tables)} == set(found)
    assert taken > 40
