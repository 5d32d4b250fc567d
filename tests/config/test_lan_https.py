"""HTTPS with certificates of our own, and the page that helps a phone to trust them."""

import http.cookiejar
import re
import ssl
import stat
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes

from config import certificates, lan
from config.certificates import make_certificates
from tests.config.serving import Served, https
from tests.config.test_up import ROOT, Result, command, environment, one_line

NOW = datetime(2026, 5, 14, 9, 30, tzinfo=UTC)
AT_HOME = "192.168.1.20"


def loaded(file: Path) -> x509.Certificate:
    return x509.load_pem_x509_certificate(file.read_bytes())


def names(certificate: x509.Certificate) -> set[str]:
    said = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return {str(name.value) for name in said}


def modes(folder: Path) -> set[int]:
    return {stat.S_IMODE(file.stat().st_mode) for file in folder.iterdir()}


# The certificates


def test_the_authority_may_vouch_for_local_networks_only(tmp_path: Path) -> None:
    make_certificates(tmp_path, [AT_HOME], NOW)
    authority = loaded(tmp_path / "lan-authority.crt")
    said = authority.extensions.get_extension_for_class(x509.NameConstraints)
    assert said.critical
    permitted = {str(name.value) for name in said.value.permitted_subtrees or []}
    assert {"local", "localhost", "192.168.0.0/16", "10.0.0.0/8", "172.16.0.0/12"} <= permitted
    assert not any(permits.startswith(("0.0.0.0", "com", ".")) for permits in permitted)
    basic = authority.extensions.get_extension_for_class(x509.BasicConstraints).value
    assert (basic.ca, basic.path_length) == (True, 0)
    assert isinstance(authority.signature_hash_algorithm, hashes.SHA256)
    assert authority.not_valid_after_utc.year == 2036


def test_the_servers_certificate_names_every_way_to_reach_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("socket.gethostname", lambda: "workshop")
    made = make_certificates(tmp_path, [AT_HOME, "10.0.0.4"], NOW)
    server = loaded(made.certificate)
    assert names(server) == {AT_HOME, "10.0.0.4", "127.0.0.1", "localhost", "workshop", "workshop.local"}
    assert server.not_valid_after_utc - server.not_valid_before_utc <= timedelta(days=397)
    uses = server.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert list(uses) == [x509.oid.ExtendedKeyUsageOID.SERVER_AUTH]


def test_all_four_files_are_their_owners_alone(tmp_path: Path) -> None:
    make_certificates(tmp_path / "secrets", [AT_HOME], NOW)
    assert modes(tmp_path / "secrets") == {0o600}
    assert len(list((tmp_path / "secrets").iterdir())) == 4


def test_nothing_is_made_again_without_need(tmp_path: Path) -> None:
    make_certificates(tmp_path, [AT_HOME], NOW)
    before = {file.name: file.read_bytes() for file in tmp_path.iterdir()}
    make_certificates(tmp_path, [AT_HOME], NOW + timedelta(days=300))
    assert {file.name: file.read_bytes() for file in tmp_path.iterdir()} == before


@pytest.mark.parametrize(
    ("address", "later"), [("192.168.7.7", timedelta()), (AT_HOME, timedelta(days=340)), (AT_HOME, timedelta(days=800))]
)
def test_another_address_or_a_near_end_makes_a_new_one_of_the_same_authority(
    address: str, later: timedelta, tmp_path: Path
) -> None:
    first = make_certificates(tmp_path, [AT_HOME], NOW)
    before = first.certificate.read_bytes()
    second = make_certificates(tmp_path, [address], NOW + later)
    assert second.certificate.read_bytes() != before
    assert second.fingerprint == first.fingerprint
    server = loaded(second.certificate)
    assert address in names(server)
    assert server.not_valid_after_utc > NOW + later + timedelta(days=300)


def test_another_name_of_the_machine_is_left_out_and_its_local_one_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("socket.gethostname", lambda: "workshop")
    make_certificates(tmp_path, [AT_HOME], NOW)
    monkeypatch.setattr("socket.gethostname", lambda: "hangar")
    made = make_certificates(tmp_path, [AT_HOME], NOW)
    assert names(loaded(made.certificate)) == {AT_HOME, "127.0.0.1", "localhost", "hangar.local"}


def test_a_network_with_addresses_of_its_own_gets_an_authority_for_that_one_address(tmp_path: Path) -> None:
    make_certificates(tmp_path, ["203.0.113.8"], NOW)
    with pytest.raises(SystemExit, match=r"other networks than that of 203\.0\.113\.9\. Delete .*lan-authority\.crt"):
        make_certificates(tmp_path, ["203.0.113.9"], NOW)


@pytest.mark.parametrize("name", ["lan-authority.crt", "lan-authority.key", "lan-server.key"])
def test_a_file_that_cannot_be_read_is_named(name: str, tmp_path: Path) -> None:
    make_certificates(tmp_path, [AT_HOME], NOW)
    (tmp_path / name).write_text("not a certificate")
    with pytest.raises(SystemExit, match=f"{tmp_path}/{name.split('.')[0]}.crt or .* Delete both"):
        make_certificates(tmp_path, [AT_HOME], NOW)


def test_a_start_that_ended_between_key_and_certificate_makes_both_anew(tmp_path: Path) -> None:
    make_certificates(tmp_path, [AT_HOME], NOW)
    (tmp_path / "lan-server.crt").unlink()
    made = make_certificates(tmp_path, [AT_HOME], NOW)
    ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(made.certificate, made.key)


def test_the_fingerprint_is_written_as_phones_write_it(tmp_path: Path) -> None:
    made = make_certificates(tmp_path, [AT_HOME], NOW)
    assert re.fullmatch(r"([0-9A-F]{2} ){31}[0-9A-F]{2}", made.fingerprint)
    assert made.fingerprint == certificates.fingerprint(loaded(tmp_path / "lan-authority.crt"))


# What is said


def test_plain_http_on_the_network_says_in_three_lines_what_works(tmp_path: Path) -> None:
    result = command(tmp_path / "data", "up", "--no-serve", "--no-demo", "--lan")
    assert result.returncode == 0, result.stderr
    if not lan.lan_address():
        pytest.skip("this machine has no address on a network")
    after = result.stdout.split("\nPhone ")[1].splitlines()[1:4]
    assert "photos and keeping both on the phone work while the page is open" in after[0]
    assert "without signal and a place on the home screen do not" in after[1]
    assert "--lan --https" in after[2]


def test_https_on_the_network_shows_two_codes_the_fingerprint_and_the_caution(tmp_path: Path) -> None:
    if not lan.lan_address():
        pytest.skip("this machine has no address on a network")
    result = command(tmp_path / "data", "up", "--no-serve", "--no-demo", "--lan", "--https")
    assert result.returncode == 0, result.stderr
    said, found = result.stdout, lan.lan_address()
    assert f"Trust   http://{found}:8001/" in said
    assert f"Phone   https://{found}:8000/" in said
    assert said.index("Trust ") < said.index("Phone ")
    shown = certificates.fingerprint(loaded(tmp_path / "data" / "secrets" / "lan-authority.crt"))
    assert shown[:47] in said
    assert shown[48:] in said
    assert f"Whoever holds the keys in {tmp_path / 'data' / 'secrets'} could pretend to be this server" in said
    assert "Over plain http" not in said


WITHOUT = """
import runpy, sys
{spoil}
sys.argv = ["manage.py", "up", "--no-serve", "--no-demo", "--lan", "--https"]
runpy.run_path("manage.py", run_name="__main__")
"""


def spoiled(data: Path, spoil: str) -> Result:
    """The command in a process in which something is not as it should be."""
    return subprocess.run(
        [sys.executable, "-c", WITHOUT.format(spoil=spoil)],
        cwd=ROOT,
        env=environment(data),
        capture_output=True,
        text=True,
        timeout=240,
    )


def test_without_the_package_one_line_names_it(tmp_path: Path) -> None:
    said = one_line(spoiled(tmp_path, "sys.modules['cryptography'] = None"))
    assert said.startswith("HTTPS needs the Python package cryptography")


def test_without_a_network_one_line_says_so(tmp_path: Path) -> None:
    said = one_line(spoiled(tmp_path, "import config.lan; config.lan.lan_addresses = lambda: []"))
    assert said == "This machine has no address on a network. Connect it and start again, or leave out --https."


def test_a_host_that_is_no_address_is_told(tmp_path: Path) -> None:
    said = one_line(command(tmp_path, "up", "--no-serve", "--no-demo", "--https", "--host", "localhost"))
    assert "write --host as an address" in said


# The running server


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with https(tmp_path_factory.mktemp("https") / "data") as running:
        yield running


def trusting(served: Served) -> ssl.SSLContext:
    return ssl.create_default_context(cafile=str(served.authority))


class Browser:
    """Keeps cookies and trusts our authority, no other."""

    def __init__(self, served: Served) -> None:
        self.jar = http.cookiejar.CookieJar()
        self.opener = urllib.request.build_opener(
            urllib.request.ProxyHandler({}),
            urllib.request.HTTPSHandler(context=trusting(served)),
            urllib.request.HTTPCookieProcessor(self.jar),
        )

    def open(self, url: str, data: dict[str, str] | None = None, **headers: str):  # noqa: ANN201
        body = urllib.parse.urlencode(data).encode() if data is not None else None
        said = {name.replace("_", "-"): value for name, value in headers.items()}
        return self.opener.open(urllib.request.Request(url, body, said), timeout=10)


@pytest.fixture
def browser(served: Served) -> Browser:
    return Browser(served)


@pytest.mark.slow
def test_the_chain_holds_for_a_client_that_trusts_the_authority(served: Served, browser: Browser) -> None:
    with browser.open(f"{served.secure}/accounts/login/") as answer:
        assert answer.status == 200
        assert "strict-transport-security" not in {name.lower() for name in answer.headers}
    with browser.open(f"https://localhost:{served.port}/accounts/login/") as answer:
        assert answer.status == 200


@pytest.mark.slow
def test_a_client_that_does_not_trust_it_is_kept_out(served: Served) -> None:
    with pytest.raises(urllib.error.URLError, match="CERTIFICATE_VERIFY_FAILED"):
        urllib.request.urlopen(f"{served.secure}/", timeout=10, context=ssl.create_default_context())


@pytest.mark.slow
def test_an_older_phone_may_speak_tls_1_2(served: Served) -> None:
    older = trusting(served)
    older.maximum_version = ssl.TLSVersion.TLSv1_2
    with urllib.request.urlopen(f"{served.secure}/accounts/login/", timeout=10, context=older) as answer:
        assert answer.status == 200


def token(page: str) -> str:
    found = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page)
    assert found
    return found[1]


@pytest.mark.slow
def test_signing_in_by_link_and_by_form_sets_secure_cookies(served: Served, browser: Browser) -> None:
    link = re.search(r"^Sign in (https://\S+)$", served.said, re.MULTILINE)
    assert link
    with browser.open(link[1]) as answer:
        page = answer.read().decode()
    with browser.open(link[1], {"csrfmiddlewaretoken": token(page)}, Origin=served.secure) as answer:
        assert answer.status == 200
        assert not answer.url.endswith("/accounts/login/")
    cookies = {cookie.name: cookie for cookie in browser.jar}
    assert {"__Host-sessionid", "__Host-csrftoken"} <= set(cookies)
    assert all(cookie.secure and cookie.path == "/" for cookie in cookies.values())


@pytest.mark.slow
@pytest.mark.parametrize(("origin", "status"), [("", 200), ("https://127.0.0.1:1", 403), ("http", 403)])
def test_the_sign_in_form_asks_for_its_own_origin(origin: str, status: int, served: Served, browser: Browser) -> None:
    with browser.open(f"{served.secure}/accounts/login/") as answer:
        page = answer.read().decode()
    origin = {"": served.secure, "http": served.secure.replace("https", "http")}.get(origin, origin)
    sent = {"csrfmiddlewaretoken": token(page), "login": "nobody", "password": "wrong"}
    try:
        with browser.open(f"{served.secure}/accounts/login/", sent, Origin=origin) as answer:
            got = answer.status
    except urllib.error.HTTPError as no:
        got = no.code
    assert got == status


@pytest.mark.slow
def test_the_trust_page_leads_on_and_needs_no_script(served: Served, browser: Browser) -> None:
    until_answered(served.trust)
    with browser.open(f"{served.trust}/") as answer:
        page, headers = answer.read().decode(), answer.headers
    assert f'href="{served.secure}/"' in page
    assert "<script" not in page
    policy = headers["Content-Security-Policy"].split("; ")
    assert {"default-src 'none'", "script-src 'self'", "style-src 'self'"} <= set(policy)
    assert certificates.fingerprint(loaded(served.authority)) in page
    assert certificates.common_name(loaded(served.authority)) in page
    assert page.count("<ol>") == 3
    assert page.count("<li>") == 9
    assert "could pretend to be this server" in page
    sheet = re.search(r'href="(/static/css/base\.\w+\.css)"', page)
    assert sheet
    with browser.open(served.trust + sheet[1]) as answer:
        assert answer.status == 200


@pytest.mark.slow
def test_the_trust_page_hands_out_the_certificate_and_nothing_else(served: Served, browser: Browser) -> None:
    until_answered(served.trust)
    with browser.open(f"{served.trust}/build-record.crt") as answer:
        assert answer.headers["Content-Type"] == "application/x-x509-ca-cert"
        assert "Content-Disposition" not in answer.headers
        assert x509.load_der_x509_certificate(answer.read()) == loaded(served.authority)
    for path in ("/accounts/login/", "/projects/", "/lan-authority.key"):
        with pytest.raises(urllib.error.HTTPError, match="404"):
            browser.open(served.trust + path)


@pytest.mark.slow
def test_the_trust_page_names_the_address_it_was_reached_at(served: Served, browser: Browser) -> None:
    until_answered(served.trust)
    with browser.open(f"{served.trust}/", Host=f"workshop.local:{served.port + 1}") as answer:
        assert f'href="https://workshop.local:{served.port}/"' in answer.read().decode()


@pytest.mark.slow
def test_what_is_said_at_the_terminal_is_so(served: Served) -> None:
    assert f"Open    {served.secure}/" in served.said
    assert f"Trust   {served.trust}/" in served.said
    assert modes(served.data / "secrets") == {0o600}


def until_answered(url: str) -> None:
    """The trust page is not waited for at the start."""
    for _ in range(100):
        try:
            urllib.request.urlopen(url, timeout=5).close()
        except OSError:
            time.sleep(0.1)
        else:
            return
    raise AssertionError(f"{url} does not answer")
