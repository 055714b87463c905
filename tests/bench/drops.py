"""How often a drop on the lens is told over photographs that nothing was set by: held out from the start.

    python tests/bench/drops.py FOLDER [--scenes N] [--first SEED]

FOLDER holds photographs of other packages than scikit-image, six at least, JPEG or PNG. The changes, the path of the
hand, the noise and both bounds are those of `tests/vectors/test_drops.py`; where its numbers come from stands there.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "vectors")]

from photographs import EDGE, Picture  # noqa: E402
from test_drops import CLEAR, DROPS, FALSE_AT_MOST, MUST_TELL, TOLD_FROM, told  # noqa: E402


def opened(path: Path) -> Picture:
    """Its greys, as `photographs.photograph` makes them."""
    image = Image.open(path).convert("L")
    if max(image.size) > EDGE:
        share = EDGE / max(image.size)
        image = image.resize((round(image.width * share), round(image.height * share)), Image.Resampling.BOX)
    return np.asarray(image, dtype=float)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--scenes", type=int, default=20)
    parser.add_argument("--first", type=int, default=1000)
    asked = parser.parse_args()
    paths = sorted(path for path in asked.folder.iterdir() if path.suffix in (".jpg", ".png"))
    pictures = [opened(path) for path in paths]
    seeds = range(asked.first, asked.first + asked.scenes)
    found: dict[str, float] = {}
    for name, change in (DROPS | CLEAR).items():  # one after another: all of their frames are over 2 GB
        with tempfile.TemporaryDirectory() as folder:
            found |= told({name: change}, seeds, Path(folder), pictures)
    false_alarms = float(np.mean([found[name] for name in CLEAR]))
    held = false_alarms <= FALSE_AT_MOST and all(found[name] >= TOLD_FROM for name in MUST_TELL)
    print(json.dumps({
        "photographs": [path.name for path in paths], "scenes": asked.scenes, "told": found,
        "false alarms": false_alarms, "bounds": {"told from": TOLD_FROM, "false at most": FALSE_AT_MOST}, "held": held,
    }, indent=1))  # fmt: skip
    return 0 if held else 1


if __name__ == "__main__":
    sys.exit(main())
