"""Where the page can be reached: addresses of this machine in private ranges, and what listens on them."""

from __future__ import annotations

import contextlib
import errno
import ipaddress
import socket
import struct
import sys

from predictor.errors import InputError

HERE = "127.0.0.1"
# RFC 1918. Addresses of shared providers (100.64.0.0/10) and of the whole internet are no network of one's own.
PRIVATE = tuple(map(ipaddress.IPv4Network, ("192.168.0.0/16", "172.16.0.0/12", "10.0.0.0/8")))
# RFC 3927: what two machines without any other address give themselves; only where it is named
LINK_LOCAL = ipaddress.IPv4Network("169.254.0.0/16")
WAITING = 128  # Connections that the system holds until they are accepted
# Flags of a network interface, the same on Linux and macOS (netdevice(7), netintro(4); from memory for macOS)
_UP, _LOOPBACK, _POINT_TO_POINT, _RUNNING = 0x1, 0x8, 0x10, 0x40


def private_address(text: str) -> str:
    """An address in a private range, as it is typed; raises a ValueError for any other."""
    try:
        address = ipaddress.IPv4Address(text.strip())
    except ValueError:
        raise ValueError(f"{text!r} is not an address such as 192.168.1.20.") from None
    if not any(address in each for each in (*PRIVATE, LINK_LOCAL)):
        raise ValueError(
            f"{address} is not in a private range. Name an address of this machine in a network of your own: it "
            "begins with 192.168, 10, 169.254, or 172.16 to 172.31."
        )
    return str(address)


def own_addresses() -> list[str]:
    """The addresses of this machine in private ranges, those of a network that is in use first."""
    found = dict.fromkeys([*_of_interfaces(), *_of_name()])
    return [each for each in found if any(ipaddress.IPv4Address(each) in net for net in PRIVATE)]


def _of_name() -> list[str]:
    """The addresses that belong to the name of this machine: on Windows all of them, elsewhere few or none."""
    try:
        return socket.gethostbyname_ex(socket.gethostname())[2]
    except OSError:
        return []


if sys.platform == "win32":

    def _of_interfaces() -> list[str]:
        """None: the name of the machine has them all there."""
        return []

else:
    import fcntl

    # Requests for the flags and the address of an interface (netdevice(7); from memory for macOS)
    _FLAGS, _ADDRESS = (0x8913, 0x8915) if sys.platform == "linux" else (0xC0206911, 0xC0206921)

    def _of_interfaces() -> list[str]:
        """The addresses of interfaces that are up and lead to a network; those with a signal first."""
        found: list[tuple[bool, str]] = []
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
            for _, name in socket.if_nameindex():
                with contextlib.suppress(OSError):  # one without an address
                    request = struct.pack("256s", name.encode()[:15])
                    (flags,) = struct.unpack_from("=H", fcntl.ioctl(asked.fileno(), _FLAGS, request), 16)
                    address = socket.inet_ntoa(fcntl.ioctl(asked.fileno(), _ADDRESS, request)[20:24])
                    if flags & _UP and not flags & (_LOOPBACK | _POINT_TO_POINT):
                        found.append((not flags & _RUNNING, address))
        return [address for _, address in sorted(found, key=lambda each: each[0])]


def listen(addresses: list[str], port: int) -> list[socket.socket]:
    """A listening socket for each address; an InputError where one cannot be had."""
    opened: list[socket.socket] = []
    try:
        for address in addresses:
            opened.append(_listen(address, port))
    except InputError:
        for each in opened:
            each.close()
        raise
    return opened


def _listen(address: str, port: int) -> socket.socket:
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if sys.platform == "win32":  # there, to use an address again would let another program take it over
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((address, port))
        listening.listen(WAITING)
    except OSError as error:
        listening.close()
        raise InputError(_why_not(address, port, error)) from None
    return listening


def _why_not(address: str, port: int, error: OSError) -> str:
    """Why nothing can be served at an address, and what to do."""
    if error.errno == errno.EADDRINUSE:
        return (
            f"Port {port} of {address} is in use: perhaps a page is open in another terminal. End that one, or choose "
            f"another port with --port {port + 1 if port < 65535 else port - 1}."
        )
    if error.errno == errno.EADDRNOTAVAIL:
        return (
            f"{address} is not an address of this machine. Look it up in the settings of the network, or leave out "
            "--address."
        )
    return f"Nothing can be served at {address}, port {port}: {error.strerror or error}. Try another --port."
