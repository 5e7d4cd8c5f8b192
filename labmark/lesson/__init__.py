"""Before the lesson: the class workbook, what has to be prepared, and whether the practical works at all."""
