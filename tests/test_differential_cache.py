"""Populations on disk: the same back, and never a damaged or outdated one."""

import sys
import warnings
from dataclasses import replace

import numpy as np
import pytest
from platformdirs import user_cache_path
from populations import Trade

from course_lib.diagnosis import cache
from course_lib.diagnosis.cache import (
    cache_folder,
    kept_case,
    kept_population,
    load_population,
    save_population,
)
from course_lib.diagnosis.odds import odds
from course_lib.diagnosis.population import Sharpness

MADE_FROM = "abc"


@pytest.fixture()
def lives():
    """A small population with looks, objects, and a reading that some lives do not have."""
    rng = np.random.default_rng(0)
    made = Trade(rng, causes=4, readings=6).lives(rng, 10, Sharpness(temper=0.4, floor=0.01))
    gap = made.readings["reading 0"].copy()
    gap[:5] = np.nan
    look = np.arange(len(made)) % 3
    return replace(
        made,
        readings={**made.readings, "reading 0": gap},
        looks={"color": look},
        made_by={**made.made_by, "color": "bench 1"},
        vehicle=np.arange(len(made)) // 2,
    )


def test_a_population_comes_back_as_it_was(lives, tmp_path):
    """Every array, name and constant, and the odds that follow from them."""
    path = tmp_path / "t.npz"
    save_population(lives, path, MADE_FROM)
    back = load_population(path, MADE_FROM)
    assert (back.causes, back.sigma, back.made_by, back.sharpness) == (
        lives.causes,
        lives.sigma,
        lives.made_by,
        lives.sharpness,
    )
    for kind in ("readings", "looks", "objects"):
        for key, value in getattr(lives, kind).items():
            np.testing.assert_array_equal(getattr(back, kind)[key], value)
    np.testing.assert_array_equal(back.vehicles, lives.vehicles)
    found = lives.findings(7)
    np.testing.assert_array_equal(odds(back, found).probability, odds(lives, found).probability)
    assert [p.name for p in tmp_path.iterdir()] == ["t.npz"]


def test_built_once_then_read(lives, tmp_path):
    """The second call does not build, and progress is reported by the first."""
    told, built = [], []

    def build(progress):
        built.append(1)
        progress(1, 2)
        return lives

    for _ in range(2):
        kept_population(
            "t", MADE_FROM, build, folder=tmp_path, progress=lambda done, total: told.append((done, total))
        )
    assert (len(built), told) == (1, [(1, 2)])


def test_outdated_file_is_made_anew(lives, tmp_path):
    """Other data, other lives, without a word; what was made anew is read again."""
    kept_population("t", "old data", lambda progress: lives, folder=tmp_path)
    again = kept_population("t", "new data", lambda progress: lives.rows(np.arange(5)), folder=tmp_path)
    assert len(again) == 5
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert len(kept_population("t", "new data", lambda progress: lives, folder=tmp_path)) == 5


def test_damage_is_seen_wherever_it_is(lives, tmp_path):
    """One bit turned anywhere, or an end cut off, and the file is refused."""
    path = tmp_path / "t.npz"
    save_population(lives, path, MADE_FROM)
    whole, rng = path.read_bytes(), np.random.default_rng(0)
    for at in rng.choice(len(whole), 200, replace=False).tolist():
        turned = bytearray(whole)
        turned[at] ^= 1 << int(rng.integers(8))
        for spoiled in (turned, whole[:at]):
            path.write_bytes(spoiled)
            with pytest.raises(ValueError, match="must be whole"):
                load_population(path, MADE_FROM)


@pytest.mark.parametrize(
    "content", [b"", b"not a population", b"PK\x03\x04"], ids=["empty", "text", "cut off"]
)
def test_what_is_no_population_is_replaced(lives, tmp_path, content):
    """The cache heals itself."""
    (tmp_path / "t.npz").write_bytes(content)
    with pytest.warns(UserWarning, match="must be whole"):
        assert len(kept_population("t", MADE_FROM, lambda progress: lives, folder=tmp_path)) == len(lives)
    assert len(load_population(tmp_path / "t.npz", MADE_FROM)) == len(lives)


def test_file_is_an_archive_that_numpy_opens(lives, tmp_path):
    """A plain .npz, to look into with any tool; the check stands behind it."""
    save_population(lives, tmp_path / "t.npz", MADE_FROM)
    with np.load(tmp_path / "t.npz", allow_pickle=False) as file:
        assert file["readings"].shape == (len(lives.readings), len(lives))


def test_a_home_that_cannot_be_written_is_no_obstacle(tmp_path, monkeypatch):
    """The temporary folder takes its place."""
    (tmp_path / "home").write_text("a file, not a folder")
    for name in ("HOME", "XDG_CACHE_HOME", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    monkeypatch.setattr(cache.tempfile, "gettempdir", lambda: str(tmp_path / "spare"))
    assert cache_folder() == tmp_path / "spare" / "course_lib"


def test_the_cache_is_the_users_own(tmp_path, monkeypatch):
    """On Linux it lies where XDG_CACHE_HOME says (XDG Base Directory Specification, from memory)."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "caches"))
    monkeypatch.setattr(cache.tempfile, "gettempdir", lambda: str(tmp_path / "spare"))
    if sys.platform == "linux":
        assert cache_folder() == tmp_path / "caches" / "course_lib"
    assert cache_folder() == user_cache_path("course_lib", appauthor=False)


def test_a_case_asked_for_again_comes_back_at_once(monkeypatch, tmp_path):
    """Made once; made anew for another request, from other data, or when the file is damaged; nothing readable lies about."""
    monkeypatch.setattr(cache, "cache_folder", lambda: tmp_path)
    made = []

    def make():
        made.append(1)
        return {"cause": "a hose that leaks"}

    def ask(asked="seed 1", made_from=MADE_FROM):
        return kept_case(asked, made_from, dict[str, str], make)

    assert ask() == ask() == {"cause": "a hose that leaks"} and len(made) == 1
    ask("seed 2"), ask(made_from="other data")
    assert len(made) == 3
    for path in tmp_path.iterdir():
        assert b"hose" not in path.read_bytes() and "hose" not in path.name
        path.write_bytes(path.read_bytes()[:-1])
    ask()
    assert len(made) == 4


def test_only_the_latest_cases_are_kept(monkeypatch, tmp_path):
    """The folder does not grow without end."""
    monkeypatch.setattr(cache, "cache_folder", lambda: tmp_path)
    monkeypatch.setattr(cache, "MOST_CASES", 5)
    for seed in range(12):
        kept_case(f"seed {seed}", MADE_FROM, dict[str, str], dict)
    assert len(list(tmp_path.iterdir())) == 5
