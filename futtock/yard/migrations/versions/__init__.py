"""One module a version; each stays as it was written, whatever the code does later."""
