"""`python -m webapp` is the same as `ringbench`."""

from webapp.cli import main

main()
