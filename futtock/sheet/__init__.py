"""The neutral sheet: what is drawn, in millimetres of paper, and its three writers.

A drawing is made once as a :class:`~futtock.sheet.sheet.Sheet` and written as SVG, PDF or DXF.
This room knows no ships.
"""
