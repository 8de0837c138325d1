"""Code files: every problem at once, and no code sent that nobody verified."""

import pytest

from gateway.errors import MappingError
from gateway.mapping.codes import gather

SYSTEM = b"""
id = "x"
system = "http://example.org/x"
title = "X"
licensed = %s

[[codes]]
code = "1"
display = "One"
standing = "verified"
citation = "seen there"

[[codes]]
code = "2"
display = "Two"
standing = "inferred"
citation = "guessed"
"""
CONCEPTS = b"""
[concepts.thing]
text = "A thing"
codings = ["x:1", "x:2"]
"""


def test_a_code_that_nobody_verified_is_left_out():
    codes = gather({"x.toml": SYSTEM % b"false", "concepts.toml": CONCEPTS})
    meaning = codes.meaning("thing", licensed=False)
    assert meaning.text == "A thing"
    assert [(coding.system, coding.code, coding.display) for coding in meaning.codings] == [
        ("http://example.org/x", "1", "One")
    ]
    assert set(codes.approved()) == {("http://example.org/x", "1")}
    with pytest.raises(KeyError):
        codes.coding("x:2")


def test_a_licensed_code_is_sent_only_with_a_licence():
    codes = gather({"x.toml": SYSTEM % b"true", "concepts.toml": CONCEPTS})
    assert codes.meaning("thing", licensed=False).codings == ()
    assert len(codes.meaning("thing", licensed=True).codings) == 1


def test_a_site_adds_codes_confirms_them_and_renames_concepts():
    site = b"""
id = "x"
system = "http://example.org/x"
title = "X"

[[codes]]
code = "2"
display = "Two"
standing = "verified"
citation = "seen by the site"
"""
    words = b'[concepts.thing]\ntext = "Our word"\ncodings = ["x:2"]\n'
    files = {"x.toml": SYSTEM % b"false", "concepts.toml": CONCEPTS, "site/x.toml": site, "site/concepts.toml": words}
    codes = gather(files)
    assert codes.meaning("thing", licensed=False).text == "Our word"
    assert codes.coding("x:2").display == "Two"
    assert codes.coding("x:1").display == "One"


def test_every_problem_is_said_at_once():
    bad_concepts = b'[concepts.thing]\ntext = "A thing"\ncodings = ["y:1", "x:9"]\n'
    with pytest.raises(MappingError) as caught:
        gather({"x.toml": SYSTEM % b"false", "y.toml": b"id = 3", "concepts.toml": bad_concepts})
    said = "\n".join(caught.value.problems)
    assert "y.toml: system: is missing" in said
    assert "'y:1'; did you mean 'x:1'?" in said
    assert "'x:9'" in said
