"""A fictional studio with three months behind it and a sale ahead, built through the rooms' doors.

What happened stands in ``fixtures/demo`` in days from today; it is told here to the same services
that the pages call, so a demo that builds is a studio that worked.
"""
