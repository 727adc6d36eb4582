"""The blank words map: every key commented out, with what it means; the only map that ships."""

from __future__ import annotations

from ...job.keys import Key, expected, keys_of
from ...job.toml_values import toml_value
from .setting_words import SETTING_KINDS, STRUCTURE_WORDS
from .words_map import AlwaysLine, SettingNames, StructureNames

_HEAD = """\
# Words map: what your own print program calls the settings of a region, and in which units it wants them.
# Write it once. Then name it in a job ([output] settings_map = "words.toml"): print sheet and report use your words.
#     python -m padwright map PAD-1.settings.json --words words.toml
# prints the lines of a part that is made already.
# Lines that begin with "# [" or "# key =" are examples: take the "# " away and write your own. What you leave out
# keeps plain words. Settings are told in the order in which they stand here: move them as your program has them."""

_KEYS_OF_NUMBERS = ("name", "unit")
_KEYS_OF_WORDS = ("name",)
"""Those with an example in each table; the others are told once, at the head."""


def blank_map() -> str:
    """Return the text of the blank words map."""
    keys = keys_of(SettingNames)
    lines = [_HEAD, "", '# program = "..."  # what you call it', "", "# In each table there may be:"]
    for name, (_, described, _) in keys.items():
        if described.table is None:
            lines.append(f"#   {name}: {described.about}; {_wanted(name, described)}.")
    for setting, kind in SETTING_KINDS.items():
        ours = f"; ours is in {kind.unit}" if kind.unit else ""
        lines += ["", f"# {kind.about[:1].upper()}{kind.about[1:]}{ours}.", f"# [{setting}]"]
        for name in _KEYS_OF_NUMBERS if kind.units else _KEYS_OF_WORDS:
            lines.append(f"# {name} = {_sample(name, setting)}{_choices(name, setting)}")
        if setting == "fill_structure":
            lines += ["# [fill_structure.values]"]
            structures = keys_of(StructureNames)
            lines += [f'# {each} = "{STRUCTURE_WORDS[each]}"  # {structures[each][1].about}' for each in structures]
    lines += ["", "# Lines of your own, on every sheet; as many as you like.", "# [[always]]"]
    lines += [f'# {name} = "..."  # {described.about}' for name, (_, described, _) in keys_of(AlwaysLine).items()]
    return "\n".join(lines) + "\n"


def _wanted(name: str, described: Key) -> str:
    return "in quotes, one of those in its table" if name == "unit" else expected(described)


def _sample(name: str, setting: str) -> str:
    kind = SETTING_KINDS[setting]
    return toml_value(kind.name if name == "name" else kind.unit)


def _choices(name: str, setting: str) -> str:
    units = SETTING_KINDS[setting].units
    return f"  # {' or '.join(toml_value(each) for each in units)}" if name == "unit" else ""
