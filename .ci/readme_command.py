"""Print the README's n-th shell command, so that it can be run just as it stands there."""

import re
import sys
from pathlib import Path

readme = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
sys.stdout.write(
    re.findall(r"^```sh\n(.*?)^```$", readme, re.MULTILINE | re.DOTALL)[int(sys.argv[1]) - 1].strip() + "\n"
)
