"""A draft is read back as it was meant, whatever the record's texts hold."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from tepal.programme import Block, Draft, DraftSeason, Line, draft_text, read_programme_text


def a_draft(name="West Forty", remark="", share=0.5):
    return Draft(
        remarks=(remark,),
        head=(Line("name", name, remark), Line("taxon", "AMATU")),
        field=(Line("hectares", 12.5), Line("row_cm", None, remark)),
        start=(Line("seedbank_m2", (10.0, 300.0)),),
        resistance=(("9", (Line("allele_share", (0.02, 0.4), remark),)),),
        seasons=(
            DraftSeason(
                (Line("crop", "soybean"), Line("planted", "05-09")),
                (
                    Block("season.post", (Line("groups", (9, 10)), Line("days_after_planting", 30)), remark),
                    Block("season.pull", (Line("share", share),)),
                    Block("season.harvest", (Line("order", "last"),), listed=False),
                ),
                (remark,),
            ),
        ),
    )


def test_what_is_written_is_read():
    read = read_programme_text(draft_text(a_draft()), name="d.toml")
    assert (read.name, read.taxon, read.field.hectares, read.field.row_cm) == ("West Forty", "AMATU", 12.5, 76)
    assert read.start.seedbank_m2 is not None
    assert (read.start.seedbank_m2.low, read.start.seedbank_m2.high) == (10, 300)
    season = read.season[0]
    assert season.post[0].groups == ("9", "10")
    assert season.post[0].days_after_planting == 30
    assert season.pull[0].share.low == 0.5
    assert season.harvest.order == "last"
    assert read.resistance["9"].allele_share is not None


texts = st.text(max_size=40)


@given(texts.filter(lambda text: text.strip() and all(ord(sign) >= 32 for sign in text)), texts)
def test_no_text_of_a_record_breaks_out(name, remark):
    read = read_programme_text(draft_text(a_draft(name, remark)), name="d.toml")
    assert read.name == name.strip()
    assert len(read.season) == 1
    assert len(read.season[0].post) == 1
