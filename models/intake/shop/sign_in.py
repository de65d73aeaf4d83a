"""What people hand in to sign in and to choose a password. Who may come in is decided in `operations/shop/sign_in`."""

from __future__ import annotations

import string
import unicodedata

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader

LEAST_SIGNS = 10
MOST_SIGNS = 200
FEWEST_DIFFERENT = 5

# What is tried first everywhere: common practice, no source. Each stands for itself with digits and signs around it,
# with figures for letters, twice over, or in a pair with another one.
_WORDS = """
    access admin administrator angel baby banana baseball basketball beach bench bronze buster butterfly byzantine
    chain chainmail chainmaille change changeme charlie cheese chocolate coffee computer cookie copper daniel
    default diamond dragon family flower football forever freedom friend friends gold guest happy hello hockey home
    house iloveyou internet jessica jewel jewellery jewelry jordan jumpring jumprings kitten letmein login london
    love loveme lovely maille maggie master matrix michael michelle monkey mother myshop nicole ninja nothing owner
    pass passport passphrase passw passwd password passwort pepper please princess private purple qwerty qwertz
    rainbow ring ringbench rings robert root sample secret security server shadow shop silver soccer spring star
    studio summer sunshine super system temp temporary test tester testing thomas tigger trustno user welcome
    whatever winter workshop you
"""
COMMON_WORDS = frozenset(_WORDS.split())
_KEY_ROWS = (
    "01234567890123456789",
    string.ascii_lowercase * 2,
    "qwertyuiopasdfghjklzxcvbnm",
    "qwertzuiopasdfghjklyxcvbnm",
    "azertyuiopqsdfghjklmwxcvbn",
    "1q2w3e4r5t6y7u8i9o0p",
    "1qaz2wsx3edc4rfv5tgb6yhn7ujm",
    "qazwsxedcrfvtgbyhnujm",
)
_AROUND = string.digits + string.punctuation
_AS_LETTERS = str.maketrans("013457@$!", "oleastasi")

SHORT = f"Give at least {LEAST_SIGNS} characters. A few words in a row are long, and easy to keep in mind."
LONG = f"Keep it to {MOST_SIGNS} characters."
COMMON = (
    "That is one of the first that anybody would try. Choose another, such as three or four words that have nothing "
    "to do with each other."
)
STUDIO = "That is the name of your studio, which anybody could guess. Choose another."
UNEQUAL = "The two are not the same. Type it again."
UNSEEN = "This has characters that cannot be typed everywhere. Choose letters, figures and signs."


def read_password(raw: Raw, field: str = "password") -> str:
    """A password as it was typed, blanks and all; the same letters typed on another keyboard are the same."""
    value = raw.get(field)
    return unicodedata.normalize("NFKC", value) if isinstance(value, str) else ""


def read_new_password(raw: Raw, *, studio: str) -> str | Faults:
    """Read a password to be set, from `password` and `password_again`; `studio` is a name that it must not be."""
    password = read_password(raw)
    message = why_not(password, studio=studio)
    if message:
        return Faults.of("password", message)
    if read_password(raw, "password_again") != password:
        return Faults.of("password_again", UNEQUAL)
    return password


def read_password_if_any(raw: Raw, *, studio: str) -> str | Faults:
    """The same for a page where a password may be left out: empty when neither field was filled in."""
    if not read_password(raw) and not read_password(raw, "password_again"):
        return ""
    return read_new_password(raw, studio=studio)


def read_key_name(raw: Raw) -> str | Faults:
    """What a program's key is called."""
    reader = Reader(raw)
    name = reader.text("name", required="Say what the key is for, such as 'order list on the old laptop'.", most=60)
    return reader.faults() or name


def why_not(password: str, *, studio: str) -> str:
    """Why this cannot be the password, in words; empty when it can.

    Long beats mixed: no kind of character is asked for. Source of the rules: NIST SP 800-63B, 5.1.1 (length, no
    composition rules, refuse what is commonly used or follows from the name of the service).
    """
    if len(password) < LEAST_SIGNS:
        return SHORT
    if len(password) > MOST_SIGNS:
        return LONG
    if any(unicodedata.category(sign).startswith("C") for sign in password):
        return UNSEEN
    if _letters(password) and _letters(password) in {_letters(studio), _letters(studio) * 2}:
        return STUDIO
    return COMMON if is_common(password) else ""


def is_common(password: str) -> bool:
    """Whether this is among what is tried first: one word with figures around it, a row of keys, a repeated piece."""
    signs = "".join(sign for sign in password.casefold() if not sign.isspace())
    if len(set(signs)) < FEWEST_DIFFERENT:
        return True
    piece = _repeated(signs)
    if len(piece) < min(len(signs), LEAST_SIGNS):
        return True
    if any(signs in row or signs in row[::-1] for row in _KEY_ROWS):
        return True
    # 'welcome2024', and 'p4ssw0rd!!' once what stands around it is off.
    return _few_words(_letters(signs)) or _few_words(_letters(signs.strip(_AROUND), figures_too=True))


def _letters(text: str, figures_too: bool = False) -> str:
    """Only the letters, small; with `figures_too` what stands for a letter ('0' for 'o') becomes it first."""
    small = text.casefold().translate(_AS_LETTERS) if figures_too else text.casefold()
    return "".join(sign for sign in small if sign.isalpha())


def _repeated(text: str) -> str:
    """The shortest piece that makes this text when repeated; the text itself when there is none."""
    turn = (text + text).find(text, 1)
    return text[:turn]


def _few_words(text: str) -> bool:
    """Whether a text is one of the common words, or two of them."""
    if text in COMMON_WORDS:
        return True
    return any(text[:cut] in COMMON_WORDS and text[cut:] in COMMON_WORDS for cut in range(1, len(text)))
