"""What is printed or mailed: the page, the sheets, the work pack."""
