"""The process of the command line: `python -m padwright`, and the command `padwright` of an installed package."""

import os
import sys
import warnings

_MODULE = "python -m padwright"


def command() -> int:
    """Run the command line for the installed command `padwright` and return its exit code."""
    return start("padwright")


def start(program: str = _MODULE) -> int:
    """Make the process ready, run its command line, and return the exit code.

    Parameters
    ----------
    program : str
        What the person typed before the command.
    """
    if not sys.warnoptions:  # warnings of the libraries are for who develops; `python -W` still shows them
        warnings.simplefilter("ignore")
    # Sums shared among threads end in other last bits with another number of threads; the files would not be the same.
    # Set before numpy is loaded, which reads them then; the arrays here are too narrow to gain by threads.
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS"):
        os.environ[name] = "1"
    try:
        from .cli.main import main  # here, so that an interrupt while it loads is told as one too

        return main(program=program)
    except KeyboardInterrupt:
        print("interrupted.", file=sys.stderr)
        return 130


if __name__ == "__main__":
    sys.exit(start())
