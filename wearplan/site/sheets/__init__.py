"""Sheets that people fill on paper or in a spreadsheet, and what they propose."""
