"""The office's own workbooks, sheets and laboratory files as records of the site folder.

Data goes: files opened (`files`), tables found in them and what their columns mean (`find`), questions and answers
(`asking`), records with the cell each came from (`records`), and what is written and withdrawn (`keep`).
"""
