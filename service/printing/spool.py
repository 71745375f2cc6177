"""To the printer by the system's own spooler (IPP through `lp`), where there is one; never a driver of our own."""

from __future__ import annotations

import shutil
import subprocess
import sys
from dataclasses import dataclass
from typing import Protocol

TIMEOUT_S = 30.0


class NotPrinted(Exception):
    """Paper that did not go out: why, and what to do instead."""

    def __init__(self, problem: str, fix: str) -> None:
        super().__init__(problem, fix)
        self.problem = problem
        self.fix = fix

    def __str__(self) -> str:
        return f"{self.problem}; {self.fix}"


@dataclass(frozen=True, slots=True, kw_only=True)
class CommandResult:
    """How a command ended."""

    code: int
    out: str
    err: str


class CommandRunner(Protocol):
    """The system's commands, as far as printing needs them."""

    def find(self, name: str) -> str | None:
        """Return the path of a command, or None where the system has none."""

    def run(self, arguments: list[str], data: bytes) -> CommandResult:
        """Run a command with data on its standard input. Raises TimeoutError."""


class SystemCommandRunner:
    """The commands of this machine."""

    def find(self, name: str) -> str | None:
        """Return the path of a command on this machine's search path."""
        return shutil.which(name)

    def run(self, arguments: list[str], data: bytes) -> CommandResult:
        """Run a command, no shell between. Raises TimeoutError after half a minute."""
        try:
            done = subprocess.run(arguments, input=data, capture_output=True, timeout=TIMEOUT_S, check=False)
        except subprocess.TimeoutExpired as error:
            raise TimeoutError(arguments[0]) from error
        return CommandResult(code=done.returncode, out=_text(done.stdout), err=_text(done.stderr))


def print_pdf(
    pdf: bytes,
    *,
    queue: str | None,
    title: str,
    copies: int = 1,
    media: str | None = None,
    commands: CommandRunner | None = None,
) -> str:
    """Send a PDF to a print queue and return the spooler's request id.

    `queue`: None is the system's default; `media`: the stock's name as the queue knows it, such as `4x6`. A page is sent at
    its own size: a code that is scaled to the paper is no longer whole dots wide. Raises NotPrinted.
    """
    where = commands or SystemCommandRunner()
    lp = where.find("lp")
    if lp is None:
        raise NotPrinted("this system has no print spooler (no `lp` command)", "save the PDF and print it from another machine")
    if not 1 <= copies <= 100:
        raise NotPrinted(f"{copies} copies", "1 to 100 copies")
    arguments = [lp, "-t", _plain(title), "-n", str(copies), "-o", "print-scaling=none"]
    arguments += ["-o", f"media={_name(media)}"] if media else []
    arguments += ["-d", _name(queue)] if queue else []
    try:
        ran = where.run([*arguments, "-"], pdf)
    except TimeoutError as error:
        raise NotPrinted("the print spooler does not answer", "see that it runs, then print again") from error
    if ran.code != 0:
        raise NotPrinted(
            f"the print spooler refused: {ran.err.strip()[:200] or 'no reason given'}", "choose a queue that `lpstat -a` lists"
        )
    return ran.out.strip().removeprefix("request id is ").split(" ")[0]


def list_print_queues(commands: CommandRunner | None = None) -> tuple[str, ...]:
    """Return the names of the print queues that take work; none where there is no spooler or it does not answer."""
    where = commands or SystemCommandRunner()
    lpstat = where.find("lpstat")
    if lpstat is None:
        return ()
    try:
        ran = where.run([lpstat, "-a"], b"")
    except TimeoutError:
        return ()
    return tuple(line.split(" ")[0] for line in ran.out.splitlines() if line.strip()) if ran.code == 0 else ()


def _name(text: str) -> str:
    """Return a queue's or media's name. Raises NotPrinted for one that could be taken for an option or a command."""
    if not text or len(text) > 120 or not all(letter.isalnum() or letter in "_-.:@" for letter in text) or text[0] == "-":
        raise NotPrinted(f"{text[:40]!r} is no name of a queue or a stock", "letters, digits and _ - . : @")
    return text


def _plain(title: str) -> str:
    kept = "".join(letter if letter.isprintable() else " " for letter in title)[:80].strip()
    return kept.lstrip("-") or "sawbill"


def _text(data: bytes) -> str:
    return data.decode(sys.getfilesystemencoding(), "replace")
