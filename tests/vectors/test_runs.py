"""Runs from both ends of one channel: worked by hand, and against a painted channel, a millimetre at a time."""

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from loupebook.rules.runs import Run, seen_of

pytestmark = pytest.mark.breadth

FILE = json.loads((Path(__file__).resolve().parents[2] / "shared/vectors/runs.json").read_text())


@pytest.mark.parametrize("case", FILE["runs"], ids=lambda case: case["description"])
def test_what_the_runs_show_of_the_channel(case: dict[str, Any]) -> None:
    seen = seen_of([Run(**given) for given in case["input"]])
    assert json.loads(json.dumps(seen._asdict())) == case["expected"]


RUNS = st.lists(
    st.builds(
        Run,
        st.just("blocked"),
        st.sampled_from(["from_port", "from_tip"]),
        st.integers(0, 60),
        st.sampled_from(["read_off", "estimated", "unknown"]),
        st.just(60),
    ),
    max_size=5,
)


@given(RUNS)
def test_nothing_unseen_is_ever_counted_as_seen(runs: list[Run]) -> None:
    """Each run that was read off paints the millimetres it passed; what is left white must be told as unseen."""
    painted = set[int]()
    for run in runs:
        if run.known == "read_off":
            reached = range(run.reached_mm or 0)
            painted |= set(reached) if run.way == "from_port" else {59 - mm for mm in reached}
    seen = seen_of(runs)
    assert seen.why != "both_ends" or painted == set(range(60))
    if seen.unseen is not None:
        assert set(range(*seen.unseen)) == set(range(60)) - painted
