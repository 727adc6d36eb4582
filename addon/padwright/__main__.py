"""python -m padwright."""

import os
import sys

if __name__ == "__main__":
    try:
        from .cli import main  # here, so that an interrupt while it loads is told as one too

        code = main()
        sys.stdout.flush()
    except KeyboardInterrupt:
        print("interrupted.", file=sys.stderr)
        code = 130
    except BrokenPipeError:  # the reader of our output went away (| head); nothing is left to say
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = 1
    sys.exit(code)
