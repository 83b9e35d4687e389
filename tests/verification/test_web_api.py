"""The JSON interface: the same numbers as the command line, and no input that breaks it."""

from __future__ import annotations

import json
import tomllib
import uuid
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis.specs.openapi.checks import positive_data_acceptance
from starlette.applications import Starlette
from starlette.testclient import TestClient

from springloom.cli import main
from springloom.records.layout import DesignFile
from springloom.store.opening import open_store
from springloom.store.settings import signing_key
from springloom.web.app import bench_app
from springloom.web.bench import Bench

EXAMPLE = (resources.files("springloom.examples") / "marsh_tern.toml").read_text("utf-8")
TRIES = 40
"""Of each kind of request; bounds the time."""


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Starlette]:
    store = open_store(tmp_path_factory.mktemp("api") / "bench.db")
    yield bench_app(Bench(store, signing_key(store), hosts=frozenset({"testserver"})))
    store.close()


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    store = open_store(tmp_path / "bench.db")
    yield TestClient(bench_app(Bench(store, signing_key(store))), base_url="http://127.0.0.1")
    store.close()


@pytest.fixture(scope="module")
def schema(app: Starlette) -> Any:
    TestClient(app).post("/api/paddles", json=tomllib.loads(EXAMPLE))
    return schemathesis.openapi.from_asgi("/api/openapi.json", app)


def test_nothing_that_is_sent_brings_about_a_fault(schema: Any) -> None:
    # Whatever comes back has to be as the description says, too: status, type and content. That
    # all it allows is accepted can't be asked: it doesn't know which texts are quantities.
    tried = 0
    for found in schema.get_all_operations():
        operation = found.ok()

        @settings(max_examples=TRIES, deadline=None, database=None,
                  suppress_health_check=list(HealthCheck))
        @given(case=operation.as_strategy())
        def sent(case: Any) -> None:
            nonlocal tried
            tried += 1
            case.call_and_validate(excluded_checks=[positive_data_acceptance])

        sent()
    assert tried >= TRIES


def add(client: TestClient) -> int:
    answer = client.post("/api/paddles", json=tomllib.loads(EXAMPLE))
    assert answer.status_code == 201, answer.text
    number: int = answer.json()["id"]
    return number


@pytest.mark.parametrize("question", ["forecast", "tune"])
def test_it_answers_as_the_command_line_does(
    client: TestClient, question: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "marsh_tern.toml"
    file.write_text(EXAMPLE, encoding="utf-8")
    assert main([question, str(file), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert client.get(f"/api/paddles/{add(client)}/{question}").json() == told


def test_a_design_file_comes_out_as_it_went_in(client: TestClient) -> None:
    sent = tomllib.loads(EXAMPLE)
    found = client.get(f"/api/paddles/{add(client)}/design").json()
    assert DesignFile.model_validate(found) == DesignFile.model_validate(sent)


def test_a_reading_is_kept_once_however_often_it_is_sent(client: TestClient) -> None:
    number = add(client)
    before = client.get(f"/api/paddles/{number}/readings").json()
    sent = {"kind": "weight", "table": {"weight": "790 g"}, "uid": str(uuid.uuid4()),
            "replaces": next(one["id"] for one in before if one["kind"] == "weight")}
    answers = [client.post(f"/api/paddles/{number}/readings", json=sent) for _ in range(2)]
    assert [one.status_code for one in answers] == [201, 201]
    assert answers[0].json() == answers[1].json()
    after = client.get(f"/api/paddles/{number}/readings").json()
    assert len(after) == len(before)


def test_a_design_file_is_taken_in_once_however_often_it_is_sent(client: TestClient) -> None:
    sent, where = tomllib.loads(EXAMPLE), f"/api/paddles?uid={uuid.uuid4()}"
    answers = [client.post(where, json=sent).json() for _ in range(2)]
    assert answers[0] == answers[1]
    assert len(client.get("/api/paddles").json()) == 1


def test_a_withdrawn_reading_no_longer_counts(client: TestClient) -> None:
    number = add(client)
    one = client.get(f"/api/paddles/{number}/readings").json()[0]
    assert client.delete(f"/api/readings/{one['id']}").status_code == 204
    left = client.get(f"/api/paddles/{number}/readings").json()
    assert one["id"] not in [other["id"] for other in left]


@pytest.mark.parametrize(("sent", "field"), [
    ({"kind": "weight", "table": {"weight": "heavy"}}, "weight"),
    ({"kind": "smell", "table": {}}, "kind"),
    ({"kind": "weight", "table": {"weight": "1 kg"}, "more": 1}, "more"),
])
def test_what_is_wrong_is_named(client: TestClient, sent: dict[str, Any], field: str) -> None:
    answer = client.post(f"/api/paddles/{add(client)}/readings", json=sent)
    assert answer.status_code == 422
    assert field in answer.json()["field"]


def test_another_sites_page_can_not_write(client: TestClient) -> None:
    answer = client.post("/api/paddles", json=tomllib.loads(EXAMPLE),
                         headers={"Origin": "http://elsewhere.example"})
    assert answer.status_code == 403
    assert client.get("/api/paddles").json() == []


def test_a_paddle_nobody_has_is_not_found(client: TestClient) -> None:
    assert client.get("/api/paddles/99").status_code == 404
