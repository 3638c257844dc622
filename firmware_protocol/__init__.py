"""The wire between host and board, and the code that runs on the board."""
