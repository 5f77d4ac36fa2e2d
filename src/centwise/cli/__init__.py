"""The command line: one module a command. Imports anything below; the commands load what they need when they run."""
