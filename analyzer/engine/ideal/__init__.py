"""The ideal paths: strips, field line, bracket, and the reference searcher who walks them at the rule
sheet's pace.
"""
