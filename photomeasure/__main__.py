"""`python -m photomeasure`: the same as the command."""

from photomeasure.cli import main

if __name__ == "__main__":
    main()
