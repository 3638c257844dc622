"""benchctl: the bench hand for a fixed-post mirror polishing table."""
