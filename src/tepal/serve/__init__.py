"""The record over HTTP: entries in and out for phones, pages for the desk, and who may see what. Floor 7."""
