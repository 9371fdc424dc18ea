"""The commands: options in, one call, words out."""
