"""Every declared vocabulary, found by looking; and lists of its words that stand anywhere else."""

from __future__ import annotations

import ast
import importlib
import pkgutil
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import models.trade.vocabulary as package
from models.trade.vocabulary.terms import Vocabulary

ROOT = Path(__file__).parent.parent
_PREFIX = f"{package.__name__}."
FEW = 3
"""So many words of one vocabulary beside each other are a list of it."""


def declared() -> dict[str, Vocabulary[Any, Any]]:
    """Every vocabulary by the name that it is declared under."""
    modules = (importlib.import_module(one.name) for one in pkgutil.iter_modules(package.__path__, _PREFIX))
    return {name: value for one in modules for name, value in vars(one).items() if isinstance(value, Vocabulary)}


def listed_in(source: str) -> Iterator[tuple[int, list[str]]]:
    """Where a module lists constant words, by line: the elements of a display, the first of each pair, a dict's keys.

    Words beside which something is worked out are no list, but say what is done for each.
    """
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Dict):
            if all(_constant(value) for value in node.values):
                yield node.lineno, [word for key in node.keys if key is not None for word in _words(key)]
        elif isinstance(node, (ast.Tuple, ast.List, ast.Set)):
            yield node.lineno, [word for element in node.elts for word in _words(element)]


def _words(node: ast.expr) -> list[str]:
    if isinstance(node, (ast.Tuple, ast.List)) and node.elts and all(_constant(each) for each in node.elts):
        node = node.elts[0]
    return [node.value] if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value else []


def _constant(node: ast.expr) -> bool:
    """Whether this is a plain word or figure, or several of which one is a word."""
    if isinstance(node, (ast.Tuple, ast.List, ast.Set)):
        return any(isinstance(each, ast.Constant) and isinstance(each.value, str) for each in node.elts)
    return isinstance(node, ast.Constant)


_DISPLAY = re.compile(r"[\[({]((?:[^\[\](){}]|\([^()]*\))*)[\])}]")
_PAIR = re.compile(r'\(\s*"([^"]*)"\s*,[^()]*\)|"([^"]*)"\s*:\s*"[^"]*"')
_QUOTED = re.compile(r'"([^"]+)"\s*(?=[,:\])}]|$)')


def listed_in_template(source: str) -> Iterator[tuple[int, list[str]]]:
    """The same of a template: what stands quoted within one pair of brackets."""
    for found in _DISPLAY.finditer(source):
        # Of a pair of a word and what it is called, the word.
        yield source.count("\n", 0, found.start()) + 1, _QUOTED.findall(_PAIR.sub(r'"\1\2"', found.group(1)))


def copies(words: list[str], known: dict[str, Vocabulary[Any, Any]]) -> list[str]:
    """The names of the vocabularies that these words list: three or more of its words, and next to no others."""
    own = list(dict.fromkeys(words))
    found = []
    for name, vocabulary in known.items():
        of_it = [word for word in own if word in vocabulary]
        if len(of_it) >= FEW and len(own) - len(of_it) <= 1:
            found.append(name)
    return found
