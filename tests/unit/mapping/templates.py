"""Every template of a sentence that the product can form, found in its code and its data."""

import ast
from collections.abc import Iterator
from pathlib import Path

import gateway
from gateway.analyse.words import Because, Change, Origin, Pattern, Sentence, Why
from gateway.mapping.dipping import DIPPING
from gateway.model import StatisticName
from gateway.model.hold import ADVICE, HoldReason
from gateway.settings.maps import load

PACKAGE = Path(gateway.__file__).parent
SAYING = ("Phrase", "say")
"""calls whose first argument is a template"""
LISTS = (Because, Change, Origin, Pattern, Sentence, Why)


def templates() -> frozenset[str]:
    """All of them; glue such as "{place}: {text}" with no word in it is the same in every language."""
    found = {member.value for closed in LISTS for member in closed}
    found |= {ADVICE[reason].sentence for reason in _doubts()} | {one.words for one in DIPPING}
    found |= {name.value.replace("-", " ") for name in StatisticName} | {"systolic", "diastolic", "heart rate"}
    found |= set(_of_data()) | set(_of_code())
    return frozenset(text for text in found if any(letter.isalpha() for letter in _without_gaps(text)))


def _without_gaps(text: str) -> str:
    while (start := text.find("{")) >= 0:
        text = text[:start] + text[text.index("}", start) + 1 :]
    return text


def _of_data() -> Iterator[str]:
    mappings = load(None)
    for guideline in mappings.guidelines.values():
        yield guideline.adequacy.whose
        if guideline.treatment_note:
            yield guideline.treatment_note
        for period in guideline.limits:
            yield from (grade.words for grade in period.grades)
    yield from (limits.title for limits in mappings.limits.values())


def _doubts() -> Iterator[HoldReason]:
    """Reasons that a released recording carries on as a caution: those of the rules of validation."""
    for folder in ("validate", "periods"):
        for path in (PACKAGE / folder).glob("*.py"):
            for node in ast.walk(ast.parse(path.read_text("utf-8"))):
                if isinstance(node, ast.Attribute) and getattr(node.value, "id", "") == "HoldReason":
                    yield HoldReason[node.attr]


def _of_code() -> Iterator[str]:
    for path in sorted(PACKAGE.rglob("*.py")):
        if path.name == "phrase.py" or path.parent.name == "report":
            continue  # the labels of the page have files of their own
        tree = ast.parse(path.read_text("utf-8"))
        for scope in ast.walk(tree):
            if isinstance(scope, ast.FunctionDef | ast.Module | ast.ClassDef):
                for call in _calls(scope):
                    yield from _texts(call.args[0], scope, tree)


def _calls(scope: ast.AST) -> Iterator[ast.Call]:
    for node in ast.walk(scope):
        if isinstance(node, ast.Call) and node.args:
            name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
            if name in SAYING:
                yield node


def _texts(node: ast.AST, scope: ast.AST, tree: ast.Module) -> Iterator[str]:
    """String constants that an argument may stand for: written there, in a variable, or in a table of the module."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from _texts(node.body, scope, tree)
        yield from _texts(node.orelse, scope, tree)
    elif isinstance(node, ast.Name | ast.Subscript):
        name = node.id if isinstance(node, ast.Name) else getattr(node.value, "id", "")
        for place in {scope, tree}:
            for assigned in ast.walk(place):
                if isinstance(assigned, ast.Assign) and name in _names(assigned):
                    yield from _constants(assigned.value)
                    if isinstance(assigned.value, ast.Subscript | ast.IfExp):
                        yield from _texts(assigned.value, tree, tree)


def _names(assigned: ast.Assign) -> set[str]:
    return {node.id for target in assigned.targets for node in ast.walk(target) if isinstance(node, ast.Name)}


def _constants(node: ast.AST) -> Iterator[str]:
    if isinstance(node, ast.Dict):
        for value in node.values:
            yield from _constants(value)
    elif isinstance(node, ast.Tuple | ast.List):
        for value in node.elts:
            yield from _constants(value)
    elif isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
