"""`python -m wheelwork` is the command `wheelwork`."""

import sys

from wheelwork.command import main

sys.exit(main())
