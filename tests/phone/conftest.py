"""The app as a phone has it: real Chromium, phone profile, against a real server."""

from __future__ import annotations

import fcntl
import importlib.util
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any

import pytest

from _chromium import ARGUMENTS, executable
from _require import require
from phone._office import MIDDLE, Office, fill

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext

ROOT = Path(__file__).resolve().parents[2]
PROFILE: dict[str, Any] = {
    "viewport": {"width": 390, "height": 844},
    "device_scale_factor": 2,
    "is_mobile": True,
    "has_touch": True,
    "locale": "en-US",
    "timezone_id": "America/Chicago",
    "geolocation": {"longitude": MIDDLE[0], "latitude": MIDDLE[1], "accuracy": 8},
    "permissions": ["geolocation"],
}


PATIENCE_MS = 60_000  # a machine that others use, too


def builder() -> ModuleType:
    spec = importlib.util.spec_from_file_location("hatch_build", ROOT / "hatch_build.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def built_app() -> Path:
    """The built app, from these sources; built once where it is not."""
    hook = builder()
    # Two test runs at a time must not build over each other.
    with (Path(tempfile.gettempdir()) / "tepal-phone-build.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not hook.is_built():
            try:
                hook.build()
            except hook.Missing as missing:
                require(f"what builds phone/ ({missing})", None)
    return hook.folder()


@pytest.fixture(scope="session")
def county(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, str]]:
    """A ledger to be copied, and the codes of invitations in it; a copy has not used them yet."""
    path = tmp_path_factory.mktemp("county") / "county.ledger"
    fill(path)
    sites = ("north-eighty", "creek-bottom", "gravel-pit-forty")
    office = Office(path)
    codes = {"coordinator": office.invitation("Coordinator", "coordinator")}
    codes["scout"] = office.invitation("Scout One", "scout", *sites)
    codes["again"] = office.invitation("Scout One", "scout")
    return path, {name: link.partition("#")[2] for name, link in codes.items()}


@pytest.fixture
def office(built_app: Path, county: tuple[Path, dict[str, str]], tmp_path: Path) -> Iterator[Office]:
    path, codes = county
    shutil.copy(path, tmp_path)
    office = Office(tmp_path / path.name)
    office.codes.update(codes)
    office.start()
    yield office
    office.kill()


@pytest.fixture
def scout(office: Office) -> str:
    """The invitation of a scout of the three sites."""
    return office.link("scout")


def let_in(context: BrowserContext, invitation: str, device: str = "Test phone") -> None:
    """As a person does: the link is opened, the phone named."""
    page = context.new_page()
    page.goto(invitation)
    page.fill("#device", device)
    page.click("button[type=submit]")
    page.wait_for_url("**/phone/**")
    page.close()


def restarted(browser: Browser, folder: Path) -> BrowserContext:
    """The browser as it comes up with this folder: the second time, with all that it had in it."""
    kind = browser.browser_type
    context = kind.launch_persistent_context(str(folder), executable_path=executable(), args=ARGUMENTS, **PROFILE)
    context.set_default_timeout(PATIENCE_MS)
    return context


@pytest.fixture
def phone(_chromium: Browser, office: Office, scout: str) -> Iterator[BrowserContext]:
    """A phone that has been let in and has the app, with its worker, ready to lose its signal."""
    context = _chromium.new_context(**PROFILE)
    context.set_default_timeout(PATIENCE_MS)
    # Let in without the page, which other tests open as a person does.
    sent = {"code": scout.partition("#")[2], "device": "Test phone", "hold": "cookie"}
    answer = context.request.post(f"{office.url}/join", data=sent, headers={"Tepal-Request": "1"})
    assert answer.status == 201, answer.text()
    yield context
    context.close()
