"""Running one function over many items: on an existing Dask cluster.

A worker that goes away costs time, not results: the scheduler gives its items to others. An item
that takes several workers with it is given up by the scheduler (`KilledWorker`).
"""

import logging
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from importlib import import_module
from itertools import islice
from pathlib import Path
from typing import Any, TypeVar

from evenhand.errors import DiskError, SettingError
from evenhand.jobs.workers import AHEAD, WorkerLostError
from evenhand.take import read_bytes

T = TypeVar("T")
R = TypeVar("R")

#: Our names of the certificates, and Dask's.
_CERTIFICATES = {"ca": "ca_file", "cert": "client_cert", "key": "client_key"}

#: How long to look for the scheduler, and for a first worker, seconds.
PATIENCE = 20


class Cluster:
    """The workers of a Dask cluster.

    Parameters
    ----------
    address : str
        Of its scheduler, such as `tcp://10.0.0.5:8786`, or `tls://…`.
    certificates : mapping of str to Path
        For `tls://`: `ca`, `cert` and `key`, PEM files. Without them those that Dask's own
        configuration names are used.

    Raises
    ------
    SettingError
        If that is no address, the package for it is not installed, or certificates are missing.
    """

    shares_disk = False

    def __init__(self, address: str, certificates: Mapping[str, Path] | None = None) -> None:
        if not re.fullmatch(r"([a-z]+://)?[^\s/]+:[0-9]{1,5}", address):
            raise SettingError(
                f"{address!r} is not the address of a scheduler, such as tcp://10.0.0.5:8786"
            )
        try:
            self._distributed: Any = import_module("distributed")
        except ImportError:
            raise SettingError(
                "it needs Dask: pip install 'evenhand[cluster]', here and on the workers"
            ) from None
        self._address = address
        self._security = self._secured(dict(certificates or {}))
        # What goes wrong ends up in the table or in our own words.
        for name in ("distributed.client", "distributed.core", "tornado", "asyncio"):
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)

    def _secured(self, certificates: dict[str, Path]) -> Any:
        """What Dask is told about certificates; None where nothing is encrypted."""
        if not self._address.startswith("tls://"):
            if certificates:
                raise SettingError(
                    "certificates are for an address that begins with tls://; "
                    f"{self._address} is not encrypted"
                )
            return None
        named = {f"tls_{_CERTIFICATES[one]}": str(path) for one, path in certificates.items()}
        try:
            for path in certificates.values():
                read_bytes(path)
            security = self._distributed.Security(require_encryption=True, **named)
            complete = security.get_connection_args("client").get("ssl_context") is not None
        except (DiskError, OSError, ValueError) as error:
            raise SettingError(f"the certificates can't be used: {error}") from None
        if not complete:
            raise SettingError(
                "tls:// takes three files: --cluster-ca, --cluster-cert and --cluster-key "
                "(or Dask's own configuration, distributed.comm.tls)"
            )
        return security

    def run(
        self, function: Callable[[T], R], items: Iterable[T]
    ) -> Iterator[tuple[T, R | BaseException]]:
        """Yield each item with what came of it, or with the error it ended in.

        Raises
        ------
        DiskError
            If the cluster can't be reached, or goes away.
        """
        distributed = self._distributed
        try:
            client = distributed.Client(
                self._address, timeout=PATIENCE, set_as_default=False, security=self._security
            )
            client.wait_for_workers(1, timeout=PATIENCE)
        except Exception as error:  # noqa: BLE001 -- a library of networks raises what it likes
            why = str(error) or type(error).__name__
            raise DiskError(f"no cluster at {self._address}: {why}") from None
        with client:
            try:
                yield from self._mapped(client, function, iter(items))
            except (distributed.CancelledError, OSError, TimeoutError):
                raise DiskError(
                    f"the cluster at {self._address} went away; the same command goes on, with "
                    "this or another"
                ) from None

    def _mapped(
        self, client: Any, function: Callable[[T], R], items: Iterator[T]
    ) -> Iterator[tuple[T, R | BaseException]]:
        under_way: dict[str, T] = {}
        ready = self._distributed.as_completed(loop=client.loop)
        while True:
            ahead = AHEAD * max(1, sum(client.nthreads().values()))
            for item in islice(items, max(0, ahead - len(under_way))):
                future = client.submit(function, item, pure=False)
                under_way[future.key] = item
                ready.add(future)
            if not under_way:
                return
            future = next(ready)
            item, error = under_way.pop(future.key), future.exception()
            if isinstance(error, self._distributed.KilledWorker):
                error = WorkerLostError("the workers that took it up died (out of memory?)")
            yield item, future.result() if error is None else error
            # Let the cluster forget the result.
            future.release()
