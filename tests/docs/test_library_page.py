"""docs/library.md is a session that runs; docs/api.md is generated from the public names."""

from __future__ import annotations

import doctest
from pathlib import Path

import regen
from tests.docs import api_page

DOCS = Path(__file__).parents[2] / "docs"


def test_the_session_runs_as_it_is_printed(tmp_path, monkeypatch):
    (tmp_path / "cases").symlink_to(DOCS.parent / "cases")
    monkeypatch.chdir(tmp_path)
    flags = doctest.ELLIPSIS | doctest.IGNORE_EXCEPTION_DETAIL
    failed, tried = doctest.testfile(str(DOCS / "library.md"), False, optionflags=flags)
    assert tried > 30
    assert failed == 0


def test_the_page_of_names_is_fresh():
    assert api_page.PAGE.read_text(encoding="utf-8") == api_page.text()


def test_every_public_name_is_there_and_described():
    page = api_page.text()
    for name in regen.__all__:
        assert f"`regen.{name}" in page
        assert getattr(regen, name).__doc__
