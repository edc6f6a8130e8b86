"""``python -m futtock`` is ``futtock``."""

from futtock.cli import main

main()
