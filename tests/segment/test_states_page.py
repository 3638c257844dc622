"""The handbook's page of states and the table that runs are one."""

from tests.segment.states_page import PAGE, page


def test_the_page_is_made_from_the_table() -> None:
    """docs/segment-states.md is what the table gives now (remake: python -m tests.segment.states_page)."""
    assert PAGE.read_text(encoding="utf-8") == page()
