"""Decodes one picture in a process of its own, under limits: run as ``python -m`` with the bytes.

Standard input: the file. Arguments: memory in MB, seconds, and the reduction (1, 2, 4 or 8).
Standard output: height, width as two little-endian words, then BGR bytes, EXIF turn applied.
A picture that breaks the decoder breaks only this process.
"""

from __future__ import annotations

import struct
import sys

NO_ROOM = 4
"""The exit code where memory ran out."""


def main() -> int:
    """Decode standard input to standard output; 0 where it worked."""
    memory_mb, seconds, reduction = (int(word) for word in sys.argv[1:4])
    content = sys.stdin.buffer.read()
    try:
        import resource

        limit = memory_mb * 1_000_000
        resource.setrlimit(resource.RLIMIT_AS, (limit, limit))
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 1))
    except (ImportError, ValueError, OSError):
        pass  # a system without such limits still has the caller's clock
    import cv2
    import numpy as np

    cv2.setNumThreads(1)
    flag = {
        1: cv2.IMREAD_COLOR,
        2: cv2.IMREAD_REDUCED_COLOR_2,
        4: cv2.IMREAD_REDUCED_COLOR_4,
        8: cv2.IMREAD_REDUCED_COLOR_8,
    }[reduction]
    try:
        picture = cv2.imdecode(np.frombuffer(content, np.uint8), flag)
    except MemoryError:
        return NO_ROOM
    except cv2.error as error:
        return NO_ROOM if "memory" in str(error).lower() else 3
    if picture is None:
        return 2
    height, width = picture.shape[:2]
    out = sys.stdout.buffer
    out.write(struct.pack("<II", height, width))
    out.write(np.ascontiguousarray(picture).data)
    out.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())
