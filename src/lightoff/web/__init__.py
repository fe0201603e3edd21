"""The pages: read, convert, call one job, show. One module a page."""
