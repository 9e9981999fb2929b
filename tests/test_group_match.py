"""Photos of a group find their maker and round, or are listed."""

import os
from pathlib import Path

import pytest

from counter.group.match import ENDINGS, find_photos, guess_names, match, read_names, read_table

ROUNDS = range(1, 13)


def placed(photos, **how):
    return [(place.maker, place.round, place.matched) for place in match(photos, ROUNDS, **how)]


@pytest.mark.parametrize(
    ("pattern", "photo", "maker", "number"),
    [
        ("{maker}/{round}", "Ada/R7.jpg", "Ada", 7),
        ("{maker}/{round}", "Ada Bee/round 07.JPG", "Ada Bee", 7),
        ("{round}/{maker}", "Rnd 3/ada.heic", "ada", 3),
        ("{maker}_r{round}", "ada_bee_R12.png", "ada bee", 12),
        ("{maker}-{round}", "jo-ann-5.jpg", "jo-ann", 5),
        ("{round} {maker}", "r4 bo.jpg", "bo", 4),
        ("*/{maker}/{round}", "class 2/bo/4.jpg", "bo", 4),
        ("{maker}/*{round}", "bo/IMG_2031 round 4.jpg", "bo", 4),
        ("swatch {maker} ({round})", "Swatch bo (4).jpg", "bo", 4),
        ("{maker}/{round}", "\u00e9lo/2.jpg", "\u00e9lo", 2),
        ("{maker}/{round}", "e\u0301lo/2.jpg", "\u00e9lo", 2),
    ],
)
def test_pattern_places_a_photo(pattern, photo, maker, number):
    assert placed([photo], names=pattern) == [(maker, number, True)]


@pytest.mark.parametrize(
    ("pattern", "photo"),
    [
        ("{maker}/{round}", "ada/swatch.jpg"),
        ("{maker}/{round}", "ada.jpg"),
        ("{maker}/*{round}", "bo/IMG_2031.jpg"),  # a camera's number is no round
        ("{maker}_{round}", "ada_7b.jpg"),
        ("{maker}/{round}", "ada/7777.jpg"),
    ],
)
def test_other_photos_stay_unmatched(pattern, photo):
    (place,) = match([photo], ROUNDS, names=pattern)
    assert not place.matched and place.why and place.round is None


@pytest.mark.parametrize("pattern", ["", "{maker}", "{round}", "{maker}{maker}{round}", "{who}/{round}", "{maker}/{"])
def test_pattern_that_is_none_is_refused_in_one_line(pattern):
    with pytest.raises(ValueError, match="must hold") as told:
        read_names(pattern)
    assert "\n" not in str(told.value)


@pytest.mark.parametrize(
    ("photos", "guess"),
    [
        (["ada/1.jpg", "ada/2.jpg", "bo/r1.jpg"], "{maker}/{round}"),
        (["r1/ada.jpg", "r2/ada.jpg", "r1/bo.jpg"], "{round}/{maker}"),
        (["ada_1.jpg", "ada_2.jpg", "bo_1.jpg"], "{maker}_{round}"),
        (["IMG_2031.jpg", "IMG_2032.jpg"], None),  # rounds that the plan doesn't have
        (["ada.jpg", "bo.jpg", "cy_1.jpg"], None),  # one of three is no pattern
    ],
)
def test_pattern_is_guessed_from_names_and_plan(photos, guess):
    assert guess_names(photos, ROUNDS) == guess


def test_round_that_the_plan_lacks_is_listed():
    (place,) = match(["ada/19.jpg"], ROUNDS, names="{maker}/{round}")
    assert (place.maker, place.round, place.matched) == ("ada", 19, False) and "no round 19" in place.why


def test_spellings_of_one_name_are_one_maker():
    photos = ["Ada/1.jpg", "ada/2.jpg", "ADA_/3.jpg"]
    assert {maker for maker, _, _ in placed(photos, names="{maker}/{round}")} == {"Ada"}


def test_one_name_in_several_folders_is_several_makers():
    photos = ["class a/ada/1.jpg", "class b/ada/1.jpg", "class b/bo/1.jpg"]
    makers = [maker for maker, _, _ in placed(photos, names="*/{maker}/{round}")]
    assert makers == ["ada (class a)", "ada (class b)", "bo"]
    # Folders that name the rounds don't part a maker.
    photos = ["r1/ada.jpg", "r2/ada.jpg"]
    assert {maker for maker, _, _ in placed(photos, names="{round}/{maker}")} == {"ada"}


def test_table_goes_before_names_and_what_is_typed_before_both():
    table = read_table(b"Photo;Maker;Round;note\r\nada/1.jpg;bo;2;x\r\nx.jpg;cy;\r\n")
    assert table == {"ada/1.jpg": ("bo", 2), "x.jpg": ("cy", None)}
    typed = {"x.jpg": ("", 5), "y.jpg": (" Di  Dee ", 6)}
    photos = ["ada/1.jpg", "ada/2.jpg", "x.jpg", "y.jpg", "z.jpg"]
    places = match(photos, ROUNDS, names="{maker}/{round}", table=table, typed=typed)
    assert [(p.maker, p.round, p.how) for p in places] == [
        ("bo", 2, "table"), ("ada", 2, "names"), ("cy", 5, "typed"), ("Di Dee", 6, "typed"), ("", None, ""),
    ]  # fmt: skip
    assert [place.matched for place in places] == [True, True, True, True, False]


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "missing: photo, maker and round"),
        (b"photo,maker\na.jpg,ada\n", "missing: round"),
        (b"photo,maker,round\n", "names no photo"),
        (b"photo,maker,round\na.jpg,ada,four\n", "Line 2"),
        (b"photo,maker,round\na.jpg,ada,-4\n", "Line 2"),
        (b"photo,maker,round\na.jpg,ada,4\na.jpg,bo,4\n", "Line 3"),
    ],
)
def test_table_that_is_none_is_refused_in_one_line(data, told):
    with pytest.raises(ValueError, match=told) as error:
        read_table(data)
    assert "\n" not in str(error.value)


def test_photos_are_found_in_natural_order(tmp_path):
    for name in ("b/r10.JPG", "b/r2.jpg", "a.png", ".hidden.jpg", ".cache/x.jpg", "notes.txt", "b/r3.json"):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.touch()
    (tmp_path / "b" / "again").symlink_to(tmp_path)
    assert find_photos(tmp_path) == ["a.png", "b/r2.jpg", "b/r10.JPG"]
    try:
        Path(os.fsdecode(os.fsencode(tmp_path) + b"/\xff1.jpg")).touch()
    except OSError:  # some systems take no such name
        return
    assert "\ufffd1.jpg" in find_photos(tmp_path)
    assert ".heic" in ENDINGS


def test_folder_without_photos_is_refused(tmp_path):
    with pytest.raises(ValueError, match="no photo"):
        find_photos(tmp_path)
    with pytest.raises(ValueError, match="no such folder"):
        find_photos(tmp_path / "none")
    (tmp_path / "file").touch()
    with pytest.raises(ValueError, match="no folder"):
        find_photos(tmp_path / "file")
