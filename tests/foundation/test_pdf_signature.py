"""Digital signatures: made with keys of every kind that is taken, checked by the validator of the signing library.

Independent of it: pypdf reads the signed file, and the signature in it is looked into as ETSI EN 319 142-1 asks of
PAdES baseline B-B (from memory: subfilter ETSI.CAdES.detached, signing-certificate-v2, no signing-time attribute).
"""

import asyncio
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

import pytest
from asn1crypto import cms
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, ed25519, rsa
from cryptography.hazmat.primitives.serialization import BestAvailableEncryption, NoEncryption, pkcs12
from cryptography.x509.oid import NameOID
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from reportlab.pdfgen.canvas import Canvas

from foundation.pdf_signature import (
    KEY_LASTS,
    PASSPHRASE_LEAST,
    can_sign,
    check_pdf,
    make_key,
    open_key,
    sign_pdf,
)
from foundation.refusal import Refusal

WORDS = "rib spar keel strake"
NOW = datetime.now(UTC)


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "sheet.pdf"
    canvas = Canvas(str(path))
    canvas.drawString(72, 720, "Bonded the strut block")
    canvas.showPage()
    canvas.drawString(72, 720, "Second sheet")
    canvas.save()
    return path


def opened(name="Edda Norrell"):
    return open_key(make_key(name, WORDS, NOW), WORDS, NOW)


def brought(key, *, issuer="", start=NOW - timedelta(days=9), end=NOW + timedelta(days=9), usage=None, words=WORDS):
    """A key file as another program might have written it."""
    own = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Jonas Aldis")])
    by = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, issuer)]) if issuer else own
    voucher = ec.generate_private_key(ec.SECP256R1()) if issuer else key
    made = (
        x509.CertificateBuilder()
        .subject_name(own)
        .issuer_name(by)
        .public_key(key.public_key())
        .serial_number(7)
        .not_valid_before(start)
        .not_valid_after(end)
    )
    if usage:
        made = made.add_extension(x509.KeyUsage(**usage), critical=True)
    signed = made.sign(voucher, None if isinstance(voucher, ed25519.Ed25519PrivateKey) else hashes.SHA256())
    locked = BestAvailableEncryption(words.encode()) if words else NoEncryption()
    return pkcs12.serialize_key_and_certificates(b"mine", key, signed, None, locked)


USES = (
    "digital_signature",
    "content_commitment",
    "key_encipherment",
    "data_encipherment",
    "key_agreement",
    "key_cert_sign",
    "crl_sign",
    "encipher_only",
    "decipher_only",
)


def uses(**said):
    return {name: said.get(name, False) for name in USES}


def test_a_key_made_here_signs_and_the_validator_finds_it_good(sheet, tmp_path):
    assert can_sign()
    key, target = opened(), tmp_path / "signed.pdf"
    before = sheet.read_bytes()
    found = sign_pdf(sheet, target, key, "Builder's record 3")
    assert (found.intact, found.whole, found.valid) == (True, True, True)
    assert sheet.read_bytes() == before
    # What was there stays byte for byte; the signature comes behind it.
    assert target.read_bytes().startswith(before)
    assert check_pdf(target, key.pem).good


def test_the_signature_is_what_the_standard_asks_for(sheet, tmp_path):
    key, target = opened(), tmp_path / "signed.pdf"
    sign_pdf(sheet, target, key, "Builder's record 3")
    reader = PdfReader(target)
    assert [page.extract_text().strip() for page in reader.pages] == ["Bonded the strut block", "Second sheet"]
    value = reader.get_fields()["Signature"]["/V"]
    assert value["/SubFilter"] == "/ETSI.CAdES.detached"
    assert value["/Reason"] == "Builder's record 3"
    assert value["/Name"] == "Edda Norrell"
    data = target.read_bytes()
    start, length, behind, rest = value["/ByteRange"]
    assert (start, behind + rest) == (0, len(data))
    told = bytes(value["/Contents"])
    signed = cms.ContentInfo.load(told)["content"]["signer_infos"][0]
    names = {attribute["type"].native for attribute in signed["signed_attrs"]}
    assert {"content_type", "message_digest", "signing_certificate_v2"} <= names
    assert "signing_time" not in names
    covered = hashes.Hash(hashes.SHA256())
    covered.update(data[:length] + data[behind:])
    digest = next(a for a in signed["signed_attrs"] if a["type"].native == "message_digest")["values"][0].native
    assert covered.finalize() == digest
    # Nothing may be changed in it afterwards: a certifying signature with permission 1 (ISO 32000-1, table 254).
    assert value["/Reference"][0]["/TransformParams"]["/P"] == 1


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(place=st.floats(0, 1, exclude_max=True), bit=st.integers(0, 7))
def test_no_bit_can_be_changed(sheet, tmp_path, place, bit):
    key, target = opened_once(), tmp_path / "signed.pdf"
    if not target.exists():
        sign_pdf(sheet, target, key, "Builder's record 3")
    data = bytearray(target.read_bytes())
    data[int(place * sheet.stat().st_size)] ^= 1 << bit
    changed = tmp_path / "changed.pdf"
    changed.write_bytes(data)
    assert not check_pdf(changed, key.pem).good


KEPT = []


def opened_once():
    if not KEPT:
        KEPT.append(opened())
    return KEPT[0]


def test_what_is_added_or_signed_by_another_or_not_at_all_is_not_good(sheet, tmp_path):
    key, target = opened(), tmp_path / "signed.pdf"
    sign_pdf(sheet, target, key, "Builder's record 3")
    longer = tmp_path / "longer.pdf"
    longer.write_bytes(target.read_bytes() + b"\n% more")
    assert not check_pdf(longer, key.pem).good
    assert not check_pdf(target, opened().pem).good
    assert not check_pdf(sheet, key.pem).good
    broken = tmp_path / "broken.pdf"
    broken.write_bytes(b"no file of this kind")
    assert not check_pdf(broken, key.pem).good


@pytest.mark.parametrize(
    "key",
    [partial(rsa.generate_private_key, 65537, 2048), partial(ec.generate_private_key, ec.SECP384R1())],
    ids=["RSA 2048", "P-384"],
)
@pytest.mark.parametrize("issuer", ["", "A certificate authority"])
@pytest.mark.parametrize("words", [WORDS, ""])
def test_a_key_that_is_brought_signs(sheet, tmp_path, key, issuer, words):
    got = open_key(brought(key(), issuer=issuer, words=words), words, NOW)
    assert (got.holder, got.issuer, got.self_made) == ("Jonas Aldis", issuer or "Jonas Aldis", not issuer)
    assert sign_pdf(sheet, tmp_path / "signed.pdf", got, "Builder's record 3").good


@pytest.mark.parametrize(
    ("data", "words", "code", "says"),
    [
        (b"", WORDS, "not_opened", "cannot be opened"),
        (b"%PDF-1.7", WORDS, "not_opened", "cannot be opened"),
        (make_key("Edda", WORDS, NOW), "another one entirely", "not_opened", "passphrase"),
        (make_key("Edda", WORDS, NOW)[:-40], WORDS, "not_opened", "cannot be opened"),
        (brought(ed25519.Ed25519PrivateKey.generate()), WORDS, "other_key", "RSA or elliptic curve"),
        (brought(rsa.generate_private_key(65537, 1024)), WORDS, "weak", "2048"),
        (
            brought(ec.generate_private_key(ec.SECP256R1()), end=NOW - timedelta(days=1)),
            WORDS,
            "ended",
            "Take one that is valid now",
        ),
        (
            brought(ec.generate_private_key(ec.SECP256R1()), start=NOW + timedelta(days=1)),
            WORDS,
            "not_yet",
            "Check the clock",
        ),
        (
            brought(ec.generate_private_key(ec.SECP256R1()), usage=uses(key_agreement=True)),
            WORDS,
            "not_for_this",
            "not meant for signatures",
        ),
        (
            pkcs12.serialize_key_and_certificates(
                b"mine", None, x509.load_pem_x509_certificate(opened().pem.encode()), None, NoEncryption()
            ),
            "",
            "no_key",
            "Export both together",
        ),
    ],
)
def test_a_key_that_cannot_sign_is_refused_with_what_to_do(data, words, code, says):
    with pytest.raises(Refusal) as no:
        open_key(data, words, NOW)
    assert no.value.code == code
    assert says in no.value.message


def test_a_new_key_lies_under_its_passphrase_and_lasts():
    made = make_key("  Edda\n Norrell ", WORDS, NOW)
    key = open_key(made, WORDS, NOW + KEY_LASTS - timedelta(days=1))
    assert key.holder == "Edda Norrell"
    assert key.self_made
    with pytest.raises(Refusal, match="ended"):
        open_key(made, WORDS, NOW + KEY_LASTS + timedelta(days=1))
    # An authenticated, salted key derivation and AES (RFC 8018), no old cipher: what PKCS #12 readers of today write.
    assert b"Edda" not in made
    assert bytes.fromhex("060960864801650304012a") in made or bytes.fromhex("060960864801650304012a") in made
    for short in ("", "a" * (PASSPHRASE_LEAST - 1)):
        with pytest.raises(Refusal):
            make_key("Edda", short, NOW)
    with pytest.raises(Refusal):
        make_key(" \n", WORDS, NOW)
    assert make_key("E" * 200, WORDS, NOW)


def test_it_works_where_an_event_loop_runs_already(sheet, tmp_path):
    async def inside():
        return sign_pdf(sheet, tmp_path / "signed.pdf", opened(), "Builder's record 3")

    # In a thread of its own: where browsers are driven, this one may have a loop of theirs.
    with ThreadPoolExecutor(max_workers=1) as one:
        assert one.submit(asyncio.run, inside()).result().good
