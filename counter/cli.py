"""The command line.

Exit codes of `rimtally count`:
  0  sure, and it agrees with the expected total or none was given
  1  sure, and short or over
  2  bad use: nothing was counted, or a picture could not be written
  3  not sure, or the comparison can't be made
  4  refused: no such file, no picture, or nothing in it to count
  5  the program broke on a photo (a fault of the program: please report it)
With several photos the highest code of all of them.
The other commands: 0 done, 2 bad use or it could not be done, 5 broke on a photo. Stopped with Ctrl-C: 130.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import TYPE_CHECKING, NoReturn

from counter.commands.common import BAD_USE, BadUse

if TYPE_CHECKING:
    from _typeshed import SupportsWrite

__all__ = ["main"]

#: Every command by name: its module in :mod:`counter.commands`, and what it does.
COMMANDS = {
    "count": "count photos",
    "twins": "compare two pieces that must match",
    "plan": "read written rounds and check them",
    "mat": "write the mat to print and to photograph pieces on, for size and gauge",
    "notebook": "take your notebook away as a zip, take one in, or list it",
    "audit": "count a folder of many makers' rounds and hold each against its round of a plan",
    "evaluate": "count photos whose truth is known and measure how well",
    "render": "make photos whose truth is known (needs the extra 'render')",
    "page": "open the page in a browser",
    "about": "say what is installed, for a report of a fault",
}
#: Commands whose help says what their exit codes mean.
TELLING = ("count", "twins")
#: Exit codes of a process that was stopped: 128 and the number of the signal (common practice).
INTERRUPTED, PIPE_CLOSED = 130, 141


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    argv : sequence of str, optional
        Arguments without the program's name; those of the process by default.

    Returns
    -------
    int
        The exit code, see the module's text.
    """
    if sys.stdout is None:  # closed by whoever started this: the exit code is all that is asked for
        sys.stdout = open(os.devnull, "w")  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a name that the terminal can't show is no reason to stop
            stream.reconfigure(errors="backslashreplace")
    try:
        try:
            options = _parser(sys.argv[1:] if argv is None else argv).parse_args(argv)
            return options.run(options)
        finally:
            sys.stdout.flush()
    except BadUse as error:
        print(f"rimtally: {error}", file=sys.stderr)
        return BAD_USE
    except KeyboardInterrupt:
        print("\nrimtally: stopped", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        _into_nothing()  # whoever read the answers wants no more
        return PIPE_CLOSED
    except OSError as error:
        if _output_is_sound():
            raise
        print(f"rimtally: the answer can't be written: {error.strerror or error}", file=sys.stderr)
        _into_nothing()
        return BAD_USE


def _output_is_sound() -> bool:
    try:
        print(flush=True)
    except OSError:
        return False
    return True


def _into_nothing() -> None:
    """Python writes what is left once more on its way out: into nothing."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        raise BadUse(f"{message} (try: {self.prog} --help)")

    def _print_message(self, message: str, file: SupportsWrite[str] | None = None) -> None:
        # The library's own says nothing where it could not be written.
        (file or sys.stdout).write(message)


class _Version(argparse.Action):
    """Looked up only where it is asked for."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from importlib.metadata import version

        print(f"rimtally {version('rimtally')}")
        parser.exit()


def _parser(given: Sequence[str]) -> argparse.ArgumentParser:
    """The parser of all commands; of those that aren't among the arguments, no more than name and help."""
    codes = __doc__.partition("\n\n")[2]
    shape = argparse.RawDescriptionHelpFormatter
    parser = _Parser(
        prog="rimtally",
        description="Counts the stitches around the rim of a crocheted round from a photo.",
        epilog=codes,
        formatter_class=shape,
    )
    parser.add_argument("--version", action=_Version, nargs=0, help="show the program's version and exit")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    for name, does in COMMANDS.items():
        if name in TELLING:
            command = commands.add_parser(name, help=does, epilog=codes, formatter_class=shape)
        else:
            command = commands.add_parser(name, help=does)
        if name in given:
            module = import_module(f"counter.commands.{name}")
            if hasattr(module, "run"):
                command.set_defaults(run=module.run)
            module.arguments(command)
    return parser
