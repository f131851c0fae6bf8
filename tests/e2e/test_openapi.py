"""The API's description against the published schema of OpenAPI 3.1, by an independent validator."""

import json
from pathlib import Path

from openapi_spec_validator import OpenAPIV31SpecValidator


def test_the_served_description_is_valid(get):
    answer = get("/openapi.json")
    assert answer.status_code == 200
    document = answer.json()
    assert document["openapi"].startswith("3.1")
    faults = [f"{list(f.absolute_path)}: {f.message}" for f in OpenAPIV31SpecValidator(document).iter_errors()]
    assert not faults, "\n".join(faults)


def test_the_committed_description_is_the_served_one(get):
    committed = Path(__file__).parents[2] / "openapi" / "openapi.json"
    assert json.loads(committed.read_text(encoding="utf-8")) == get("/openapi.json").json()


def test_the_validator_notices_a_fault(get):
    document = get("/openapi.json").json()
    next(iter(document["paths"].values()))["get"].pop("responses", None)
    del document["info"]["title"]
    assert list(OpenAPIV31SpecValidator(document).iter_errors())
