"""Comparing gives codes and numbers; sentences are made of them when somebody reads them."""

import ast
from dataclasses import fields, is_dataclass
from itertools import product

import pytest
from other_words import OWN

from counter.basics import language
from counter.basics.language import known, speaking
from counter.comparing.check import check
from counter.comparing.questions import QUESTIONS, Question, questions_of, what_decides
from counter.comparing.remarks import REMARKS, Remark
from counter.plan import read_plan
from counter.showing import sentences
from counter.showing.report import Row, class_sheet
from counter.showing.sentences import answers_words, question_words, remark_words
from counter.showing.summary import check_data, check_words

PLAN = read_plan("R1: 6 sc in ring (6)\nR2: inc x 6 (12)\nR3: (sc 1, inc) x 6 (18)\nR4-5: sc around (18)")


@pytest.fixture(autouse=True)
def as_it_was():
    """Words answer in the language that is spoken, which goes with the test."""
    asked = list(language._asked)
    language.listen(lambda: None)
    yield
    language._asked[:] = asked


def remarks_in(value):
    """All remarks that a value holds, however deep."""
    if isinstance(value, Remark):
        yield value
        for held in value.values.values():
            yield from remarks_in(held)
    elif is_dataclass(value):
        for part in fields(value):
            yield from remarks_in(getattr(value, part.name))
    elif isinstance(value, tuple):
        for held in value:
            yield from remarks_in(held)


def situations(make_count):
    for stands, sure in product((11, 12, 15, 17, 18, 19, 40), (True, False)):
        chances = {stands: 0.99 if sure else 0.6, stands + 1: 0.01 if sure else 0.4}
        doubts = () if sure else [(1, (320.0, 120.0), "x")]
        count = make_count(chances, sure=sure, doubts=doubts, rounds=3, paired=(1, 2))
        for finished, twin, holds in (
            (None, False, None),
            (True, False, None),
            (False, True, None),
            (True, True, 18),
            (True, True, 17),
        ):
            how = {"finished": finished, "twin": twin, "twin_holds": holds}
            for number in (None, 2, 3, 5):
                yield count, {"plan": PLAN, "round_number": number, **how}
            yield count, {"expected": 18, "chain_counts": (None, True, False)[stands % 3], **how}


def test_what_is_found_does_not_depend_on_who_reads_it_and_is_said_in_any_language(make_count):
    seen = set()
    for count, how in situations(make_count):
        found = check(count, **how)
        with speaking("de"):
            assert check(count, **how) == found
            german = check_words(count, found)
        english = check_words(count, found)
        # The same value, said twice: no sentence is the same in both but what is written in the pattern's own signs.
        alike = set(english.split("\n")) & set(german.split("\n"))
        assert not {line for line in alike if line.strip()}, alike
        seen |= {remark.code for remark in remarks_in(found)}
    assert len(seen) > 20


def test_every_remark_has_its_words_and_carries_what_they_fill_in():
    assert sentences._SAID.keys() == REMARKS.keys()
    with pytest.raises(ValueError, match="unknown remark"):
        Remark.of("wurble")
    with pytest.raises(ValueError, match="carries n"):
        Remark.of("finished?")


def test_every_question_and_its_answers_have_words():
    for ask, answers in QUESTIONS.items():
        question = Question(None, ask, tuple((answer, 0) for answer in answers))
        said = {question_words(question), *(text for text, _ in answers_words(question))}
        with speaking("de"):
            other = {question_words(question), *(text for text, _ in answers_words(question))}
        assert len(said) == len(answers) + 1 and not said & other


def test_what_decides_is_said_in_the_language_of_who_reads_it(make_count):
    count = make_count({24: 0.6, 23: 0.4}, sure=False, doubts=[(1, (320.0, 120.0), "x"), (7, (120.0, 320.0), "y")])
    decides = what_decides(count, questions_of(count))
    assert remark_words(decides) == "2 places can be read in two ways."
    with speaking("de"):
        assert remark_words(decides) == known()["de"].UNSURE_SEVERAL.format(n=2)


def test_sheet_that_was_laid_out_is_said_in_the_language_that_is_chosen_then(make_count):
    count = make_count({17: 0.99, 18: 0.01})
    row = Row("ada", count, check(count, expected=18, finished=True))
    assert class_sheet([row])[0].words.startswith("17 stitches, short by 1: 18 expected.")
    with speaking("de"):
        (line,) = class_sheet([row])
        assert line.words.startswith("17 Maschen") and known()["de"].CAUTION in line.words
        assert (line.verdict, line.off_by) == ("short by 1", -1)  # codes stay


def test_data_stay_english_codes(make_count):
    found = check(make_count({17: 0.99, 18: 0.01}), plan=PLAN, round_number=3, finished=True)
    data = check_data(found)
    assert data["verdict"] == "short by 1" and data["advice"]["action"] == "take up"
    assert data["advice"]["words"][0].startswith("Make up for it in the next round: ")
    assert data["slips"]["why_none"] in ("", "The photo doesn't show where.") or data["slips"]["places"]


def test_the_room_makes_no_sentences():
    room = OWN.parents[1] / "comparing"
    # What is raised is said at once, to whoever asked.
    for path in sorted(room.glob("*.py")):
        if path.stem != "check":
            tree = ast.parse(path.read_text(encoding="utf-8"))
            names = [alias.name for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) for alias in node.names]
            assert "words" not in names, path.name
