"""The OpenAPI document under attack: schemathesis draws questions from it, good and bad, and none may fail inside."""

from contextlib import suppress
from pathlib import Path
from typing import Any

import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.errors import Unsatisfiable

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

            def attack(case: Any) -> None:
                answer = case.call(timeout=30)
                statuses.setdefault(f"{case.method} {case.path}", set()).add(answer.status_code)
                # The guard must let the drawn questions in, or this shows nothing.
                assert answer.status_code < 500, answer.text[:300]
                assert answer.status_code != 403, answer.text[:300]

            good, bad = schemathesis.GenerationMode.POSITIVE, schemathesis.GenerationMode.NEGATIVE
            _DRAWN(given(case=operation.as_strategy(generation_mode=good))(attack))()
            with suppress(Unsatisfiable):  # what takes nothing cannot be asked wrongly
                _DRAWN(given(case=operation.as_strategy(generation_mode=bad))(attack))()
    assert len(statuses) >= 20
    assert sum(200 in found for found in statuses.values()) >= 8
    assert sum(bool(found & {400, 409, 422}) for found in statuses.values()) >= 12
    assert check_file(home)[0] == []
