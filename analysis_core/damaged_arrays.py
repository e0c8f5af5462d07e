"""What files of arrays raise when they are damaged. Not among the errors: help needs those, and no archives."""

from __future__ import annotations

import zipfile

#: What opening and reading an .npz raises that is damaged or foreign.
DAMAGED_ARRAYS = (OSError, KeyError, TypeError, ValueError, EOFError, zipfile.BadZipFile, NotImplementedError, MemoryError)
