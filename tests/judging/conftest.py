"""Lets the tests of this folder share their builder of cases and the second opinion."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
