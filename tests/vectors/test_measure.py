"""Lengths in a photo: worked by hand from the GUM (JCGM 100:2008), and against a simulation as in JCGM 101:2008.

The simulation draws every point and the size where `rules/measure` says they may be, a hundred thousand times, and
knows nothing of the law of propagation.
"""

import json
import math
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pytest
from loupebook.record.kinds import Length
from loupebook.rules.measure import said_by

pytestmark = pytest.mark.photos

FILE = json.loads((Path(__file__).resolve().parents[2] / "shared/vectors/measure.json").read_text())
DRAWS = 100_000


def length_of(given: dict[str, Any]) -> Length:
    return msgspec.convert({"photo": "0" * 64, **given}, Length)


@pytest.mark.parametrize("case", FILE["lengths"], ids=lambda case: case["description"])
def test_a_length_and_its_uncertainty(case: dict[str, Any]) -> None:
    assert said_by(length_of(case["input"])) == case["expected"]


def simulated(length: Length, random: np.random.Generator) -> np.ndarray[Any, Any]:
    """Lengths as they come out when each point lands anywhere within its aim, and the size anywhere within its own."""
    aim = length.aim_px100 / 100

    def drawn(spot: Any) -> np.ndarray[Any, Any]:
        here = np.array([spot.x * length.width / 10000, spot.y * length.height / 10000])
        return here + random.uniform(-aim, aim, (DRAWS, 2))

    size = length.against.size_um + random.uniform(-1, 1, DRAWS) * length.against.tolerance_um
    seen = np.linalg.norm(drawn(length.a) - drawn(length.b), axis=1)
    known = np.linalg.norm(drawn(length.against.a) - drawn(length.against.b), axis=1)
    found: np.ndarray[Any, Any] = size * seen / known
    return found


def drawn_lengths(count: int) -> list[Length]:
    """Photos, points and references of any kind, from 20 aims upwards."""
    random = np.random.default_rng(20261128)
    found: list[Length] = []
    while len(found) < count:
        spots = [{"x": int(x), "y": int(y)} for x, y in random.integers(0, 10001, (4, 2))]
        size = int(random.integers(500, 50_000))
        given = {
            "width": int(random.integers(600, 4000)),
            "height": int(random.integers(600, 4000)),
            "a": spots[0],
            "b": spots[1],
            "aim_px100": int(random.integers(50, 800)),
            "against": {
                "what": "other",
                "size_um": size,
                "tolerance_um": int(size * random.choice([0, 0.01, 0.05])),
                "a": spots[2],
                "b": spots[3],
            },
        }
        length = length_of(given)
        near = min(
            math.dist(*[(s["x"] * length.width / 1e4, s["y"] * length.height / 1e4) for s in pair])
            for pair in (spots[:2], spots[2:])
        )
        if near >= 20 * length.aim_px100 / 100:
            found.append(length)
    return found


def test_the_law_of_propagation_and_a_simulation_say_the_same() -> None:
    """Standard uncertainty within 4 %, and 93 to 100 of 100 simulated lengths within what is said."""
    random = np.random.default_rng(7)
    for length in drawn_lengths(40):
        said = said_by(length)
        assert said is not None
        found = simulated(length, random)
        assert said["plus_minus_um"] / 2 == pytest.approx(found.std(), rel=0.04, abs=1)
        within = np.mean(np.abs(found - said["um"]) <= said["plus_minus_um"])
        assert 0.93 <= within <= 1, (within, length)
