"""Clean copies, lists to tick off, and increases shifted so that no corner grows."""

import pypdfium2
import pytest

from counter.lengths.flatness import flatness_of_plan
from counter.plan import read_plan, staggered, write_plan
from counter.showing.checklist import plan_page

CIRCLE = (
    "R1: 6 sc in ring\nR2: inc x 6\nR3: (sc 1, inc) x 6\nR4: (sc 2, inc) x 6\nR5: (sc 3, inc) x 6\nR6: (sc 4, inc) x 6"
)
TOY = f"HEAD\n{CIRCLE}\nR7-9: sc around\nR10: (sc 4, dec) x 6\nR11: (sc 3, dec) x 6\nEAR (make 2)\nR1: 5 sc in ring\nR2: inc x 5"


def test_a_check_list_has_a_line_with_its_total_for_every_round():
    plan = read_plan(TOY)
    listed = write_plan(plan, check_list=True)
    assert listed.count("\u2610") == 13 and "\u2610 R8: sc around [36]" in listed and "EAR (make 2):" in listed
    assert read_plan(listed) == plan


def test_staggered_increases_keep_every_total_and_grow_no_corner():
    # Stacked increases make a hexagon, staggered ones a circle (jillhacker.com).
    plan = read_plan(CIRCLE)
    shifted = staggered(plan)
    assert [one.stitches for one in shifted.rounds] == [one.stitches for one in plan.rounds]
    assert any("6 corners" in line for line in flatness_of_plan(plan).words)
    assert not any("corners" in line for line in flatness_of_plan(shifted).words)
    back = read_plan(write_plan(shifted))
    assert back == shifted and back.findings == ()
    assert shifted.round(5).text == "sc 1, inc, (sc 3, inc) x 5, sc 2"


def test_what_is_not_evenly_shaped_stays_as_it_is():
    plan = read_plan("R4: 24\nR5: sc 5, inc x 3, sc 8, inc x 3, sc 5\nR6: sc around\nR7: inc 6 evenly")
    assert staggered(plan) == plan
    assert staggered(read_plan("")) == read_plan("")


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_the_printed_list_holds_every_round(paper):
    data = plan_page(read_plan(TOY), title="B\u00e4r", paper=paper)
    assert data == plan_page(read_plan(TOY), title="B\u00e4r", paper=paper)
    (page,) = pypdfium2.PdfDocument(data)
    said = page.get_textpage().get_text_range()
    assert "B\u00e4r" in said and "EAR (make 2)" in said and "(sc 4, dec) x 6" in said and "R11" in said
    long = read_plan("R1-90: sc 24 [24]")
    assert len(pypdfium2.PdfDocument(plan_page(long, paper=paper))) == 3
    with pytest.raises(ValueError, match="paper"):
        plan_page(long, paper="A5")


def test_one_piece_is_printed_where_it_was_chosen():
    data = plan_page(read_plan(TOY, piece="ear"), uk=True)
    said = pypdfium2.PdfDocument(data)[0].get_textpage().get_text_range()
    assert "EAR" in said and "5 dc in ring" in said and "R3" not in said
