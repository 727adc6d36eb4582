"""What is wrong with an HTML page: by an independent parser that follows the standard, and by rules of our own."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Collection, Iterator
from xml.etree.ElementTree import Element

import html5lib

_ROOM = ("src", "href", "srcset", "poster", "data", "action", "formaction", "xlink:href")
_LABELED = {"input", "select", "textarea", "meter", "progress"}


def page_faults(page: bytes, beside: Collection[str] = ()) -> list[str]:
    """Return all that is wrong with a page that is to stand alone, but for links to pages `beside` it.

    Parse errors (WHATWG HTML, 13.2.2), what asks for anything outside, what acts from within an attribute, and what
    leaves out who does not see.
    """
    text = page.decode("utf-8")
    parser = html5lib.HTMLParser(namespaceHTMLElements=False)
    root = parser.parse(text)
    found = [f"line {line}: {code} {data}" for (line, _), code, data in parser.errors]
    return found + list(_own_rules(root, text, beside))


def _own_rules(root: Element, text: str, beside: Collection[str]) -> Iterator[str]:
    elements = [each for each in root.iter() if isinstance(each.tag, str)]
    ids = Counter(each.get("id") for each in elements if each.get("id"))
    yield from (f"id {name} {count} times" for name, count in ids.items() if count > 1)
    labels = {each.get("for") for each in elements if each.tag == "label"}
    within = {id(inner) for label in elements if label.tag == "label" for inner in label.iter()}
    if root.get("lang") is None:
        yield "no language"
    if not (root.findtext("head/title") or "").strip():
        yield "no title"
    heads = [int(each.tag[1]) for each in elements if re.fullmatch("h[1-6]", each.tag)]
    if heads.count(1) != 1:
        yield f"{heads.count(1)} headings of the first rank"
    yield from (f"heading {b} below {a}" for a, b in itertools.pairwise(heads) if b > a + 1)
    head = root.find("head")
    in_head = [] if head is None else list(head)
    for each in elements:
        if each.tag == "img" and each.get("alt") is None:
            yield "a picture without words"
        if each.tag in ("button", "a") and not ("".join(each.itertext()).strip() or each.get("aria-label")):
            yield f"a {each.tag} without words"
        is_asked = each.tag in _LABELED and each.get("type") not in ("hidden", "submit", "button")
        if is_asked and id(each) not in within and each.get("id") not in labels and not each.get("aria-label"):
            yield f"{each.tag} without a label"
        if each.tag == "canvas" and not each.get("aria-label"):
            yield "a canvas without words"
        if each.tag in ("style", "link", "base", "meta") and each not in in_head:
            yield f"{each.tag} outside the head"
        for name, value in each.attrib.items():
            if name.startswith("on"):
                yield f"{each.tag} acts by {name}"
            is_link_beside = each.tag == "a" and name == "href" and value in beside
            if name in _ROOM and not is_link_beside and not value.startswith(("#", "data:image/png;base64,")):
                yield f"{each.tag} asks for {value[:60]}"
            if name == "href" and value.startswith("#") and value[1:] not in ids:
                yield f"a link to {value}, which is not there"
            if name in ("aria-labelledby", "aria-describedby"):
                yield from (f"{name} {one}, which is not there" for one in value.split() if one not in ids)
        if each.tag == "style" and re.search(r"url\(|@import", each.text or ""):
            yield "the style asks for more"
    if "<!DOCTYPE html>" not in text[:20]:
        yield "no doctype"
