"""Class sets: everybody's own cases, equally hard, made again from the secret alone, and folders that tell nothing."""

import itertools
import json
import re
import zlib
from base64 import b85decode
from pathlib import Path

import msgspec
import nbformat
import numpy as np
import pytest
from class_cases import relabeled
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from course_lib import cli
from course_lib.cases.case_file import load_case
from course_lib.cases.key_file import KeyMissing, load_key
from course_lib.classroom import class_secret, class_set
from course_lib.classroom.case_dealing import deal_cases, evenness_of
from course_lib.classroom.class_set import (
    DIFFICULTIES,
    SetRequest,
    draw_set,
    read_class_list,
    write_set,
)
from course_lib.classroom.register import NOTEBOOK, read_register
from course_lib.faults.causes import all_causes

SECRET = b"a secret that only the tests know"
NAMES = [f"Learner {chr(65 + n)}" for n in range(8)]
EACH = 3


@pytest.fixture(scope="module")
def made():
    """A set as drawn."""
    return draw_set(NAMES, SECRET, SetRequest(each=EACH), maker=relabeled)


@pytest.fixture(scope="module")
def written(made, tmp_path_factory):
    """The set as folders."""
    top = tmp_path_factory.mktemp("sets") / "set"
    write_set(made, top, SECRET)
    return top


def every_file(top):
    """Path in the set -> its bytes."""
    return {p.relative_to(top).as_posix(): p.read_bytes() for p in sorted(top.rglob("*")) if p.is_file()}


# ------------------------------------------------------------------ the secret
def test_what_is_derived_is_the_standard_hmac():
    """RFC 4231, test case 2 (key "Jefe"): the function under `derive`; from memory, as printed in the RFC."""
    import hashlib
    import hmac

    said = hmac.new(b"Jefe", b"what do ya want for nothing?", hashlib.sha256).hexdigest()
    assert said == "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
    ours = hmac.new(SECRET, json.dumps(["seed", 1]).encode(), hashlib.sha256).digest()
    assert class_secret.derive(SECRET, "seed", 1) == ours


@given(st.lists(st.text(max_size=8), max_size=4), st.lists(st.text(max_size=8), max_size=4))
@settings(max_examples=60, deadline=None)
def test_another_purpose_gives_another_value(one, two):
    """No two purposes run together, however they are cut into pieces."""
    assert (class_secret.derive(SECRET, *one) == class_secret.derive(SECRET, *two)) == (one == two)


def test_ids_tell_nothing_of_seeds():
    """Case ids of neighbors share no more than chance; none holds digits of its seed or its place in the set."""
    ids = [class_secret.case_id_of(SECRET, n) for n in range(300)]
    assert len(set(ids)) == 300 and ids != sorted(ids)
    same = np.mean(
        [a == b for one, two in itertools.pairwise(ids) for a, b in zip(one[2:], two[2:], strict=True)]
    )
    assert same < 3 / 32  # one letter in 32 agrees by chance
    seeds = np.array([class_secret.seed_of(SECRET, "vehicle", n) for n in range(300)], float)
    order = np.array([int(name[2:], 36) for name in ids], float)
    assert abs(np.corrcoef(seeds, order)[0, 1]) < 0.25


def test_a_secret_is_drawn_once_and_short_ones_are_refused(tmp_path):
    """A missing file is made, for its owner alone; the next run reads the same; a short one can be guessed."""
    path = tmp_path / "secret.txt"
    secret, fresh = class_secret.read_secret(path)
    assert fresh and len(secret) == 64 and path.stat().st_mode & 0o077 == 0
    assert class_secret.read_secret(path) == (secret, False)
    path.write_text("1234\n")
    with pytest.raises(ValueError, match="at least 16 characters, got 4"):
        class_secret.read_secret(path)


# ------------------------------------------------------------------ equally hard
@given(st.lists(st.integers(10, 300), min_size=24, max_size=40), st.integers(0, 2**32))
@settings(max_examples=60, deadline=None)
def test_dealing_gives_everybody_one_of_each_layer(minutes, seed):
    """Every case goes out once at most; each learner has one of every third; sums are closer than a deal by chance."""
    table = deal_cases(
        minutes, [(str(n),) for n in range(len(minutes))], 8, EACH, np.random.default_rng(seed)
    )
    assert table.shape == (8, EACH) and len(set(table.ravel())) == 8 * EACH
    worth = np.asarray(minutes)
    ranks = np.sort(worth[table], axis=1)
    layers = np.sort(worth[table].ravel()).reshape(EACH, 8)
    assert all(
        (ranks[:, k] >= layers[k].min()).all() and (ranks[:, k] <= layers[k].max()).all() for k in range(EACH)
    )
    rng = np.random.default_rng(seed)
    chance = [worth[rng.permutation(table.ravel()).reshape(8, EACH)].sum(axis=1).std() for _ in range(20)]
    assert worth[table].sum(axis=1).std() <= max(chance) + 1e-9


@pytest.mark.parametrize("mark", [0, 1])
def test_nobody_gets_the_same_cause_or_owner_twice_where_it_can_be_helped(mark):
    """With three causes spread over all layers, everybody gets three different ones, and so with owners; sums stay close."""
    rng = np.random.default_rng(2)
    minutes, causes = rng.integers(20, 120, 30), [f"cause {n % 3}" for n in range(30)]
    marks = [(cause, str(n))[:: 1 - 2 * mark] for n, cause in enumerate(causes)]
    table = deal_cases(minutes, marks, 10, EACH, rng)
    alike = sum(len({causes[i] for i in row}) < EACH for row in table)
    assert alike <= 1
    assert np.ptp(minutes[table].sum(axis=1)) < np.ptp(minutes)


def test_the_spread_is_stated(made, written):
    """The stated least and most are those of the keys; the sentence is in the register."""
    sums = [sum(made.cases[name][1].certificate.minutes for name in entry.cases) for entry in made.entries]
    assert (made.spread.low, made.spread.high) == (min(sums), max(sums))
    assert made.spread.mean == pytest.approx(np.mean(sums)) and made.spread.deviation == pytest.approx(
        np.std(sums)
    )
    assert f"{min(sums)} to {max(sums)} minutes" in read_register(written / "instructor").spread
    assert evenness_of([5, 7], np.array([[0], [1]])).layers == ((5, 7),)


@pytest.mark.parametrize("word", ["easy", "medium"])
def test_a_difficulty_is_kept(word):
    """Every case lies within the minutes of its word."""
    low, high = DIFFICULTIES[word]
    small = draw_set(NAMES[:3], SECRET, SetRequest(each=2, difficulty=word), maker=relabeled)
    assert all(low <= key.certificate.minutes <= high for _, key in small.cases.values())


def test_a_lesson_draws_from_its_causes():
    """Only the causes of the lesson that the unit can have are asked for, each of them sooner or later."""
    asked = []

    def noting(**request):
        asked.append(request["cause"])
        return relabeled(**request)

    draw_set(NAMES, SECRET, SetRequest(each=2, lesson=6, signal="vacuum"), maker=noting)
    assert set(asked) == set(class_set.lesson_of(6).causes) and None not in asked


def test_every_lesson_names_causes_that_exist():
    """The data file of lessons holds twelve of them, and no unknown cause."""
    lessons = [class_set.lesson_of(n) for n in range(1, 13)]
    assert {cause for lesson in lessons for cause in lesson.causes} <= set(all_causes())
    with pytest.raises(ValueError, match="lesson must be 1 to 12, got 13"):
        class_set.lesson_of(13)


# ------------------------------------------------------------------ from the secret alone
def test_the_same_secret_makes_the_same_set(made, written, tmp_path):
    """Byte for byte, also with two cases made at a time; another secret gives other vehicles."""
    again = draw_set(NAMES, SECRET, SetRequest(each=EACH), maker=relabeled, jobs=2)
    write_set(again, tmp_path / "set", SECRET)
    assert every_file(tmp_path / "set") == every_file(written)
    other = draw_set(NAMES, SECRET + b"!", SetRequest(each=EACH), maker=relabeled)
    assert not set(other.cases) & set(made.cases)


def test_nobody_shares_a_vehicle(made):
    """Every case is dealt once."""
    dealt = [name for entry in made.entries for name in entry.cases]
    assert len(dealt) == len(set(dealt)) == len(NAMES) * EACH


# ------------------------------------------------------------------ nothing tells the answer
def test_a_learners_folder_holds_cases_and_a_notebook_only(made, written):
    """Keys, register and secret stay with the instructor."""
    for entry in made.entries:
        files = every_file(written / "learners" / entry.folder)
        assert set(files) == {NOTEBOOK, *(f"cases/{name}.json" for name in entry.cases)}
        with pytest.raises(KeyMissing):
            load_key(entry.cases[0], written / "learners" / entry.folder / "cases")


def unpacked(data):
    """All that can be read from a case file: as it stands, and with its findings unpacked."""
    sealed_part = json.loads(data)["sealed_findings"]
    return data + zlib.decompress(b85decode(sealed_part))


def test_no_string_of_a_folder_names_the_answer(made, written):
    """No cause id, no seed, no words of the key: not in the clear, not after unpacking, not in the notebook."""
    ids = [cause.encode() for cause in all_causes()]
    for entry in made.entries:
        files = every_file(written / "learners" / entry.folder)
        text = b"".join(unpacked(data) if name.endswith(".json") else data for name, data in files.items())
        assert not [name for name in ids if name in text]
        for name in entry.cases:
            key = made.cases[name][1]
            for secret in (
                str(key.recipe["seed"]),
                f"{key.recipe['seed']:x}",
                *key.chain,
            ):
                assert secret.encode() not in text


def test_no_seed_in_a_case(written):
    """With its seed, anybody could make the key of a case: files say 0."""
    paths = list((written / "learners").rglob("cases/*.json"))
    assert len(paths) == len(NAMES) * EACH and {load_case(path).seed for path in paths} == {0}


def test_sizes_and_times_are_all_the_same(written):
    """Neither the length of a file nor when it was made says anything; notebooks differ by their ids only."""
    files = [path for path in written.rglob("*")]
    assert {path.stat().st_mtime for path in files} == {class_secret.SAME_TIME}
    for pattern in ("cases/*.json", NOTEBOOK):
        assert len({path.stat().st_size for path in written.rglob(pattern)}) == 1


def test_the_order_of_cases_tells_nothing(made):
    """Neither by place nor by name do easy cases come first: both are drawn."""
    minutes = {name: key.certificate.minutes for name, (_, key) in made.cases.items()}
    by_place = [[minutes[name] for name in entry.cases] for entry in made.entries]
    by_name = [[minutes[name] for name in sorted(entry.cases)] for entry in made.entries]
    for rows in (by_place, by_name):
        assert not all(row == sorted(row) for row in rows) and not all(
            row == sorted(row, reverse=True) for row in rows
        )


def test_a_padded_case_is_the_same_case(made, written):
    """The filling changes nothing that a learner meets."""
    for name, (case, _) in list(made.cases.items())[:4]:
        stored = load_case(written / "instructor/cases" / f"{name}.json")
        assert msgspec.json.encode(stored._file) == msgspec.json.encode(case._file)
    with pytest.raises(ValueError, match="size must be enough"):
        class_secret.pad_case(written / "instructor/cases" / f"{name}.json", 100, SECRET)


def test_the_instructors_folder_is_shut(written):
    """Others on the same machine may not look into it."""
    assert (written / "instructor").stat().st_mode & 0o077 == 0


def test_the_notebook_is_valid_short_and_without_an_answer(made, written):
    """A clean notebook with a check cell for each case and criterion; no code cell longer than three lines."""
    from course_lib.classroom.check_cells import CHECKS

    entry = made.entries[0]
    book = nbformat.read(written / "learners" / entry.folder / NOTEBOOK, as_version=4)
    nbformat.validate(book)
    grades = [cell.metadata.grade["id"] for cell in book.cells if "grade" in cell.metadata]
    assert grades == [f"{name}/{criterion}" for name in entry.cases for criterion in CHECKS]
    code = [cell.source for cell in book.cells if cell.cell_type == "code"]
    asked = ["check_criterion(" in source for source in code[1:]]
    assert asked == sorted(asked), (
        "a check stands before a bench: run as a whole, the notebook would stop there"
    )
    assert all(len(source.splitlines()) <= 3 for source in code)


# ------------------------------------------------------------------ the class list and the command
@pytest.mark.parametrize(
    "text, names",
    [
        ("name,group\nAna Lopez,1\n\nBo Finch,2\n", ["Ana Lopez", "Bo Finch"]),
        ("\ufeffName\n  Ana   Lopez \n", ["Ana Lopez"]),
        ("Ana\nBo\n", ["Ana", "Bo"]),
        ('group,name\n1,"Lopez, Ana"\n', ["Lopez, Ana"]),
    ],
)
def test_class_lists_are_read(tmp_path, text, names):
    """With or without a heading, a mark of the encoding, blank lines, commas in a name."""
    (tmp_path / "list.csv").write_text(text, encoding="utf-8")
    assert read_class_list(tmp_path / "list.csv") == names


@pytest.mark.parametrize(
    "data, said",
    [
        (b"name\n", "1 to 500 names, got 0"),
        (b"name\nAna\nana\n", "names must be different"),
        (b"name\n" + b"x" * 81 + b"\n", "at most 80 characters"),
        (b"name\n\xff\xfe\n", "CSV file in UTF-8"),
    ],
)
def test_bad_class_lists_are_one_line(tmp_path, data, said):
    """What cannot be a class is refused before anything is made."""
    (tmp_path / "list.csv").write_bytes(data)
    with pytest.raises(ValueError, match=said) as refused:
        read_class_list(tmp_path / "list.csv")
    assert "\n" not in str(refused.value)


@given(st.lists(st.text(max_size=90), min_size=1, max_size=9))
@settings(max_examples=80, deadline=None)
def test_any_name_gives_a_folder_that_any_disk_can_hold(names):
    """Letters of other scripts, dots, slashes, formulas: a folder name is plain, short and its own."""
    folders = class_set.folder_names(names)
    assert len(set(folders)) == len(names)
    assert all(
        re.fullmatch(r"[0-9]{2}[a-z0-9-]*", name) and len(name) <= 44 and Path(name).name == name
        for name in folders
    )


def test_the_command_makes_a_set(tmp_path, monkeypatch):
    """`course set` writes both folders and says the spread; a second run does not overwrite."""
    monkeypatch.setattr(
        class_set.draw_set, "__kwdefaults__", {**class_set.draw_set.__kwdefaults__, "maker": relabeled}
    )
    (tmp_path / "class.csv").write_text("name\nAna\nBo\n")
    call = [
        "set",
        str(tmp_path / "class.csv"),
        str(tmp_path / "out"),
        "--secret",
        str(tmp_path / "secret"),
        "--jobs",
        "1",
    ]
    first = CliRunner().invoke(cli.main, call)
    assert first.exit_code == 0
    said = first.stdout
    assert "A new secret was written" in said and "minutes on the ideal way" in said
    assert sorted(path.name for path in (tmp_path / "out/learners").iterdir()) == ["01-ana", "02-bo"]
    again = CliRunner().invoke(cli.main, call)
    assert again.exit_code == 2 and "must not exist yet" in again.stderr


def test_a_wish_that_cannot_be_met_is_one_line(tmp_path):
    """No vehicle fits: said with the numbers, and nothing is written."""

    def never(**_request):
        raise ValueError("no such vehicle")

    with pytest.raises(ValueError, match="got 0 of 4 cases in [0-9]+ tries"):
        draw_set(NAMES[:2], SECRET, SetRequest(each=2), maker=never)
    with pytest.raises(
        ValueError, match="difficulty must be a name from the list, got 'esay'. Did you mean 'easy'"
    ):
        draw_set(NAMES[:2], SECRET, SetRequest(difficulty="esay"), maker=never)
    for wish, said in (
        ({"unit": "six-speed", "signal": "vacuum"}, "signal of the six-speed must be"),
        ({"use": "hauling"}, "use must be a name from the list"),
        ({"unit": "six-speed", "lesson": 5}, "or one of the lessons 12"),
    ):
        with pytest.raises(ValueError, match=said):
            draw_set(NAMES[:2], SECRET, SetRequest(**wish), maker=never)
