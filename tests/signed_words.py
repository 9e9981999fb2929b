"""Puts all that `counter/basics/words.py` says between signs, before anything else of the package is loaded.

As a plugin (``pytest -p signed_words``) it shows what a person would read in another language that does not stand in
that file: whatever stands outside of the signs.
"""

import re
import sys
from html import unescape

import pytest
from other_words import OWN, loaded, said_in

OPEN, CLOSE = "\u2039", "\u203a"
#: Fields of Streamlit's messages that no person reads.
UNREAD = frozenset(
    [
        "id",
        "form_id",
        "key",
        "css_key",
        "icon",
        "group_id",
        "element_id",
        "script_run_context",
        "url",
        "language",
        "theme",
        "upload_url_id",
        "layout",
        "autocomplete",
        "format",
        "device_type",
        "delta_path",
        "input_mode",
        "type",
        "value",
        "default",
        "set_value",
        "raw_value",
        "raw_values",
        "deferred_file_id",
    ]
)


def signed(value):
    """The same with signs round every text; keys stay."""
    if isinstance(value, str):
        return f"{OPEN}{value}{CLOSE}"
    if isinstance(value, tuple):
        return tuple(map(signed, value))
    return {key: signed(said) for key, said in value.items()}


@pytest.hookimpl(tryfirst=True)
def pytest_load_initial_conftests():
    """Have the package say everything between signs; it must not have been loaded yet."""
    assert not any(name.split(".")[0] == "counter" for name in sys.modules)
    words = loaded(OWN)
    for name, value in said_in(words).items():
        setattr(words, name, signed(value))
    sys.modules["counter.basics.words"] = words
    import counter.basics

    counter.basics.words = words


def outside(text):
    """What of a text stands outside of the signs.

    Raises
    ------
    AssertionError
        If a sentence was cut, so that signs lack.
    """
    depth, left = 0, []
    for sign in text:
        depth += (sign == OPEN) - (sign == CLOSE)
        assert depth >= 0, text
        left.append("" if depth or sign == CLOSE else sign)
    assert depth == 0, text
    return "".join(left)


def read_in_html(body):
    """What a person reads or hears of a piece of HTML."""
    if not body.lstrip().startswith("<") or body.lstrip().startswith("<style"):
        return []
    heard = re.findall(r'\b(?:alt|title|aria-label|placeholder)="([^"]*)"', body)
    return [unescape(text) for text in (*re.split(r"<[^>]*>", body), *heard)]


def texts_of(message):
    """All texts of one of Streamlit's messages that a person may read."""
    found = []
    for field, value in message.ListFields():
        if field.name in UNREAD:
            continue
        values = value if hasattr(value, "__len__") and not isinstance(value, str | bytes) else [value]
        for one in values:
            if isinstance(one, str):
                found += read_in_html(one) if field.name == "body" and message.DESCRIPTOR.name == "Html" else [one]
            elif hasattr(one, "ListFields"):
                found += texts_of(one)
    return found


def read_on(node):
    """All texts of a page, or of a part of it; what is typed or pasted is the person's own."""
    children = getattr(node, "children", None)
    proto = getattr(node, "proto", None)
    if getattr(node, "type", "") == "code":
        return []
    found = texts_of(proto) if hasattr(proto, "ListFields") else []
    for child in (children or {}).values():
        found += read_on(child)
    return found


def read_in_data(data):
    """All texts of what a component is told; pictures and names of fields are none."""
    if isinstance(data, dict):
        return [text for value in data.values() for text in read_in_data(value)]
    if isinstance(data, list | tuple):
        return [text for value in data for text in read_in_data(value)]
    return [data] if isinstance(data, str) and not data.startswith("data:") else []
