"""The plant in its reader's words is made once for a language and again for other tables, never mixed with others."""

from dataclasses import replace

from qc.web import house as of_the_house


def test_tables_that_follow_while_the_words_are_looked_up_are_worded_next(server, monkeypatch):
    house = server.house
    before, after = house.plant, replace(house.plant, stop_who="the other lead")
    worded = []

    def slow(plant, tag):
        worded.append(plant)
        house.plant = after  # as another thread does, which saw that the tables changed
        return plant

    monkeypatch.setattr(of_the_house, "in_words", slow)
    assert house.shown is before
    assert house.shown is after
    assert house.shown is after
    assert worded == [before, after]
