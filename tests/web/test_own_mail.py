"""The server's own mail, handed to a real mail server (aiosmtpd) here: once, to who asked, or told as missed.

That lines of a mail have 78 characters at most, and that a mail is taken with the answer to the full stop after it, is
RFC 5322, 2.1.1, and RFC 5321, 4.2.5 (from memory).
"""

import asyncio
import socket
import ssl
import threading
import time as clock_time
from contextlib import contextmanager
from dataclasses import replace
from datetime import time
from email import message_from_bytes
from email.policy import default
from zoneinfo import ZoneInfo

import pytest
from aiosmtpd.smtp import SMTP, AuthResult

from qc.domain.plant.mail_plan import MailPlan
from qc.reports.mails.letter import Letter
from qc.store.people.mail import keep_wish, not_sent, sends, wishes
from qc.web.certificate import make
from qc.web.mailing import own_mail, postman
from qc.web.mailing.letters import mailing
from qc.web.mailing.own_mail import OwnMail
from qc.web.mailing.postman import AddressRefused, hand_over, message_of
from tests.web.pages.lived_in import READ_AT, LivedIn
from tests.web.plant_server import CAST, NOW

LONDON = ZoneInfo("Europe/London")
MINUTE, HOUR = 60_000, 3_600_000
SIX = NOW - NOW % (24 * HOUR) + 6 * HOUR  # Monday 2 February 2026, 06:00 in London
MIA, LEO = "mia@works.example", "leo@works.example"


class Box:
    """What a mail server took and how it answers: a word each for RCPT and for the full stop, "" to take it."""

    def __init__(self):
        self.taken, self.asked = [], 0
        self.rcpt, self.stop = {}, ""
        self.hold = threading.Event()
        self.hold.set()

    async def handle_RCPT(self, server, session, envelope, address, options):  # noqa: N802 - its library's name
        self.asked += 1
        if address in self.rcpt:
            return self.rcpt[address]
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):  # noqa: N802 - as above
        if self.stop == "silence":
            self.taken.append((envelope.rcpt_tos, envelope.content, session))
            while not self.hold.is_set():
                await asyncio.sleep(0.01)
            return "250 OK"
        if self.stop:
            return self.stop
        self.taken.append((envelope.rcpt_tos, envelope.content, session))
        return "250 OK"

    def mails(self):
        return [message_from_bytes(content, policy=default) for _, content, _ in self.taken]


@contextmanager
def mail_server(box, over=None, **options):
    """Serve a box on a port of this machine. over: the TLS that each connection begins with, None for none."""
    loop = asyncio.new_event_loop()

    async def begin():
        return await loop.create_server(lambda: SMTP(box, loop=loop, **options), "127.0.0.1", 0, ssl=over)

    # All of it in a thread of its own: the loop of another test's browser may be running in this one.
    thread = threading.Thread(target=loop.run_forever)
    thread.start()
    serving = asyncio.run_coroutine_threadsafe(begin(), loop).result(10)
    try:
        yield serving.sockets[0].getsockname()[1]
    finally:
        box.hold.set()
        asyncio.run_coroutine_threadsafe(end(serving), loop).result(10)
        loop.call_soon_threadsafe(loop.stop)
        thread.join()
        loop.close()


async def end(serving):
    """Close a server and wait for what it still holds, so that nothing of it is left for the next test."""
    serving.close()
    rest = [task for task in asyncio.all_tasks() if task is not asyncio.current_task()]
    for task in rest:
        task.cancel()
    await asyncio.gather(*rest, return_exceptions=True)


def plan_for(port, **changes):
    usual = MailPlan(
        server="localhost",
        port=port,
        tls="none",
        user="",
        password_file="",
        root="",
        sender="record@works.example",
        links="https://record.works.example:8443",
        at=time(6),
        days=(1, 2, 3, 4, 5),
        domains=("works.example",),
    )
    return replace(usual, **changes)


class Office:
    """A plant's server whose people asked for mail on the Sunday before, with a mail server that the test plays."""

    def __init__(self, server, port):
        self.server, self.house, self.plan = server, server.house, plan_for(port)
        self.house.plant = replace(self.house.plant, mail=self.plan)
        self.now = SIX - 12 * HOUR
        self.ask("MI1", MIA, ("daily",))
        self.ask("L-S05", LEO, ("daily",))
        self.now = SIX

    def ask(self, code, address, kinds):
        self.house.journal.write(lambda conn: keep_wish(conn, code, address, kinds, self.now))

    def own(self, post=hand_over):
        """Return the mail of a server that starts now."""
        return OwnMail(self.plan, LONDON, lambda: self.now, self.house.journal, self.compose, post)

    def compose(self, wish, due):
        return Letter(f"For {wish.person.code}", "Nothing waits.\n")

    def states(self):
        kept = sends(self.house.reads.connection(), 0)
        return {(one.person, one.day): one.state for one in kept}

    def told(self):
        return [one.words for one in not_sent(self.house.reads.connection(), self.now)]


@pytest.fixture
def box():
    return Box()


@pytest.fixture
def office(server, box):
    with mail_server(box) as port:
        yield Office(server, port)


@pytest.fixture
def quick(monkeypatch):
    monkeypatch.setattr(postman, "SILENCE_SECONDS", 0.4)


def test_each_due_mail_goes_once_also_over_a_restart(office, box):
    own = office.own()

    assert own.look() == 2
    assert own.look() == 0
    assert office.own().look() == 0
    assert sorted(mail["To"] for mail in box.mails()) == [LEO, MIA]
    assert set(office.states().values()) == {"sent"}
    office.now += 24 * HOUR
    assert own.look() == 2


def test_nobody_is_mailed_who_did_not_ask_or_asks_no_more(office, box):
    office.ask("MI1", MIA, ())
    office.now -= 1
    assert office.own().look() == 0  # not yet six
    office.now += 1

    assert office.own().look() == 1
    assert [mail["To"] for mail in box.mails()] == [LEO]
    assert [one.address for one in wishes(office.house.reads.connection())] == [LEO]  # the other is forgotten


def test_what_was_due_before_somebody_asked_is_not_sent(office, box):
    office.now += HOUR
    office.ask("MI1", MIA, ("daily", "monday"))
    office.ask("L-S05", LEO, ())

    assert office.own().look() == 0
    assert office.states() == {}


@pytest.mark.parametrize("when", ["before", "while it waits"])
def test_who_has_ended_is_mailed_no_more_and_their_address_is_forgotten(office, box, when):
    if when == "while it waits":
        box.rcpt = {LEO: "451 later"}
        office.own().look()
        box.rcpt = {}
        office.now += HOUR
    office.house.people.end("L-S05")

    office.own().look()

    assert [mail["To"] for mail in box.mails()] == [MIA]
    assert [one.address for one in wishes(office.house.reads.connection())] == [MIA]
    office.house.people.take_back("L-S05")
    assert [one.address for one in wishes(office.house.reads.connection())] == [MIA]


def test_an_address_that_stayed_behind_somebody_who_has_ended_is_mailed_nothing(office, box):
    office.house.people.end("L-S05")
    office.now -= HOUR
    office.ask("L-S05", LEO, ("daily",))  # as a form that was sent just before
    office.now += HOUR

    assert office.own().look() == 1
    assert [mail["To"] for mail in box.mails()] == [MIA]


@pytest.mark.parametrize("when", ["before", "while it waits"])
def test_a_person_whose_role_is_another_now_is_mailed_nothing_and_their_address_is_forgotten(office, box, when):
    """They can no longer open the page on which they would take it back."""
    if when == "while it waits":
        box.rcpt = {LEO: "451 later"}
        office.own().look()
        box.rcpt = {}
        office.now += HOUR
    office.house.people.assign("L-S05", "inspector")

    office.own().look()

    assert [mail["To"] for mail in box.mails()] == [MIA]
    assert [one.address for one in wishes(office.house.reads.connection())] == [MIA]
    assert not any("could not be written" in words for words in office.told())


def test_who_keeps_a_role_that_mail_is_written_for_keeps_their_address(office, box):
    office.house.people.assign("L-S05", "inspector", ("S05",), also=("station_lead",))

    assert office.own().look() == 2
    assert {mail["To"] for mail in box.mails()} == {MIA, LEO}


def test_one_refused_address_keeps_nobody_else_waiting_and_is_not_tried_again(office, box):
    box.rcpt = {LEO: "550 5.1.1 no such user <here>\x07"}

    assert office.own().look() == 1
    assert office.states() == {("MI1", "2026-02-02"): "sent", ("L-S05", "2026-02-02"): "refused"}
    (words,) = office.told()
    assert words.startswith("the mail server answered 550 5.1.1 no such user")
    assert words.isprintable()
    asked = box.asked
    office.now += HOUR
    office.own().look()
    assert box.asked == asked
    office.now += 23 * HOUR
    office.own().look()
    assert box.asked == asked + 2  # the next day's is tried


@pytest.mark.parametrize("where", ["rcpt", "stop"])
def test_what_is_put_off_is_tried_again_with_longer_waits(office, box, where):
    if where == "rcpt":
        box.rcpt = {MIA: "451 later", LEO: "451 later"}
    else:
        box.stop = "451 later"
    own = office.own()

    tried = []
    for _ in range(180):
        before = {one.person: one.tries for one in sends(office.house.reads.connection(), 0)}.get("MI1", 0)
        own.look()
        if {one.person: one.tries for one in sends(office.house.reads.connection(), 0)}["MI1"] > before:
            tried.append((office.now - SIX) // MINUTE)
        office.now += MINUTE
    assert tried == [0, 5, 15, 35, 75, 135]
    assert set(office.states().values()) == {"waiting"}
    assert all("451 later" in words for words in office.told())
    box.rcpt, box.stop = {}, ""
    office.now += HOUR
    assert own.look() == 2
    assert office.told() == []


def test_a_server_that_is_down_for_three_days_misses_each_and_sends_the_fourth(office, server):
    office.plan = plan_for(1)  # nobody listens there
    own = office.own()

    for _ in range(3 * 24 * 2):
        own.look()
        office.now += HOUR // 2
    states = office.states()
    assert {day: state for (code, day), state in states.items() if code == "MI1"} == {
        "2026-02-02": "missed",
        "2026-02-03": "missed",
        "2026-02-04": "missed",
    }
    assert all(
        "not sent within the time for which it is tried; the mail server localhost port 1" in w for w in office.told()
    )
    server.now = office.now
    page = server.page("administrator").get("/people").text
    assert "Not sent in the last fortnight:</strong> 6" in page
    assert "L-S05, Daily of 2026-02-04: <strong>missed</strong>" in page
    with mail_server(Box()) as port:
        office.plan = plan_for(port)
        assert office.own().look() == 2
    assert office.states()["MI1", "2026-02-05"] == "sent"


def test_two_days_without_a_server_are_told_and_only_the_last_is_sent(office, box):
    office.own().look()
    office.now += 3 * 24 * HOUR

    assert office.own().look() == 2
    assert {day: state for (code, day), state in office.states().items() if code == "MI1"} == {
        "2026-02-02": "sent",
        "2026-02-03": "missed",
        "2026-02-04": "missed",
        "2026-02-05": "sent",
    }
    assert set(office.told()) == {own_mail.NOT_RUNNING}
    assert len(box.taken) == 4


def test_one_that_comes_too_late_is_missed_and_not_sent(office, box):
    office.now += 13 * HOUR

    assert office.own().look() == 0
    assert set(office.states().values()) == {"missed"}
    assert box.taken == []


def test_mondays_mail_is_tried_for_two_days(office, box):
    office.now = SIX - HOUR
    office.ask("MI1", MIA, ("monday",))
    office.ask("L-S05", LEO, ())
    office.now = SIX + 47 * HOUR

    assert office.own().look() == 1
    office.now += 7 * 24 * HOUR + 2 * HOUR
    assert office.own().look() == 0
    assert office.states() == {("MI1", "2026-02-02"): "sent", ("MI1", "2026-02-09"): "missed"}


class Killed(BaseException):
    """The process ended here."""


@pytest.mark.parametrize("when", ["before the full stop", "after it"])
def test_a_server_that_ends_in_the_middle_of_a_send_never_sends_twice(office, box, when):
    office.ask("L-S05", LEO, ())

    def ends(plan, to, message, before_last):
        def ended():
            before_last()
            if when == "before the full stop":
                raise Killed

        hand_over(plan, to, message, ended)
        raise Killed

    with pytest.raises(Killed):
        office.own(ends).look()
    taken = len(box.taken)
    for _ in range(5):
        office.own().look()
        office.now += HOUR

    assert taken == (0 if when == "before the full stop" else 1)
    assert len(box.taken) == taken
    assert office.states() == {("MI1", "2026-02-02"): "unknown"}
    assert "whether it went out is not known" in office.told()[0]


def test_one_that_ends_before_all_was_sent_is_sent_again(office, box):
    office.ask("L-S05", LEO, ())

    def ends(plan, to, message, before_last):
        raise Killed

    with pytest.raises(Killed):
        office.own(ends).look()

    assert office.own().look() == 1
    assert len(box.taken) == 1


def test_a_mail_server_silent_after_the_full_stop_is_sent_no_second_one(office, box, quick):
    office.ask("L-S05", LEO, ())
    box.stop = "silence"
    box.hold.clear()

    assert office.own().look() == 0
    assert office.states() == {("MI1", "2026-02-02"): "unknown"}
    box.stop = ""
    box.hold.set()
    office.now += HOUR
    assert office.own().look() == 0
    assert len(box.taken) == 1
    assert "had all of it and did not answer" in office.told()[0]


def test_a_mail_server_that_stalls_from_the_first_is_tried_again(server, quick):
    with socket.create_server(("127.0.0.1", 0)) as silent:
        office = Office(server, silent.getsockname()[1])
        begun = clock_time.monotonic()
        assert office.own().look() == 0
        assert clock_time.monotonic() - begun < 5  # one wait, not one a person
    assert set(office.states().values()) == {"waiting"}
    assert all("timed out" in words for words in office.told())
    with mail_server(Box()) as port:
        office.plan = plan_for(port)
        office.now += 6 * MINUTE
        assert office.own().look() == 2


def test_a_mail_server_that_trickles_is_left_after_the_time_for_one_mail(server, monkeypatch):
    monkeypatch.setattr(postman, "WHOLE_SECONDS", 0.5)
    with socket.create_server(("127.0.0.1", 0)) as slow:

        def trickle():
            line, _ = slow.accept()
            with line:
                line.sendall(b"220 here\r\n")
                for _ in range(200):
                    try:
                        line.sendall(b"2")
                    except OSError:
                        return
                    clock_time.sleep(0.05)

        thread = threading.Thread(target=trickle)
        thread.start()
        office = Office(server, slow.getsockname()[1])
        office.ask("L-S05", LEO, ())
        office.own().look()
        thread.join()

    assert "took longer than 0.5 s" in office.told()[0]


def test_a_letter_that_cannot_be_written_keeps_nobody_else_waiting(office, box, caplog):
    def compose(wish, due):
        if wish.person.code == "MI1":
            raise KeyError("planted")
        return Letter("Yours", "Nothing waits.\n")

    office.compose = compose

    assert office.own().look() == 1
    assert [mail["To"] for mail in box.mails()] == [LEO]
    assert "it could not be written (KeyError)" in office.told()[0]


@pytest.fixture(scope="module")
def certificates(tmp_path_factory):
    return make(tmp_path_factory.mktemp("certificates"), ("localhost",))


def context_of(certificates):
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificates.leaf, certificates.leaf_key)
    return context


def right(server, session, envelope, mechanism, given):
    return AuthResult(success=(given.login, given.password) == (b"record", b"open it"), handled=False)


@pytest.mark.filterwarnings("ignore:Requiring AUTH while not requiring TLS")  # it is under TLS from the first byte
@pytest.mark.parametrize("tls", ["starttls", "tls"])
def test_it_goes_over_tls_with_the_password_of_a_file(server, box, certificates, tmp_path, tls):
    context, password = context_of(certificates), tmp_path / "password"
    password.write_text("open it\n")
    asked = {"authenticator": right, "auth_required": True, "auth_require_tls": tls == "starttls"}
    over = {"tls_context": context, "require_starttls": True} if tls == "starttls" else {"over": context}
    with mail_server(box, **asked, **over) as port:
        office = Office(server, port)
        office.plan = plan_for(port, tls=tls, user="record", password_file=str(password), root=str(certificates.root))
        assert office.own().look() == 2
        password.write_text("wrong")
        office.now += 24 * HOUR
        assert office.own().look() == 0
        assert "535" in office.told()[0]
        assert "wrong" not in office.told()[0].replace("535", "")
        password.unlink()
        office.now += HOUR
        assert office.own().look() == 0
        assert "No such file" in office.told()[0]
        stranger = replace(office.plan, root="")  # the machine's own roots do not vouch for it
        office.plan = stranger
        office.now += HOUR
        assert office.own().look() == 0
        assert "certificate verify failed" in office.told()[0]
    assert len(box.taken) == 2


def test_nothing_is_said_in_the_clear_where_starttls_is_asked_for_and_not_offered(office, box):
    office.plan = replace(office.plan, tls="starttls")

    assert office.own().look() == 0
    assert box.asked == 0
    assert "STARTTLS" in office.told()[0]


@pytest.mark.parametrize("address", ["mia@works.example\r\nRCPT TO:<all@works.example>", "mia@home.example", "a b@c.d"])
def test_an_address_that_got_past_the_page_is_not_spoken_to_the_mail_server(office, box, address):
    message = message_of(office.plan, MIA, "s", "t\n", "id", "Mon, 02 Feb 2026 06:00:00 +0000")

    with pytest.raises(AddressRefused):
        hand_over(office.plan, address, message, lambda: None)
    assert box.asked == 0


def test_a_line_that_is_a_full_stop_alone_ends_no_mail(office, box):
    office.compose = lambda wish, due: Letter("Stop", "before\n.\n..\n.after\nlast é\n")

    office.own().look()

    assert {mail.get_content().replace("\r\n", "\n") for mail in box.mails()} == {"before\n.\n..\n.after\nlast é\n"}


def test_a_mail_holds_the_pages_sentences_criticals_first_and_names_nobody(server, box):
    LivedIn(server).live()
    server.house.people.assign("L-S05", "station_lead", ("S05", "S06", "R01"))  # S06: of the critical, R01: repairs it
    with mail_server(box) as port:
        office = Office(server, port)
        office.plan = plan_for(port)
        server.now = READ_AT - 3 * 24 * HOUR
        office.now = server.now
        office.ask("MI1", MIA, ("daily", "monday"))
        office.ask("L-S05", LEO, ("daily", "monday"))
        server.now = READ_AT
        assert mailing(office.house, office.plan).look() == 4

    assert {mail["Subject"] for mail in box.mails()} == {
        "Quernby Works, the week 2026-W12: 1 critical open, no new signal",
        "Quernby Works, today: 1 critical open, no new signal",
        "S05, S06, R01: 3 defects wait for your word",
    }
    for mail in box.mails():
        text = mail.get_content().replace("\r\n", "\n")
        assert mail.get_content_type() == "text/plain"
        assert mail.get_content_charset() == "utf-8"
        assert mail["Auto-Submitted"] == "auto-generated"
        assert "OPEN CRITICALS: 1\n- PC7130003, GAS-01" in text
        assert text.index("OPEN CRITICALS") < min(text.find(word) % 10**6 for word in ("SIGNALS", "THE WEEK", "S05 "))
        assert max(len(line) for line in text.splitlines()) <= 76
        assert "never says that a unit is safe" in " ".join(text.split())
        assert "Demo data: limits not for use." in text
        for person in CAST.values():
            assert person.name not in text
            assert person.code not in text
        for line in text.splitlines():
            if "://" in line:
                assert line.startswith("  https://record.works.example:8443/")


def test_a_manager_who_leads_a_station_is_mailed_each_once_with_their_station(server, box):
    LivedIn(server).live()
    server.house.people.assign("MI1", "quality_manager", ("S06",), also=("station_lead",))
    with mail_server(box) as port:
        office = Office(server, port)
        office.plan = plan_for(port)
        server.now = READ_AT - 3 * 24 * HOUR
        office.now = server.now
        office.ask("MI1", MIA, ("daily", "monday"))
        server.now = READ_AT
        mailing(office.house, office.plan).look()

    own = [mail for mail in box.mails() if mail["To"] == MIA]
    assert (len(own), len({mail["Subject"] for mail in own})) == (2, 2)
    for mail in own:
        text = mail.get_content().replace("\r\n", "\n")
        assert (text.count("OPEN CRITICALS"), text.count("\nS06 ")) == (1, 1)
        assert text.index("WHAT WAITS") < text.index("\nS06 ") < text.index("THIS MAIL")


def test_the_doctor_tells_what_was_not_sent_and_what_is_missing(office, tmp_path):
    from qc.store.keeping.mail_need import mail_need

    folder, password = office.house.folder, tmp_path / "password"
    assert mail_need(folder, None).state == "unasked"
    assert mail_need(folder, office.plan, office.now).state == "met"
    asks = replace(office.plan, user="record", password_file=str(password))
    assert "cannot be read" in mail_need(folder, asks).words
    password.write_text("open it")
    password.chmod(0o644)
    assert "others may read the password" in mail_need(folder, asks).words
    password.chmod(0o600)
    office.plan = plan_for(1)
    office.own().look()
    found = mail_need(folder, asks, office.now)
    assert found.state == "missing"
    assert "2 of the last fortnight not sent" in found.words
    assert "works.example" not in found.words  # no address of a person
