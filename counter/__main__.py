"""``python -m counter`` is ``rimtally``."""

import sys

from counter.cli import main

sys.exit(main())
