"""python -m padwright."""

import sys
import warnings

if __name__ == "__main__":
    if not sys.warnoptions:  # warnings of the libraries are for who develops; `python -W` still shows them
        warnings.simplefilter("ignore")
    try:
        from .cli import main  # here, so that an interrupt while it loads is told as one too

        code = main()
    except KeyboardInterrupt:
        print("interrupted.", file=sys.stderr)
        code = 130
    sys.exit(code)
