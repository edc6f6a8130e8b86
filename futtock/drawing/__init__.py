"""Trade drawings composed on sheets: lines plan, frames, moulds, slabs, bench sheets, shop book.

Functions take computed values and give :class:`~futtock.sheet.sheet.Sheet` values; writing them is
the business of :mod:`futtock.sheet`.
"""
