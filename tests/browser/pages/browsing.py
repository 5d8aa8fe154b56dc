"""A person at a desk or with a phone, looking at the served pages."""

from dataclasses import dataclass, field

from playwright.sync_api import Browser, BrowserContext, Page, StorageState

from tests.web.pages.lived_in import LivedIn
from tests.web.plant_server import CAST, secret_of


@dataclass(frozen=True)
class Site:
    """Where the lived-in record is served. signed_in: what a browser keeps of a role that has signed in."""

    address: str
    lived: LivedIn
    signed_in: dict[str, StorageState] = field(default_factory=dict)


@dataclass
class Visitor:
    """One person in one browser. errors: script errors and refusals by the page's policy; asked: addresses loaded."""

    site: Site
    context: BrowserContext
    page: Page
    errors: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    @classmethod
    def sign_in(cls, browser: Browser, site: Site, role: str, size: dict[str, int], **settings: object) -> "Visitor":
        """Open a browser in which a role has signed in; only the first of a role types the secret."""
        known = site.signed_in.get(role)
        context = browser.new_context(viewport=size, locale="en-GB", storage_state=known, **settings)
        visitor = cls(site, context, context.new_page())
        visitor.page.on("pageerror", lambda error: visitor.errors.append(str(error)))
        visitor.page.on("console", visitor._console)
        visitor.page.on("request", lambda request: visitor.asked.append(request.url))
        if known is None:
            visitor.go("/sign-in?next=/paper")
            visitor.page.get_by_label("Your code").fill(CAST[role].code)
            visitor.page.get_by_label("PIN or passphrase").fill(secret_of(role))
            visitor.page.get_by_role("button", name="Sign in").click()
            visitor.page.locator(".head .who").wait_for()
            site.signed_in[role] = context.storage_state()
        return visitor

    def _console(self, message) -> None:
        if message.type == "error":
            self.errors.append(message.text)

    def go(self, address: str) -> Page:
        """Open an address and wait until nothing more is loading."""
        self.page.goto(f"{self.site.address}{address}")
        self.page.wait_for_load_state("networkidle")
        return self.page
