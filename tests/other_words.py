"""What a file of words in another language lacks: ``python tests/other_words.py FILE`` prints nothing where it fits."""

import importlib.util
import inspect
import string
import sys
from pathlib import Path

#: The file that another language takes the place of.
OWN = Path(__file__).parents[1] / "counter" / "basics" / "words.py"


def loaded(path):
    """A file of words, by itself."""
    spec = importlib.util.spec_from_file_location("counter.basics.words", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def said_in(module):
    """The names and values of what a file of words says."""
    return {name: value for name, value in vars(module).items() if name.isupper()}


def lacking(other, own=OWN):
    """Tell what a file of words has otherwise than our own: names, kinds of values, keys, and what is filled in.

    Parameters
    ----------
    other, own : path

    Returns
    -------
    list of str
        A line for each; empty where one can take the place of the other.
    """
    others, owns = loaded(other), loaded(own)
    found = list(_apart("", said_in(others), said_in(owns)))
    for name, made in inspect.getmembers(owns, inspect.isfunction):
        there = getattr(others, name, None)
        if not inspect.isfunction(there):
            found.append(f"{name}() is missing")
        elif list(inspect.signature(there).parameters) != list(inspect.signature(made).parameters):
            found.append(f"{name}() takes other arguments")
    return found


def _apart(name, other, own):
    if type(other) is not type(own):
        yield f"{name}: {type(other).__name__} instead of {type(own).__name__}"
    elif isinstance(own, dict):
        for key in {**own, **other}:
            place = f"{name}[{key!r}]" if name else key
            if key in own and key in other:
                yield from _apart(place, other[key], own[key])
            else:
                yield f"{place} is {'missing' if key in own else 'not known'}"
    elif isinstance(own, tuple):
        if len(other) != len(own):
            yield f"{name}: {len(other)} instead of {len(own)}"
        for index, (one, two) in enumerate(zip(other, own, strict=False)):
            yield from _apart(f"{name}[{index}]", one, two)
    elif isinstance(own, str):
        try:
            if (there := _filled(other)) != (here := _filled(own)):
                yield f"{name}: fills in {sorted(there)} instead of {sorted(here)}"
        except ValueError as error:
            yield f"{name}: {error}"


def _filled(text):
    """Names of what is filled in."""
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}


if __name__ == "__main__":
    print("\n".join(lacking(sys.argv[1])), end="")
