"""The one door through which every sentence to the rider goes, so that each can be translated.

A `Words` is handed to whoever words something; nothing is kept globally. English is written in
the code and is its own catalogue. Names of places are put in by named placeholders, so that a
translation may order them as its grammar wants.
"""

from gettext import NullTranslations, translation
from pathlib import Path

from babel import Locale, UnknownLocaleError

DOMAIN = "replanner"
CATALOGUES = Path(__file__).parent.parent / "locale"

# Plain "en" reads dates as "Fri 16 Oct": day before month, as most of the world does.
_ENGLISH = Locale("en", "GB")


class Words:
    """Sentences of one language.

    Parameters
    ----------
    translations : gettext.NullTranslations
        A catalogue; the plain base class means English.
    locale : babel.Locale
        How numbers and dates are written in it.
    """

    def __init__(self, translations: NullTranslations, locale: Locale) -> None:
        self._translations = translations
        self.locale = locale

    def say(self, sentence: str, /, **values: str) -> str:
        """Return the sentence in this language, its placeholders filled."""
        return self._translations.gettext(sentence).format(**values)

    def count(self, one: str, many: str, n: int, /, **values: str) -> str:
        """Return the sentence for `n` things, by the language's own plural rule."""
        return self._translations.ngettext(one, many, n).format(**values)

    def as_given(self, text: str) -> str:
        """Return a text made elsewhere in this language where the catalogue has it."""
        return self._translations.gettext(text) if text else ""

    def listed(self, things: tuple[str, ...]) -> str:
        """Return "a, b and c"."""
        if len(things) < 2:  # noqa: PLR2004 - one thing needs no "and"
            return "".join(things)
        return self.say("{most} and {last}", most=", ".join(things[:-1]), last=things[-1])


def words_for(language: str) -> Words:
    """Return the words of a language, English where no catalogue of ours speaks it.

    Parameters
    ----------
    language : str
        A language tag such as "en", "en_US" or "de-AT".
    """
    try:
        locale = Locale.parse(language.replace("-", "_"))
    except (UnknownLocaleError, ValueError):
        return Words(NullTranslations(), _ENGLISH)
    wanted = [str(locale), locale.language]
    found = translation(DOMAIN, CATALOGUES, languages=wanted, fallback=True)
    if type(found) is NullTranslations and (locale.language != "en" or not locale.territory):
        locale = _ENGLISH  # an English sentence with foreign numbers in it misleads
    return Words(found, locale)
