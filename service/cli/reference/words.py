"""What every reference page says of itself."""

NOTE = "This page is written by `python -m service reference`; a test compares it with the code.\n"
