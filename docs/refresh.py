"""Makes anew what the docs show of the program: printed texts and pictures.

    python docs/refresh.py

Texts stand in fenced blocks below a line ``<!-- printed by: COMMAND -->``; a test compares them
with what the command prints. Pictures are those of the samples, made smaller.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

DOCS = Path(__file__).parent
ROOT = DOCS.parent
BLOCK = re.compile(r"(<!-- printed by: (?P<command>.*?) -->\n```text\n)(?P<text>.*?)(```)", re.S)
WIDTH = 1000
PICTURES = {
    "clock-out/pictures/plan-back.png": "plan-back.png",
    "clock-out/pictures/plan-front.png": "plan-front.png",
    "clock-out/pictures/margin-back.png": "margin-back.png",
    "clock-out/pictures/section-11-hollow.png": "section.png",
    "deep-out/pictures/section-01-movement.png": "refused.png",
}


def printed(command: str, folder: Path) -> str:
    """What `keepclear COMMAND` prints on stdout, run with its results in `folder`."""
    words = [str(ROOT / w) if w.startswith("samples/") else w for w in command.split()]
    run = [sys.executable, "-m", "toolpath", *words]
    return subprocess.run(run, cwd=folder, capture_output=True, text=True, check=False).stdout


def main() -> None:
    """Refresh every page and picture."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for page in DOCS.glob("*.md"):
            text = page.read_text()
            new = BLOCK.sub(lambda m: m[1] + printed(m["command"], folder) + m[4], text)
            page.write_text(new)
        for source, target in PICTURES.items():
            picture = Image.open(folder / source)
            size = (WIDTH, picture.height * WIDTH // picture.width)
            small = picture.convert("RGB").resize(size, Image.Resampling.LANCZOS)
            (DOCS / "pictures").mkdir(exist_ok=True)
            small.quantize(64).save(DOCS / "pictures" / target, optimize=True)


if __name__ == "__main__":
    main()
