"""Lets the tests of this folder share their one heater."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
