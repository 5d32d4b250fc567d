"""Certificates of our own for HTTPS on the shop's network: a small authority, made once, and the server's certificate.

The authority may only vouch for addresses and names of local networks (RFC 5280, 4.2.1.10), so that a phone that trusts
it can be misled about this server at worst, never about a bank. Its key never leaves the data folder.
"""

import os
import re
import socket
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import IPv4Address, IPv4Network
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

AUTHORITY_LASTS = timedelta(days=3652)
SERVER_LASTS = timedelta(days=397)  # phones refuse server certificates that last longer than 398
RENEWED_BEFORE = timedelta(days=60)
CLOCK_SLACK = timedelta(days=1)  # the clock of a phone may be behind

LOOPBACK = "127.0.0.1"
LOCAL_NETWORKS = ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "100.64.0.0/10", "169.254.0.0/16", "127.0.0.0/8")
LOCAL_NAMES = ("localhost", "local")  # with all names below them
HOST_NAME = re.compile(r"(?!-)[A-Za-z0-9-]{1,63}(\.[A-Za-z0-9-]{1,63})*")

AUTHORITY, SERVER = "lan-authority", "lan-server"
UNREADABLE = "{0}.crt or {0}.key cannot be read. Delete both; new ones are made at the next start."
OTHER_NETWORK = (
    "The certificate that phones trust was made for other networks than that of {address}. Delete {path}.crt and "
    "{path}.key; a new one is made at the next start, and every phone has to trust it anew."
)


@dataclass(frozen=True)
class Pair:
    """A certificate and its key."""

    certificate: x509.Certificate
    key: ec.EllipticCurvePrivateKey


@dataclass(frozen=True)
class Certificates:
    """The files the server serves with, and the fingerprint of the authority that phones are to trust."""

    certificate: Path
    key: Path
    fingerprint: str


def make_certificates(folder: Path, addresses: Sequence[str], at: datetime) -> Certificates:
    """Make what is missing, outdated or for other addresses (IPv4); keep the rest.

    Raises SystemExit with a sentence for files that cannot be read and for an address the authority may not vouch for.
    """
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    wanted = [IPv4Address(address) for address in dict.fromkeys([*addresses, LOOPBACK])]
    authority = read(folder / AUTHORITY)
    if authority is None or ends_soon(authority.certificate, at):
        authority = new_authority(wanted, at)
        keep(folder / AUTHORITY, authority)
    for address in wanted:
        if not any(address in network for network in networks(authority.certificate)):
            raise SystemExit(OTHER_NETWORK.format(address=address, path=folder / AUTHORITY))
    server = read(folder / SERVER)
    names = server_names(authority.certificate, wanted)
    if server is None or not fits(server.certificate, authority.certificate, names, at):
        keep(folder / SERVER, new_server(authority, names, at))
    told = fingerprint(authority.certificate)
    return Certificates((folder / SERVER).with_suffix(".crt"), (folder / SERVER).with_suffix(".key"), told)


def authority_certificate(folder: Path) -> x509.Certificate:
    """The certificate that phones are to trust. Raises OSError and ValueError."""
    return x509.load_pem_x509_certificate((folder / AUTHORITY).with_suffix(".crt").read_bytes())


def fingerprint(certificate: x509.Certificate) -> str:
    """SHA-256 of a certificate as phones show it: pairs of capital hexadecimal digits."""
    return certificate.fingerprint(hashes.SHA256()).hex(" ").upper()


def common_name(certificate: x509.Certificate) -> str:
    """The name under which a phone lists a certificate."""
    return str(certificate.subject.get_attributes_for_oid(NameOID.COMMON_NAME)[0].value)


def ends_soon(certificate: x509.Certificate, at: datetime) -> bool:
    """Whether it is time for a new one."""
    return certificate.not_valid_after_utc - at < RENEWED_BEFORE


def fits(server: x509.Certificate, authority: x509.Certificate, names: list[x509.GeneralName], at: datetime) -> bool:
    """Whether a server certificate is for these very names, of this authority, and good for a while."""
    try:
        server.verify_directly_issued_by(authority)
        said = server.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except Exception:  # whatever is wrong with it, a new one is made
        return False
    return set(said) == set(names) and not ends_soon(server, at)


def host_names() -> list[str]:
    """This machine's own name, and the one it has on a network without a name server."""
    name = socket.gethostname()
    return [name, f"{name.split('.')[0]}.local"] if HOST_NAME.fullmatch(name) else []


def server_names(authority: x509.Certificate, addresses: Sequence[IPv4Address]) -> list[x509.GeneralName]:
    """All that the server is called. The machine's name is left out if the authority was made under another."""
    below = [name.value for name in constraints(authority) if isinstance(name, x509.DNSName)]
    names = dict.fromkeys(["localhost", *host_names()])
    allowed = [name for name in names if any(name == end or name.endswith(f".{end}") for end in below)]
    return [*map(x509.DNSName, allowed), *map(x509.IPAddress, addresses)]


def networks(authority: x509.Certificate) -> list[IPv4Network]:
    """The networks that an authority may vouch for."""
    values = [name.value for name in constraints(authority) if isinstance(name, x509.IPAddress)]
    return [value for value in values if isinstance(value, IPv4Network)]


def constraints(authority: x509.Certificate) -> list[x509.GeneralName]:
    """All that an authority may vouch for."""
    return authority.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []


def new_authority(addresses: Sequence[IPv4Address], at: datetime) -> Pair:
    """An authority for local networks, and for the single address of a network that uses others."""
    key = ec.generate_private_key(ec.SECP256R1())
    local = [IPv4Network(network) for network in LOCAL_NETWORKS]
    others = [IPv4Network(address) for address in addresses if not any(address in network for network in local)]
    permitted = [*map(x509.DNSName, [*LOCAL_NAMES, *host_names()[:1]]), *map(x509.IPAddress, [*local, *others])]
    on = f" on {socket.gethostname()[:30]}" if host_names() else ""
    subject = called(f"Build record{on}, {at.day} {at:%b %Y}")
    usage = key_usage(key_cert_sign=True, crl_sign=True)
    builder = (
        started(subject, subject, key, at, at + AUTHORITY_LASTS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(x509.NameConstraints(permitted, None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )
    return Pair(builder.sign(key, hashes.SHA256()), key)


def new_server(authority: Pair, names: list[x509.GeneralName], at: datetime) -> Pair:
    """A certificate for the server, signed by the authority and never good for longer than that."""
    key = ec.generate_private_key(ec.SECP256R1())
    issuer = authority.certificate
    until = min(at - CLOCK_SLACK + SERVER_LASTS, issuer.not_valid_after_utc)
    vouched_by = x509.AuthorityKeyIdentifier.from_issuer_public_key(authority.key.public_key())
    builder = (
        started(called("Build record"), issuer.subject, key, at, until)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(key_usage(digital_signature=True), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(vouched_by, critical=False)
    )
    return Pair(builder.sign(authority.key, hashes.SHA256()), key)


def started(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePrivateKey, at: datetime, until: datetime
) -> x509.CertificateBuilder:
    """What every certificate has."""
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(at - CLOCK_SLACK)
        .not_valid_after(until)
    )


def called(name: str) -> x509.Name:
    """A name of one part."""
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])


def key_usage(**uses: bool) -> x509.KeyUsage:
    """What a key may be used for: what is given, nothing else."""
    kinds = "digital_signature content_commitment key_encipherment data_encipherment key_agreement key_cert_sign"
    nothing = dict.fromkeys([*kinds.split(), "crl_sign", "encipher_only", "decipher_only"], False)
    return x509.KeyUsage(**{**nothing, **uses})


def read(path: Path) -> Pair | None:
    """The certificate and key kept under this name; None where one of them is missing."""
    files = path.with_suffix(".crt"), path.with_suffix(".key")
    if not all(file.exists() for file in files):
        return None
    try:
        certificate = x509.load_pem_x509_certificate(files[0].read_bytes())
        key = serialization.load_pem_private_key(files[1].read_bytes(), None)
    except (OSError, ValueError, TypeError):
        raise SystemExit(UNREADABLE.format(path)) from None
    if not isinstance(key, ec.EllipticCurvePrivateKey) or key.public_key() != certificate.public_key():
        raise SystemExit(UNREADABLE.format(path))
    return Pair(certificate, key)


def keep(path: Path, pair: Pair) -> None:
    """Put a certificate and its key into files that only their owner reads; the certificate last, as it completes."""
    pem = serialization.Encoding.PEM
    key = pair.key.private_bytes(pem, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    path.with_suffix(".crt").unlink(missing_ok=True)
    write(path.with_suffix(".key"), key)
    write(path.with_suffix(".crt"), pair.certificate.public_bytes(pem))


def write(file: Path, data: bytes) -> None:
    """Replace a file by one that nobody else may read, whole or not at all."""
    beside = file.with_suffix(f"{file.suffix}.new")
    beside.unlink(missing_ok=True)
    with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
        out.write(data)
        out.flush()
        os.fsync(out.fileno())
    beside.replace(file)
