"""The front door as a whole: the customers' addresses, the dealer's, and what goes on beside them."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager, suppress

from starlette.routing import BaseRoute, Route

from photomeasure.web.bench import Bench
from photomeasure.web.cases import Cases
from photomeasure.web.enquiries.calibrating import Calibrating
from photomeasure.web.enquiries.customer import Customer
from photomeasure.web.enquiries.dealer import Dealer
from photomeasure.web.enquiries.known import Known
from photomeasure.web.enquiries.work import Work
from photomeasure.web.log import what_went_wrong
from photomeasure.web.render import Pages
from photomeasure.web.store import Store
from photomeasure.web.telling import Teller

HOUR_S = 3600.0


class FrontDoor:
    """Only where there is a store."""

    def __init__(
        self, store: Store, cases: Cases, bench: Bench, pages: Pages, base: str, origins: Sequence[str], teller: Teller
    ) -> None:
        self._store, self._cases, self._bench = store, cases, bench
        self._work = Work(store.shelf, cases, bench)
        self._customer = Customer(store.shelf, cases, self._work, pages, teller)
        self._teller = teller
        self._calibrating = Calibrating(store.remembered, bench, store.photographs)
        self._known = Known(store.remembered, self._calibrating, bench, pages, base)
        self._dealer = Dealer(store, cases, bench, self._work, pages, base, origins)

    def inside(self) -> list[Route]:
        """Under the token."""
        return [*self._dealer.table(), *self._known.table()]

    def outside(self) -> list[BaseRoute]:
        return [self._customer.table()]

    @asynccontextmanager
    async def open(self) -> AsyncIterator[None]:
        """As long as the page runs: what was left undone is done, what is kept no longer goes."""
        beside = [asyncio.create_task(self._work.take_up()), asyncio.create_task(self._hourly())]
        try:
            yield
        finally:
            self._work.close()
            self._calibrating.close()
            self._teller.close()
            for task in beside:
                task.cancel()
                with suppress(asyncio.CancelledError):
                    await task

    async def _hourly(self) -> None:
        while True:
            await asyncio.sleep(HOUR_S)
            try:
                folders = await self._bench.aside(self._forgotten)
                for folder in folders:
                    self._cases.forget(folder)
            except Exception as error:
                what_went_wrong(error)

    def _forgotten(self) -> list[str]:
        self._store.keeping.give_up()
        return self._store.keeping.forget_photographs(self._store.shelf.settings().keep_days)
