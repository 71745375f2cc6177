"""Printing by the system's spooler: what it is asked, and what people are told where there is none."""

from __future__ import annotations

import pickle

import pytest

from service.printing.spool import CommandResult, NotPrinted, list_print_queues, print_pdf


class FakeSystem:
    """A system with the commands named, that remembers what it ran."""

    def __init__(self, *names: str, ran: CommandResult | None = None, slow: bool = False) -> None:
        self.names, self.ran, self.slow = (
            names,
            ran or CommandResult(code=0, out="request id is zebra-7 (1 file(s))\n", err=""),
            slow,
        )
        self.asked: list[tuple[list[str], bytes]] = []

    def find(self, name: str) -> str | None:
        return f"/usr/bin/{name}" if name in self.names else None

    def run(self, arguments: list[str], data: bytes) -> CommandResult:
        self.asked.append((arguments, data))
        if self.slow:
            raise TimeoutError(arguments[0])
        return self.ran


def test_a_label_goes_out_unscaled_with_its_stock_and_title() -> None:
    system = FakeSystem("lp")
    assert print_pdf(b"%PDF", queue="zebra", title="labels plan-1", media="4x6", commands=system) == "zebra-7"
    arguments, data = system.asked[0]
    assert data == b"%PDF"
    assert arguments == [
        "/usr/bin/lp",
        "-t",
        "labels plan-1",
        "-n",
        "1",
        "-o",
        "print-scaling=none",
        "-o",
        "media=4x6",
        "-d",
        "zebra",
        "-",
    ]


def test_without_a_queue_the_systems_default_prints() -> None:
    system = FakeSystem("lp")
    print_pdf(b"%PDF", queue=None, title="t", commands=system)
    assert "-d" not in system.asked[0][0]


def test_where_there_is_no_spooler_the_message_says_what_to_do_instead() -> None:
    with pytest.raises(NotPrinted, match=r"no print spooler .*save the PDF"):
        print_pdf(b"%PDF", queue=None, title="t", commands=FakeSystem())


def test_a_refusal_is_passed_on_in_the_spoolers_words() -> None:
    system = FakeSystem("lp", ran=CommandResult(code=1, out="", err="lp: The printer or class does not exist.\n"))
    with pytest.raises(NotPrinted, match=r"does not exist.*lpstat"):
        print_pdf(b"%PDF", queue="nowhere", title="t", commands=system)


def test_a_spooler_that_hangs_is_given_up() -> None:
    with pytest.raises(NotPrinted, match="does not answer"):
        print_pdf(b"%PDF", queue=None, title="t", commands=FakeSystem("lp", slow=True))
    assert list_print_queues(FakeSystem("lpstat", slow=True)) == ()


@pytest.mark.parametrize("queue", ["-o raw", "a b", "x;rm", "$(id)", "-", "q" * 121])
def test_a_queue_name_is_never_taken_for_an_option(queue: str) -> None:
    system = FakeSystem("lp")
    with pytest.raises(NotPrinted, match="is no name"):
        print_pdf(b"%PDF", queue=queue, title="t", commands=system)
    assert system.asked == []


@pytest.mark.parametrize("copies", [0, -1, 101])
def test_copies_are_bounded(copies: int) -> None:
    with pytest.raises(NotPrinted, match="1 to 100"):
        print_pdf(b"%PDF", queue=None, title="t", copies=copies, commands=FakeSystem("lp"))


def test_a_title_never_begins_with_a_dash_nor_holds_control_letters() -> None:
    system = FakeSystem("lp")
    print_pdf(b"%PDF", queue=None, title="--x\n\x1bz", commands=system)
    assert system.asked[0][0][2] == "x  z"


def test_queues_are_those_that_take_work() -> None:
    ran = CommandResult(code=0, out="zebra accepting requests since Mon\nlaser accepting requests since Tue\n", err="")
    assert list_print_queues(FakeSystem("lpstat", ran=ran)) == ("zebra", "laser")
    assert list_print_queues(FakeSystem()) == ()
    assert list_print_queues(FakeSystem("lpstat", ran=CommandResult(code=1, out="x", err=""))) == ()


def test_not_printed_survives_pickling() -> None:
    again = pickle.loads(pickle.dumps(NotPrinted("a", "b")))
    assert (again.problem, again.fix, str(again)) == ("a", "b", "a; b")
