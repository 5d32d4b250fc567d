"""The address that labels carry."""

import ipaddress
from contextlib import suppress
from urllib.parse import urlsplit


def address_caution(base: str) -> str:
    """Why labels with this base address may lead nowhere one day; empty where nothing is known against it."""
    host, number = "", None
    with suppress(ValueError):
        host = urlsplit(base).hostname or ""
        number = ipaddress.ip_address(host)
    if host == "localhost" or host.endswith(".localhost") or (number and number.is_loopback):
        return "This address means “this machine” on every machine: a phone that scans the label looks on the phone."
    if number and number.is_private:
        return "The router may hand this address to another machine one day, and then no label works any more."
    return ""
