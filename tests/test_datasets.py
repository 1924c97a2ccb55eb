"""Data files that are missing or spoiled are met with one line that says what to do."""

from __future__ import annotations

import pytest

from course_lib.base import data_files as datasets
from course_lib.vehicle.uses import Uses


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """An empty place where the data files would be."""
    monkeypatch.setattr(datasets, "data_folder", lambda name="datasets": tmp_path)
    return tmp_path


def test_a_missing_data_file_is_named_with_what_to_do(folder):
    """The path, and how to get the file back."""
    with pytest.raises(
        FileNotFoundError, match=r"uses\.toml is missing\. Reinstall the course, or restore it"
    ) as caught:
        datasets.read_data("uses", Uses)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    "text, told",
    [("points = ", "is not valid"), ("[points]\n[uses]\n[uses.town]\nlabel = 3\n", r"label|stops_per_mile")],
    ids=["not TOML", "wrong type"],
)
def test_a_spoiled_data_file_is_refused_with_the_entry(folder, text, told):
    """What was found and where, in one line."""
    (folder / "uses.toml").write_text(text)
    with pytest.raises(ValueError, match=told) as caught:
        datasets.read_data("uses", Uses)
    assert "Correct that entry." in str(caught.value)
