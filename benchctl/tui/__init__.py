"""The bench screen. It holds no rules: it shows snapshots and passes on what the person did."""
