"""Digital signatures in PDF files: a key made or brought, a file signed with it, a signed file checked.

The signatures are PAdES baseline B-B (ETSI EN 319 142-1) without a time stamp: they prove who signed and that no byte
changed since, not when it was; the time in them is the clock's of this machine. A key is a PKCS #12 file (RFC 7292)
under a passphrase. Neither is ever kept here.

pyHanko signs and checks. It is not needed for anything else and so need not be installed.
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from importlib.util import find_spec
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import BestAvailableEncryption, Encoding, pkcs12
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from foundation.refusal import Refusal

INSTALL = ".venv/bin/python -m pip install --require-hashes -r requirements-signing.txt"
# As long as an aircraft may take to make, and its papers to be asked for.
KEY_LASTS = timedelta(days=15 * 365)
CLOCK_SLACK = timedelta(days=1)
KEY_MOST_BYTES = 200_000
PASSPHRASE_LEAST = 12
NAME_MOST = 64  # RFC 5280, upper bound of a common name
RSA_LEAST = 2048
DOCUMENT_SIGNING = x509.ObjectIdentifier("1.3.6.1.5.5.7.3.36")  # RFC 9336
FIELD = "Signature"

NOT_OPENED = (
    "This key file cannot be opened: it is not a key file (.p12 or .pfx), or the passphrase is another one. "
    "Choose the file again and type its passphrase."
)


@dataclass(frozen=True)
class Key:
    """An opened key file. `pkcs12` and `passphrase` live as long as the signing takes."""

    pkcs12: bytes
    passphrase: bytes
    certificate: x509.Certificate

    @property
    def holder(self) -> str:
        """Whose key it is, as its certificate says."""
        return name_of(self.certificate.subject)

    @property
    def issuer(self) -> str:
        """Who vouches for that; the holder himself where he made the key."""
        return name_of(self.certificate.issuer)

    @property
    def self_made(self) -> bool:
        """Whether nobody but the holder vouches for the name."""
        return self.certificate.issuer == self.certificate.subject

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the certificate, with its algorithm in front."""
        return "sha256:" + self.certificate.fingerprint(hashes.SHA256()).hex()

    @property
    def valid_until(self) -> datetime:
        """The last moment at which it may sign."""
        return self.certificate.not_valid_after_utc

    @property
    def pem(self) -> str:
        """The certificate as text; it is public."""
        return self.certificate.public_bytes(Encoding.PEM).decode()


@dataclass(frozen=True)
class Checked:
    """What the library's own validator finds: bytes unchanged, whole file covered, signed with that certificate."""

    intact: bool
    whole: bool
    valid: bool

    @property
    def good(self) -> bool:
        """All of it."""
        return self.intact and self.whole and self.valid


def can_sign() -> bool:
    """Whether the library that signs is installed."""
    return find_spec("pyhanko") is not None


def make_key(name: str, passphrase: str, at: datetime) -> bytes:
    """A new key file: elliptic curve P-256, a certificate that its holder signs himself, encrypted by the passphrase.

    Raises Refusal for a short passphrase and for no name.
    """
    if len(passphrase) < PASSPHRASE_LEAST:
        raise Refusal("short", f"At least {PASSPHRASE_LEAST} characters; four words are easy to keep.", "passphrase")
    if not (said := " ".join(name.split())[:NAME_MOST]):
        raise Refusal("no_name", "Say whose key it is.", "name")
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, said)])
    start = at.astimezone(UTC)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(start - CLOCK_SLACK)
        .not_valid_after(start + KEY_LASTS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(key_usage(), critical=True)
        .add_extension(x509.ExtendedKeyUsage([DOCUMENT_SIGNING, ExtendedKeyUsageOID.EMAIL_PROTECTION]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    return pkcs12.serialize_key_and_certificates(
        said.encode(), key, certificate, None, BestAvailableEncryption(passphrase.encode())
    )


def key_usage() -> x509.KeyUsage:
    """For signatures that one stands by, and nothing else."""
    return x509.KeyUsage(
        digital_signature=True,
        content_commitment=True,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )


def open_key(data: bytes, passphrase: str, at: datetime) -> Key:
    """An opened key file. Raises Refusal where it cannot sign now, and says what to do."""
    try:
        found = pkcs12.load_pkcs12(data, passphrase.encode() or None)
    except (ValueError, TypeError):
        raise Refusal("not_opened", NOT_OPENED, "key") from None
    if found.key is None or found.cert is None:
        raise Refusal("no_key", "The file holds no private key with its certificate. Export both together.", "key")
    certificate = found.cert.certificate
    if not isinstance(found.key, ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey):
        raise Refusal("other_key", "Its key is of another kind than RSA or elliptic curve. Take such a one.", "key")
    if isinstance(found.key, rsa.RSAPrivateKey) and found.key.key_size < RSA_LEAST:
        raise Refusal("weak", f"Its RSA key is shorter than {RSA_LEAST} bits. Take a stronger one.", "key")
    if not may_sign(certificate):
        raise Refusal("not_for_this", "Its certificate is not meant for signatures. Take another one.", "key")
    if at > certificate.not_valid_after_utc:
        ended = in_words(certificate.not_valid_after_utc)
        raise Refusal("ended", f"Its certificate ended on {ended}. Take one that is valid now.", "key")
    if at < certificate.not_valid_before_utc:
        begins = in_words(certificate.not_valid_before_utc)
        raise Refusal("not_yet", f"Its certificate is valid from {begins} only. Check the clock.", "key")
    return Key(data, passphrase.encode(), certificate)


def in_words(day: datetime) -> str:
    return f"{day.day} {day:%b %Y}"


def may_sign(certificate: x509.Certificate) -> bool:
    """Whether the certificate allows signatures; one that says nothing of its use does (RFC 5280, 4.2.1.3)."""
    try:
        usage = certificate.extensions.get_extension_for_class(x509.KeyUsage).value
    except x509.ExtensionNotFound:
        return True
    return usage.digital_signature or usage.content_commitment


def sign_pdf(source: Path, target: Path, key: Key, reason: str) -> Checked:
    """Write a signed copy of a PDF file, let the validator read it, and say what it found.

    The signature certifies the file: nothing may be changed in it afterwards.
    """
    return apart(lambda: write_and_check(source, target, key, reason))


def check_pdf(path: Path, pem: str) -> Checked:
    """What the validator says of the newest signature in a file, with this certificate as the only one trusted."""
    return apart(lambda: check(path, pem))


def apart(work: Callable[[], Checked]) -> Checked:
    """Run in a thread of its own: the library starts an event loop, and the caller's thread may have one already."""
    with ThreadPoolExecutor(max_workers=1) as one:
        return one.submit(work).result()


def write_and_check(source: Path, target: Path, key: Key, reason: str) -> Checked:
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.sign import signers
    from pyhanko.sign.fields import MDPPerm, SigSeedSubFilter

    signer = signers.SimpleSigner.load_pkcs12_data(key.pkcs12, other_certs=[], passphrase=key.passphrase or None)
    said = signers.PdfSignatureMetadata(
        field_name=FIELD,
        md_algorithm="sha256",
        reason=reason,
        name=key.holder,
        certify=True,
        docmdp_permissions=MDPPerm.NO_CHANGES,
        subfilter=SigSeedSubFilter.PADES,
    )
    with source.open("rb") as file, target.open("w+b") as out:
        signers.PdfSigner(said, signer=signer).sign_pdf(IncrementalPdfFileWriter(file), output=out)
    return check(target, key.pem)


def check(path: Path, pem: str) -> Checked:
    from asn1crypto import pem as armour
    from asn1crypto.x509 import Certificate
    from pyhanko.pdf_utils.misc import PdfReadError
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.validation import validate_pdf_signature
    from pyhanko.sign.validation.settings import KeyUsageConstraints
    from pyhanko.sign.validation.status import SignatureCoverageLevel
    from pyhanko_certvalidator import ValidationContext

    certificate = Certificate.load(armour.unarmor(pem.encode())[2])
    with path.open("rb") as file:
        try:
            found = PdfFileReader(file).embedded_signatures
            if not found:
                return Checked(intact=False, whole=False, valid=False)
            status = validate_pdf_signature(
                found[-1],
                ValidationContext(trust_roots=[certificate], allow_fetching=False),
                key_usage_settings=KeyUsageConstraints(
                    key_usage={"digital_signature", "non_repudiation"}, match_all_key_usages=False
                ),
            )
        except PdfReadError:
            return Checked(intact=False, whole=False, valid=False)
    signed_by_it = status.signing_cert.dump() == certificate.dump()
    return Checked(
        intact=bool(status.intact),
        whole=status.coverage == SignatureCoverageLevel.ENTIRE_FILE,
        valid=bool(status.valid) and signed_by_it,
    )


def name_of(name: x509.Name) -> str:
    """The common name, or the whole of it where it has none."""
    common = name.get_attributes_for_oid(NameOID.COMMON_NAME)
    return str(common[0].value) if common else name.rfc4514_string()
