"""An office and a phone that has been let in, for many tests; what came into the record since; the compiled tables."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from phone._office import Office, fill
from phone._steps import opened
from phone.conftest import PROFILE, let_in
from tepal.cli import main

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page


@pytest.fixture(scope="session")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder as `tepal plant --compile` writes it."""
    folder = tmp_path_factory.mktemp("tables") / "new"
    assert main(["plant", "--compile", str(folder)]) == 0
    return folder


@pytest.fixture(scope="session")
def here(built_app: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    """One office for all: a server takes longer to come up than a plant to be looked at."""
    path = tmp_path_factory.mktemp("plants") / "county.ledger"
    fill(path)
    office = Office(path)
    office.start()
    office.invitation("Coordinator", "coordinator")
    yield office
    office.kill()


@pytest.fixture(scope="module")
def invited(here: Office) -> str:
    return here.invitation("Scout One", "scout", "north-eighty", "creek-bottom")


@pytest.fixture(scope="module")
def letting(_chromium: Browser, invited: str) -> Iterator[BrowserContext]:
    context = _chromium.new_context(**PROFILE)
    let_in(context, invited)
    yield context
    context.close()


@pytest.fixture
def page(letting: BrowserContext, here: Office) -> Iterator[Page]:
    """The app, let in, with nothing under way."""
    page = opened(letting, here.phone)
    yield page
    page.evaluate(FORGET)
    page.close()


# A plant that a test left half looked at would come first in the next.
FORGET = """() => new Promise((done) => {
  const asked = indexedDB.open("tepal");
  asked.onsuccess = () => {
    const tx = asked.result.transaction("drafts", "readwrite");
    tx.objectStore("drafts").clear();
    tx.oncomplete = () => { asked.result.close(); done(); };
  };
})"""


class Since:
    """What has come into the record since."""

    def __init__(self, office: Office) -> None:
        self.office, self.known = office, {entry.id for entry in office.entries()}

    def __call__(self, kind: str) -> list[Any]:
        return [entry for entry in self.office.entries(kind) if entry.id not in self.known]


@pytest.fixture
def since(here: Office) -> Since:
    return Since(here)
