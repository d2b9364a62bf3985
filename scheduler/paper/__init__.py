"""What people hold: the workbook for the wall, and plain tables for the terminal."""
