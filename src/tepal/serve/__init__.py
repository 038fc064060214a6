"""The record over HTTP: entries in and out for phones, pages for the desk, and who may see what. Floor 7.

`app(ledger, settings)` makes the web application. A room of pages is a `Routes`: every route says who may call it.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tepal.serve._app import app
    from tepal.serve._asking import TheLedger, TheOffice, TheSettings, TheWho
    from tepal.serve._book import Device, Invitation, Person
    from tepal.serve._office import Office
    from tepal.serve._problems import Problem, absent
    from tepal.serve._roles import EVERYBODY, ROLES, Role, Who
    from tepal.serve._routes import Routes
    from tepal.serve._settings import Settings
    from tepal.serve._sight import Sight, sight
    from tepal.serve._static import address

# One at a time, so that who only makes an invitation does not wait for the web's library.
_WHERE = {
    "_app": ("app",),
    "_asking": ("TheLedger", "TheOffice", "TheSettings", "TheWho"),
    "_book": ("Device", "Invitation", "Person"),
    "_office": ("Office",),
    "_problems": ("Problem", "absent"),
    "_roles": ("EVERYBODY", "ROLES", "Role", "Who"),
    "_routes": ("Routes",),
    "_settings": ("Settings",),
    "_sight": ("Sight", "sight"),
    "_static": ("address",),
}


def __getattr__(name: str) -> Any:
    module = next((module for module, names in _WHERE.items() if name in names), None)
    if module is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f"{__name__}.{module}"), name)
    globals()[name] = value
    return value


__all__ = [
    "EVERYBODY",
    "ROLES",
    "Device",
    "Invitation",
    "Office",
    "Person",
    "Problem",
    "Role",
    "Routes",
    "Settings",
    "Sight",
    "TheLedger",
    "TheOffice",
    "TheSettings",
    "TheWho",
    "Who",
    "absent",
    "address",
    "app",
    "sight",
]
