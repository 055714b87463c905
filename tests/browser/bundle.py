"""Builds pages that tests open, with the bundler of the screens."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

FRONTEND = Path(__file__).resolve().parents[2] / "frontend"
VITE = FRONTEND / "node_modules" / "vite" / "bin" / "vite.js"


def bundle(config: str, folder: Path) -> None:
    """Builds what `config` (from frontend/) names into `folder`; raises AssertionError with the bundler's words.

    Node runs the bundler itself: the Node that comes from the package index has no npx that works.
    """
    node = shutil.which("node")
    assert node is not None, "node is not there: install Node"
    command = [node, str(VITE), "build", "--config", config, "--outDir", str(folder), "--logLevel", "warn"]
    done = subprocess.run(command, cwd=FRONTEND, capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == 0, done.stdout + done.stderr
