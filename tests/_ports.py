"""A port for a server that a test starts, kills and starts again."""

from __future__ import annotations

import random
import socket

# Below the ports that systems give to programs which ask for any: one of those, let go while the server is down, may be
# a browser's by the time it starts again.
_LOWEST, _HIGHEST = 20_000, 32_000
_LUCK = random.SystemRandom()  # not the seeded one: test processes beside each other must not draw the same


def free_port() -> int:
    """A port of this machine that nobody listens at.

    Raises OSError when a hundred in a row are taken.
    """
    for _ in range(99):
        port = _LUCK.randint(_LOWEST, _HIGHEST)
        with socket.socket() as probe:
            # As a server asks: what an ended connection still holds is no hindrance.
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port
    raise OSError(f"no free port was found from {_LOWEST} to {_HIGHEST}: stop what listens there")
