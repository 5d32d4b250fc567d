"""What a phone may do at an address of the shop's network: with our certificate trusted, and over plain HTTP."""

import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Error, Page

from tests.browser.conftest import FLAGS, SIZES, chromium
from tests.config.serving import Served, https

pytestmark = [pytest.mark.browser, pytest.mark.slow]

NO_CERTUTIL = "no certutil, so no browser can be made to trust a certificate: install libnss3-tools"
SHOP = "workshop.lan"  # a name as a router gives it; the browser is told that it is this machine


def certutil() -> str:
    """The program that puts an authority into a browser's list."""
    found = shutil.which("certutil")
    if not found and os.environ.get("CI") == "true":
        pytest.fail(NO_CERTUTIL)
    if not found:
        pytest.skip(NO_CERTUTIL)
    return found


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with https(tmp_path_factory.mktemp("https") / "data") as running:
        yield running


@pytest.fixture
def trusting_page(browser: Browser, served: Served, tmp_path: Path) -> Iterator[Page]:
    """A page in a browser that trusts our authority, as a phone does after the steps of the trust page."""
    store = tmp_path / ".pki" / "nssdb"
    store.mkdir(parents=True)
    program = certutil()
    for words in (["-N", "--empty-password"], ["-A", "-n", "record", "-t", "C,,", "-i", str(served.authority)]):
        subprocess.run([program, "-d", f"sql:{store}", *words], check=True, capture_output=True)
    yield from page_of(browser, tmp_path)


@pytest.fixture
def plain_page(browser: Browser, tmp_path: Path) -> Iterator[Page]:
    """A page in a browser that knows nothing of our authority."""
    yield from page_of(browser, tmp_path, f"--host-resolver-rules=MAP {SHOP} 127.0.0.1")


def page_of(browser: Browser, home: Path, *flags: str) -> Iterator[Page]:
    """A page in a further browser, whose home folder holds the authorities that it trusts."""
    environment = {**os.environ, "HOME": str(home)}
    further = browser.browser_type.launch(executable_path=chromium(), args=[*FLAGS, *flags], env=environment)
    yield further.new_page()
    further.close()


def test_with_the_authority_trusted_pages_can_be_kept_for_later(trusting_page: Page, served: Served) -> None:
    trusting_page.goto(f"{served.secure}/accounts/login/")
    assert trusting_page.evaluate("window.isSecureContext")
    scope = trusting_page.evaluate("navigator.serviceWorker.register('/sw.js').then(worker => worker.scope)")
    assert scope == f"{served.secure}/"


def test_without_it_the_browser_warns(plain_page: Page, served: Served) -> None:
    with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
        plain_page.goto(f"{served.secure}/accounts/login/")


def test_over_plain_http_only_an_open_page_keeps_things(plain_page: Page, served: Served) -> None:
    plain_page.goto(f"http://{SHOP}:{served.port + 1}/")
    assert plain_page.get_by_role("heading", name="Let this phone trust the server").is_visible()
    assert not plain_page.evaluate("window.isSecureContext")
    assert not plain_page.evaluate("'serviceWorker' in navigator")
    assert plain_page.evaluate(
        "new Promise(tell => { const open = indexedDB.open('x'); open.onsuccess = () => tell(true); "
        "open.onerror = () => tell(false); })"
    )


def test_the_trust_page_leads_from_the_certificate_to_the_record(trusting_page: Page, served: Served) -> None:
    trusting_page.goto(f"{served.trust}/")
    with trusting_page.expect_download() as got:
        trusting_page.get_by_role("link", name="Get the certificate").click()
    assert got.value.suggested_filename == "build-record.crt"
    trusting_page.get_by_role("link", name=served.secure).click()
    trusting_page.wait_for_url(f"{served.secure}/**")
    assert trusting_page.get_by_role("button", name="Sign in").is_visible()


@pytest.mark.parametrize("size", list(SIZES))
def test_the_trust_page_fits_every_screen_and_reader(plain_page: Page, served: Served, size: str) -> None:
    plain_page.set_viewport_size(SIZES[size]["viewport"])
    plain_page.goto(f"{served.trust}/")
    found = Axe().run(plain_page)
    assert found.violations_count == 0, found.generate_report()
    assert plain_page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
