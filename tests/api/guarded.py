"""Runs a Python program that the kernel ends (SIGSYS) as soon as it, or any process it starts, reaches for the network.

    python guarded.py -m MODULE ARGUMENTS…      or      python guarded.py -c PROGRAM

What is watched: `connect` to an address of the internet, and the making of datagram sockets for it, without which no name is
looked up and nothing is sent. A filter sees how long an address is, not what it says; those of the internet have 16 or 28
bytes, a structure that holds any address 110 or 128, and the paths by which processes of one machine find each other the lengths
between. Listening and answering are as always. A filter of system calls (seccomp), which no process can take off again; it
needs no rights.
"""

from __future__ import annotations

import ctypes
import os
import platform
import runpy
import socket
import struct
import sys

# linux/audit.h, linux/filter.h, linux/prctl.h, linux/seccomp.h; numbers of calls from each architecture's table.
ARCHITECTURES = {"x86_64": (0xC000003E, 42, 41), "aarch64": (0xC00000B7, 203, 198)}
"""Its mark, and the numbers of `connect` and `socket`."""
LOAD, EQUAL, AT_LEAST, AND, RETURN = 0x20, 0x15, 0x35, 0x54, 0x06
ALLOW, KILL = 0x7FFF0000, 0x80000000
NUMBER_AT, ARCHITECTURE_AT, FIRST_ARGUMENT_AT, SECOND_ARGUMENT_AT, THIRD_ARGUMENT_AT = 0, 4, 16, 24, 32
SHORTEST_PATH, LONGEST_PATH = 29, 109
SET_NO_NEW_PRIVILEGES, SET_SECCOMP, FILTER = 38, 22, 2
KIND_OF_SOCKET = 0xF


def program() -> list[tuple[int, int, int, int]]:
    """Return the filter: operation, steps ahead if true, if false, operand. The last two steps are KILL and ALLOW."""
    mark, connect, make_socket = ARCHITECTURES[platform.machine()]
    return [
        (LOAD, 0, 0, ARCHITECTURE_AT),
        (EQUAL, 0, 12, mark),
        (LOAD, 0, 0, NUMBER_AT),
        (EQUAL, 7, 0, connect),
        (EQUAL, 0, 10, make_socket),
        (LOAD, 0, 0, FIRST_ARGUMENT_AT),
        (EQUAL, 1, 0, socket.AF_INET),
        (EQUAL, 0, 7, socket.AF_INET6),
        (LOAD, 0, 0, SECOND_ARGUMENT_AT),
        (AND, 0, 0, KIND_OF_SOCKET),
        (EQUAL, 3, 4, socket.SOCK_DGRAM),
        (LOAD, 0, 0, THIRD_ARGUMENT_AT),
        (AT_LEAST, 0, 1, SHORTEST_PATH),
        (AT_LEAST, 0, 1, LONGEST_PATH + 1),
        (RETURN, 0, 0, KILL),
        (RETURN, 0, 0, ALLOW),
    ]


def guard() -> None:
    """Put this process, and all that it will start, behind the filter.

    Raises:
        OSError: the kernel does not take it.
    """
    steps = b"".join(struct.pack("HBBI", *step) for step in program())
    held = ctypes.create_string_buffer(steps)
    described = ctypes.create_string_buffer(struct.pack("HL", len(steps) // 8, ctypes.addressof(held)))
    library = ctypes.CDLL(None, use_errno=True)
    for arguments in ((SET_NO_NEW_PRIVILEGES, 1, 0, 0, 0), (SET_SECCOMP, FILTER, described, 0, 0)):
        if library.prctl(*arguments) != 0:
            raise OSError(ctypes.get_errno(), os.strerror(ctypes.get_errno()))


if __name__ == "__main__":
    guard()
    how, what, *arguments = sys.argv[1:]
    sys.argv = [what, *arguments]
    if how == "-c":
        exec(what)
    else:
        runpy.run_module(what, run_name="__main__", alter_sys=True)
