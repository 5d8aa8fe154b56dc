"""What serves the mails of a house: its own counts and reads, its clock and its writer."""

from zoneinfo import ZoneInfo

from qc.domain.plant.mail_plan import MailPlan
from qc.reports.mails.letter import Letter
from qc.reports.mails.own_letters import Letters
from qc.store.counts.counts import Counts
from qc.store.people.mail import Send, Wish
from qc.web.house import House
from qc.web.mailing.own_mail import OwnMail


def mailing(house: House, plan: MailPlan) -> OwnMail:
    """Return what mails the people of a house."""
    counts = Counts(house.journal)

    def compose(wish: Wish, due: Send) -> Letter:
        people = house.people.all()
        house.follow_tables()
        return Letters(counts.moment(), house.reads, house.plant, people, plan.links, house.clock()).to(
            wish.person, due.kind
        )

    return OwnMail(plan, ZoneInfo(house.plant.time_zone), house.clock, house.journal, compose)
