"""One file a job: load, call one pure function, store.

Each job is imported from its own module, so that judging a file opens no book.
"""
