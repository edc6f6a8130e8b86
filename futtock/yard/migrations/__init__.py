"""The schema's migrations, run by :mod:`futtock.yard.migrate` only where a journal is older."""
