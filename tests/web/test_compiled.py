"""What templates show is escaped as MarkupSafe escapes it, markup alone is left."""

from __future__ import annotations

from enum import StrEnum

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jinja2 import Environment, StrictUndefined, UndefinedError
from markupsafe import Markup, escape

from lightoff.web.compiled import Templates, written

SHOWN = (
    "{{ a }}{% macro row(x) %}<b>{{ x }}</b>{% endmacro %}{{ row(a) }}"
    "{% set held %}{{ a }}&{% endset %}{{ held }}"
    "{{ a ~ '<' }}{{ '<i>' | safe }}{{ a | upper }}{% for each in [a, '>'] %}{{ each }}{% endfor %}"
    "{% autoescape false %}{{ a }}{% endautoescape %}"
)


class Word(StrEnum):
    """A word with a letter that is escaped."""

    ODD = "<odd>"


def test_the_same_text_as_markup_and_as_text_are_told_apart() -> None:
    assert written("<b>") == "&lt;b&gt;"
    assert written(Markup("<b>")) == "<b>"
    assert written("<b>") == "&lt;b&gt;"


@given(st.one_of(st.text(), st.text().map(Markup), st.integers(), st.none(), st.sampled_from(Word)))
def test_it_escapes_as_markupsafe_does(value: object) -> None:
    assert written(value) == str(escape(value))


@given(st.one_of(st.text(), st.text().map(Markup), st.integers(), st.sampled_from(Word)))
def test_a_template_shows_what_it_would_by_the_usual_compiler(value: object) -> None:
    ours, usual = (kind(autoescape=True).from_string(SHOWN) for kind in (Templates, Environment))
    assert ours.render(a=value) == usual.render(a=value)


def test_what_is_not_there_is_told() -> None:
    with pytest.raises(UndefinedError):
        Templates(autoescape=True, undefined=StrictUndefined).from_string("{{ missing }}").render()
