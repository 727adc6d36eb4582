"""python -m padwright."""

import os
import sys
import warnings

if __name__ == "__main__":
    if not sys.warnoptions:  # warnings of the libraries are for who develops; `python -W` still shows them
        warnings.simplefilter("ignore")
    # Sums shared among threads end in other last bits with another number of threads; the files would not be the same.
    # Set before numpy is loaded, which reads them then; the arrays here are too narrow to gain by threads.
    for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS"):
        os.environ[_name] = "1"
    try:
        from .cli.main import main  # here, so that an interrupt while it loads is told as one too

        code = main()
    except KeyboardInterrupt:
        print("interrupted.", file=sys.stderr)
        code = 130
    sys.exit(code)
