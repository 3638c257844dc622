"""The running bench: link, watcher, guard, engine and logbook, stepped together."""
