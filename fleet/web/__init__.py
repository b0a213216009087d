"""Serves feeds and sheets over HTTP; nothing can be written through it."""
