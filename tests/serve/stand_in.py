"""Stands in for the screen's process: speaks its protocol, keeps what it is sent."""

import json
import os
import sys
from pathlib import Path


def main() -> None:
    folder, what = Path(sys.argv[1]), sys.argv[2]
    about = {"env": dict(os.environ), "words": sys.argv}
    draft = folder / f".{os.getpid()}"
    draft.write_text(json.dumps(about))
    draft.rename(folder / f"{os.getpid()}.json")
    out = sys.stdout.buffer
    out.write(b"__GANGLION__\n")
    out.flush()
    if what == "fails":
        raise SystemExit(3)
    text = b"a screen " * (1000 if what == "floods" else 1)
    while True:
        out.write(b"D" + len(text).to_bytes(4, "big") + text)
        out.flush()
        if what != "floods":
            break
    kept = (folder / f"{os.getpid()}.sent").open("ab", buffering=0)
    while data := os.read(0, 65536):
        kept.write(data)


if __name__ == "__main__":
    main()
