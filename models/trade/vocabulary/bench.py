"""Words of the bench: kinds of work, jobs and what is done to a lot, and how far a build is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from models.trade.vocabulary.terms import Term, Vocabulary, closed, opened

JobKind = Literal["coil", "process"]
BuildState = Literal["started", "making", "finished", "abandoned"]
Timing = Literal["", "right", "odd"]


@dataclass(frozen=True, slots=True, kw_only=True)
class KindOfWork(Term):
    """A kind of work as a file says it (`done`), counted from the parts, once a design, or by the piece.

    Of hand work `counted` is what is counted, its unit, and how. `step` is its step on a sheet of instructions, with
    `{count}` `{rings}` or `{findings}`. A `usual` one a new design starts with, besides its hand work.
    """

    done: str = ""
    hand: bool = False
    once: bool = False
    usual: bool = False
    counted: tuple[str, str, str] = ("", "", "")
    step: str = ""


WORK_KINDS: Vocabulary[str, KindOfWork] = closed(
    "kind of work",
    {
        "setup": KindOfWork(says="setting up", usual=True),
        "open": KindOfWork(
            says="opening rings", offered="To open", done="opened", hand=True,
            counted=("Rings to open", "rings", "Rings that are joined open and do not arrive open."),
            step="Open {count} {rings}: turn the ends past each other, never apart.",
        ),
        "close": KindOfWork(
            says="closing rings", offered="To close", done="closed", hand=True,
            counted=(
                "Rings to close",
                "rings",
                "Every ring that can be opened is closed once, unless it arrives closed and stays closed.",
            ),
            step="Close {count} {rings} in all, so that the ends meet.",
        ),
        "weave": KindOfWork(
            says="weaving", offered="To weave", done="woven", hand=True,
            counted=(
                "Rings to weave in",
                "rings",
                "Rings that are passed through others while open, and scales taken up with them.",
            ),
            step="Weave in {count} {rings} as the picture shows.",
        ),
        "attach": KindOfWork(
            says="attaching findings", offered="To attach", done="attached (findings and beads)", hand=True,
            counted=("Findings to attach", "findings", "Each finding and bead once, each run of chain once."),
            step="Attach {count} {findings}.",
        ),
        "tumble": KindOfWork(says="tumbling", offered="Tumble", done="tumbling", step="Tumble the piece."),
        "polish": KindOfWork(says="polishing", offered="Polish", done="polishing", step="Polish it."),
        "seal": KindOfWork(says="sealing", offered="Seal", done="sealing", step="Seal it."),
        "pack": KindOfWork(says="packing", offered="Pack", done="packing", usual=True),
        "photograph": KindOfWork(
            says="photographs", offered="Take photographs", done="photographs", once=True, usual=True
        ),
        "listing": KindOfWork(
            says="writing the listing", offered="Write the listing", done="writing the listing", once=True, usual=True
        ),
    },
)  # fmt: skip
"""Work in a design, in the order in which it is done."""
HAND_WORK: tuple[str, ...] = WORK_KINDS.those(lambda kind: kind.hand)
"""Hand work whose count comes from the parts unless the design says another."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Work(Term):
    """Work at the bench that can hurt, with its usual cautions; `done` is what a lot was, `dust` whether metal flies,
    `kerf` whether a cut takes something off the wire.

    Common practice in metal workshops, no source.
    """

    cautions: tuple[str, ...]
    done: str = "finished"
    dust: bool = False
    kerf: bool = False


COILING = Work(
    says="coil",
    cautions=(
        "Wear eye protection: wire ends whip when a coil is let go, and spring wire is under tension.",
        "At a drill or lathe tie hair, cords and sleeves back, and wear no gloves.",
        "Leave the guard on, and stop the spindle before you touch the coil.",
    ),
)

CUTS = opened(
    "way to cut a coil",
    {
        "saw": Work(
            says="a saw",
            kerf=True,
            dust=True,
            cautions=(
                "Wear eye protection and hold the coil in a clamp, never in the hand.",
                "Leave the saw's guard on, keep cords away, and wear no gloves at a turning blade.",
                "Catch the metal dust where it arises, and do not breathe it.",
            ),
        ),
        "cut": Work(
            says="a cutter",
            dust=True,
            cautions=(
                "Wear eye protection: cut rings and wire ends fly.",
                "Rest your hands every half hour, and use long handles for hard wire.",
            ),
        ),
    },
)

PROCESSES = opened(
    "process",
    {
        "anodise": Work(
            says="anodise",
            done="anodised",
            cautions=(
                "Electric shock: work with dry hands, switch off before you reach into the bath, and never work alone.",
                "Wear goggles and gloves against acid and lye. Add acid to water, never water to acid.",
                "The bath gives off hydrogen and acid mist: air the room, and keep sparks and flames away.",
            ),
        ),
        "dye": Work(
            says="dye",
            done="dyed",
            cautions=(
                "Wear gloves and goggles; hot dye baths scald and stain.",
                "Air the room, and keep the dye's pots and spoons out of the kitchen.",
            ),
        ),
        "patina": Work(
            says="give a patina",
            done="given a patina",
            cautions=(
                "Patina chemicals are often poisonous or corrosive: wear gloves and goggles, and air the room.",
                "Never mix them, and never use liver of sulphur with acid: it gives off poisonous gas.",
            ),
        ),
        "tumble": Work(
            says="tumble",
            done="tumbled",
            dust=True,
            cautions=(
                "Close the barrel and let the guard stay on while it turns.",
                "Wear hearing protection beside a loud tumbler, and wash its soap off your hands.",
            ),
        ),
        "pickle": Work(
            says="pickle",
            done="pickled",
            cautions=(
                "Pickle is an acid: wear goggles and gloves, air the room, and add acid to water.",
                "Put no iron or steel into it, and rinse what comes out.",
            ),
        ),
        "heat": Work(
            says="heat",
            done="heated",
            cautions=(
                "Work on a fire-proof ground away from what burns, with water at hand, and air the room.",
                (
                    "Never heat galvanised or plated metal, and never metal that may hold cadmium: "
                    "the fumes are poisonous."
                ),
            ),
        ),
        "other": Work(
            says="something else",
            cautions=("Read the sheet of what you use before you open it, and wear what it asks for.",),
        ),
    },
)
"""What is done to a lot, or part of it, that becomes another finish or colour."""

JOB_KINDS: Vocabulary[JobKind, Term] = closed(
    "kind of job", {"coil": Term(says="rings made from wire"), "process": Term(says="a lot made into another look")}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class StateOfBuild(Term):
    """How far a build is, in a word or two; `sentence` ends 'This build …'."""

    sentence: str


BUILD_STATES: Vocabulary[BuildState, StateOfBuild] = closed(
    "state of a build",
    {
        "started": StateOfBuild(says="started", sentence="is started"),
        "making": StateOfBuild(says="under way", sentence="is under way"),
        "finished": StateOfBuild(says="finished", sentence="is finished"),
        "abandoned": StateOfBuild(says="given up", sentence="is given up"),
    },
)
UNDER_WAY: tuple[BuildState, ...] = ("started", "making")
"""The states of a build that holds or uses rings and is not done yet."""

TIMINGS: Vocabulary[Literal["right", "odd"], Term] = closed(
    "word on a timing", {"right": Term(says="right"), "odd": Term(says="odd")}
)
"""What a person says of a build's time that looks odd; nothing said is ''."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerOnTiming(Term):
    """What a person answers who is asked about a time that looks odd, and what the build keeps of it."""

    means: Timing


TIMING_ANSWERS: Vocabulary[Literal["use", "leave"], AnswerOnTiming] = closed(
    "answer on a timing",
    {
        "use": AnswerOnTiming(says="use it anyway", means="right"),
        "leave": AnswerOnTiming(says="leave it out", offered="Leave it out: the likely time stands in", means="odd"),
    },
)

SKILLS: Vocabulary[Literal["1", "2", "3", "4", "5"], Term] = closed(
    "skill",
    {
        "1": Term(says="1, a first piece"),
        "2": Term(says="2, easy"),
        "3": Term(says="3, some practice"),
        "4": Term(says="4, much practice"),
        "5": Term(says="5, expert"),
    },
)
"""How much skill a design takes."""
