"""What templates show is escaped as MarkupSafe escapes it; what they call answers as by Jinja itself."""

from __future__ import annotations

from enum import StrEnum

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jinja2 import Environment, StrictUndefined, UndefinedError
from markupsafe import Markup, escape

from lightoff.texts import Speaker
from lightoff.web.compiled import Templates, written
from lightoff.web.page import environment, voice

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


CALLED = (
    "{% macro row(x, y='&') %}<b>{{ x }}{{ y }}{{ caller() if caller else '' }}</b>{% endmacro %}"
    "{% block b scoped %}{{ row(a) }}{% for each in [a, '>'] %}{{ row(each, y=f(each)) }}{% endfor %}"
    "{% call row(a) %}{{ f(a) }}<i>{% endcall %}{% endblock %}{{ self.b() }}"
)


@given(st.one_of(st.text(), st.text().map(Markup), st.integers()))
def test_what_a_template_calls_answers_as_it_would_by_the_usual_context(value: object) -> None:
    ours, usual = (kind(autoescape=True).from_string(CALLED) for kind in (Templates, Environment))
    told = {"a": value, "f": lambda each: f"<{each}>"}
    assert ours.render(told) == usual.render(told)


def test_nothing_that_templates_call_asks_for_their_context() -> None:
    made = environment()
    called = [*made.globals.values(), *voice(Speaker()).values()]
    assert [each for each in called if getattr(each, "jinja_pass_arg", None)] == []
    assert made.loader is not None
    for name in made.list_templates(extensions=["html"]):
        assert "autoescape false" not in made.loader.get_source(made, name)[0], name
