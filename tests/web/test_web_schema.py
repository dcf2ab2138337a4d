"""The OpenAPI document under attack: schemathesis draws questions from it, good and bad, and none may fail inside."""

from pathlib import Path
from typing import Any

import schemathesis
from hypothesis import HealthCheck, Phase, given, settings

from gladebook.jobs.adding import Adding, add_to
from gladebook.jobs.property import check_file, make_property
from tests.cli.fields import FIELD, write_plots
from tests.web.serving import served

_DRAWN = settings(
    max_examples=25,
    deadline=None,
    derandomize=True,
    database=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)


def test_no_question_drawn_from_the_schema_fails_inside(tmp_path: Path):
    """On a running server, for every path and method, valid and broken: never a 500, nor a broken-off answer."""
    home = tmp_path / "home.gpkg"
    make_property(home, name="Alder Place")
    add_to(home, Adding(plots=write_plots(tmp_path / "field.geojson", {"Alder Glade": FIELD})))
    statuses: dict[str, set[int]] = {}
    with served(home) as address:
        schema = schemathesis.openapi.from_url(f"{address}openapi.json")
        for found in schema.get_all_operations():
            operation: Any = found.ok()  # type: ignore[union-attr]  # an operation that cannot be drawn fails here
            name = f"{operation.method} {operation.path}"

            def attack(case: Any, name: str = name) -> None:
                answer = case.call(timeout=30)
                statuses.setdefault(name, set()).add(answer.status_code)
                # The guard must let the drawn questions in, or this shows nothing.
                assert answer.status_code < 500, answer.text[:300]
                assert answer.status_code != 403, answer.text[:300]

            modes = [schemathesis.GenerationMode.POSITIVE, schemathesis.GenerationMode.NEGATIVE]
            for mode in modes:
                _DRAWN(given(case=operation.as_strategy(generation_mode=mode))(attack))()
    assert len(statuses) >= 20
    assert any(200 in found for found in statuses.values())
    assert any(status >= 400 for found in statuses.values() for status in found)
    assert check_file(home)[0] == []
