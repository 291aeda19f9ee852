"""The languages that the speech model knows, by its own codes; pure, so that a plan can be made without loading it."""

from __future__ import annotations

from archive.domain.languages import primary

# Whisper's own list (tests compare it with the engine's).
KNOWN = frozenset(
    ["af", "am", "ar", "as", "az", "ba", "be", "bg", "bn", "bo", "br", "bs", "ca", "cs", "cy", "da", "de", "el", "en", "es", "et", "eu", "fa", "fi", "fo", "fr", "gl", "gu", "ha", "haw", "he", "hi", "hr", "ht", "hu", "hy", "id", "is", "it", "ja", "jw", "ka", "kk", "km", "kn", "ko", "la", "lb", "ln", "lo", "lt", "lv", "mg", "mi", "mk", "ml", "mn", "mr", "ms", "mt", "my", "ne", "nl", "nn", "no", "oc", "pa", "pl", "ps", "pt", "ro", "ru", "sa", "sd", "si", "sk", "sl", "sn", "so", "sq", "sr", "su", "sv", "sw", "ta", "te", "tg", "th", "tk", "tl", "tr", "tt", "uk", "ur", "uz", "vi", "yi", "yo", "yue", "zh"]
)
_OTHERWISE = {"nb": "no", "fil": "tl", "jv": "jw", "cmn": "zh", "iw": "he", "in": "id", "ji": "yi", "mo": "ro"}  # as the model calls them


def heard_as(tag: str) -> str | None:
    """The model's code for the language of a tag (en-GB → en, nb → no); None where it does not know the language."""
    code = primary(tag)
    code = _OTHERWISE.get(code, code)
    return code if code in KNOWN else None
