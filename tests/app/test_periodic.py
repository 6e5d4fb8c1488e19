"""Parts drawn again by themselves: each alone in its place, so that none lands on its neighbour."""

import ast
from pathlib import Path

from streamlit.testing.v1 import AppTest

import visualiser

PACKAGE = Path(visualiser.__file__).parent


def page():
    import streamlit as st

    from visualiser.app.periodic import every

    @every(2.0)
    def clock(words: str) -> None:
        st.caption(words)

    st.title("Before")
    clock("one")
    st.button("Between")
    clock("two")
    st.text("After")


def test_a_part_has_no_neighbour():
    """A part that is dropped from its place moves nothing but what stands in that same place."""
    drawn = AppTest.from_function(page).run()
    top = drawn.main.children
    assert [top[i].type for i in (0, 2, 4)] == ["title", "button", "text"]
    for place, words in ((1, "one"), (3, "two")):
        alone = list(top[place].children.values())
        assert len(alone) == 1
        assert [part.value for part in alone[0].children.values()] == [words]


def test_no_part_is_drawn_without_a_place_of_its_own():
    asks = {
        path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Attribute) and node.attr == "fragment"
    }
    assert asks == {"app/periodic.py"}
