"""When each device was last used: kept in mind at once, written down beside the requests.

To write it down in the request itself would make who only reads wait for the one write lock while somebody takes a
large file in.
"""

from __future__ import annotations

import logging
import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime

from sqlalchemy import update

from tepal.ledger import Ledger
from tepal.ledger._schema import devices
from tepal.tables import Refused

_log = logging.getLogger("tepal.serve")


class Uses:
    """The last use of devices of one ledger. `close` waits until what was noted is written."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._lock = threading.Lock()
        self._noted: dict[str, datetime] = {}
        self._pending: dict[str, datetime] = {}
        self._writer: ThreadPoolExecutor | None = None

    def last(self, device: str, written: datetime) -> datetime:
        """The last use: what is written in the store, or what was noted since."""
        with self._lock:
            return max(written, self._noted.get(device, written))

    def note(self, device: str, now: datetime) -> None:
        """A device is in use."""
        with self._lock:
            self._noted[device] = now
            self._pending[device] = now
            if self._writer is None:
                self._writer = ThreadPoolExecutor(1, thread_name_prefix="tepal-uses")
            self._writer.submit(self._write)

    def close(self) -> None:
        with self._lock:
            writer, self._writer = self._writer, None
        if writer is not None:
            writer.shutdown()

    def _write(self) -> None:
        with self._lock:
            pending, self._pending = self._pending, {}
        if not pending:
            return
        try:
            with self._ledger.connected(write=True) as connection:
                for device, moment in pending.items():
                    text = moment.isoformat(timespec="microseconds")
                    connection.execute(update(devices).where(devices.c.id == device).values(used_at=text))
        except Refused as refusal:
            # Noted again at the next use; only a date is late.
            _log.warning("the last use of %d devices was not written: %s", len(pending), refusal.what)
