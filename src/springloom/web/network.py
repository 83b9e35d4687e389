"""This machine in its network: where others would find it."""

from __future__ import annotations

import ipaddress
import socket


def lan_addresses() -> frozenset[str]:
    """Return this machine's addresses in its networks, without the loopback's."""
    found = set()
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.connect(("192.0.2.1", 9))  # chooses a way out; nothing is sent
            found.add(probe.getsockname()[0])
        found |= {info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None,
                                                            socket.AF_INET)}
    except OSError:
        pass  # no network: nobody can come anyway
    return frozenset(str(host) for host in found if not ipaddress.ip_address(host).is_loopback)


def shared_hosts() -> frozenset[str]:
    """Return the names a shared bench answers to."""
    name = socket.gethostname().lower()
    return lan_addresses() | {name, f"{name}.local"}
