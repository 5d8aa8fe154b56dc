"""The funnel of stations and the follow-up of escapes, on the page of the week itself."""

from tests.web.pages.reading import read, table_rows


def test_a_young_record_says_what_is_missing_and_ranks_nobody(lived):
    page = read(lived.server.page("quality_manager").get("/review"))
    words = page.one("section", id="origin").text

    assert "Stations against their own past" in words
    assert "needs 8 weeks before these" in words
    assert "no station is compared with another" in words


def test_build_weeks_stand_with_how_far_they_are_followed_up(lived):
    page = read(lived.server.page("quality_manager").get("/review?week=2026-W10"))
    rows = table_rows(page, "Findings by build week")

    # the unit of the second day and the one that waits were presented in this week, three weeks before the reading
    assert rows[0][0] == "2026-W10"
    assert rows[0][2].startswith("0 of")
    assert rows[0][-1] == "still growing"
    assert "cannot be said" in page.one("section", id="origin").text


def test_the_pieces_follow_the_narrowing_of_the_review(lived):
    page = lived.server.page("quality_manager")
    short, long = (
        table_rows(read(page.get(f"/review?week=2026-W10&model={model}")), "Findings by build week")[0]
        for model in ("T36", "H62")
    )

    assert short[1] != "0"
    assert long[1] == "0"
    assert long[-1] == "no units"
