"""`python -m loupebook VERB`."""

import sys

from loupebook.cli import main

sys.exit(main())
