"""The teacher's decisions: read from marks.xlsx, kept in the folder, applied before and after judging.

folder ──read──> decisions ──bind──> those of today's class ──before──> class sheet, practical ──judge──> ──after──>
"""
