"""What a fuzzer makes of the OpenAPI document, asked in the same process: nothing it sends is a fault of ours."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings

from _served import OWN, World, build
from tepal.ledger import Ledger
from tepal.serve._limits import Often

schemathesis.serializer.alias("application/partial-upload", "application/octet-stream")


@pytest.fixture(scope="module")
def office(tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    with Ledger.open(tmp_path_factory.mktemp("fuzz") / "county.ledger", create=True) as ledger:
        world = build(ledger)
        world.limits.device = world.limits.joining = world.limits.unknown = Often(1e9, 1e9)
        yield world
        world.close()


@pytest.mark.slow
def test_nothing_that_is_sent_is_a_fault_of_ours(office: World) -> None:
    document = schemathesis.openapi.from_asgi("/openapi.json", office.client.app)
    asked: Counter[str] = Counter()
    reached: set[str] = set()
    for found in document.get_all_operations():
        operation = found.ok()

        @settings(
            max_examples=12,
            deadline=None,
            derandomize=True,
            database=None,
            phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
        @given(case=operation.as_strategy())
        def ask(case: Any) -> None:
            case.headers = {**(case.headers or {}), "authorization": f"Bearer {office.tokens[_for(case, office)]}"}
            if asked[case.operation.label] % 2:
                # Every other time of something that is there: what is not is soon answered.
                case.path_parameters = dict(case.path_parameters) | _there(case, office)
            answer = case.call()
            asked[case.operation.label] += 1
            assert answer.status_code < 500, (case.operation.label, answer.text)
            if answer.status_code < 400:
                reached.add(case.operation.label)
            elif case.method != "HEAD" and "/phone" not in case.operation.path:
                kind = answer.headers["content-type"][0]
                assert kind.startswith(("application/problem+json", "text/html")), (case.operation.label, kind)

        ask()
    assert len(asked) > 20
    assert min(asked.values()) >= 1
    # Not all is turned away at the door.
    assert len(reached) > len(asked) / 2
    assert office.ledger.last_seq > 0


def _there(case: Any, office: World) -> dict[str, str]:
    path = case.operation.path
    ids = {
        "/sites/": OWN,
        "/calls/": office.made["own report"],
        "/letters/": office.made["own letter"],
        "/people/": office.ids["Tess"],
        "/devices/": office.office.devices(office.ids["Tess"])[0].id,
    }
    known = {
        "id": next((id for part, id in reversed(ids.items()) if part in path), ""),
        "label": office.made["own sample"],
        "digest": office.made["own picture"],
        "entry": office.made["own stop"],
        "name": "plain/plain.css",
    }
    return {key: known[key] for key in case.path_parameters if known.get(key)}


def _for(case: Any, office: World) -> str:
    """Somebody for whom the route is, so that it is reached; who may be shown out by it is somebody else each time."""
    if case.operation.path in {"/leave", "/leave/now"}:
        name = f"P{len(office.ids)}"
        office.person(name, "coordinator")
        return name
    may = case.operation.definition.raw["x-may"]
    return {"scout": "Sam", "grower": "Gil", "laboratory": "Lena"}.get(may[0], "Cora")
