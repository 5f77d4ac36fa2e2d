"""What keys are called: by Textual, as they are spoken, and on a button. Text only; imports nothing."""

from __future__ import annotations

SIGN_KEYS = {
    "plus": "+",
    "minus": "-",
    "equals_sign": "=",
    "slash": "/",
    "question_mark": "?",
    "full_stop": ".",
    "comma": ",",
    "semicolon": ";",
    "colon": ":",
    "apostrophe": "'",
    "number_sign": "#",
    "asterisk": "*",
    "exclamation_mark": "!",
    "less_than_sign": "<",
    "greater_than_sign": ">",
    "underscore": "_",
    "backslash": "\\",
    "left_square_bracket": "[",
    "right_square_bracket": "]",
    "left_parenthesis": "(",
    "right_parenthesis": ")",
    "quotation_mark": '"',
    "ampersand": "&",
    "percent_sign": "%",
    "dollar_sign": "$",
    "at": "@",
    "circumflex_accent": "^",
    "grave_accent": "`",
    "left_curly_bracket": "{",
    "right_curly_bracket": "}",
    "vertical_line": "|",
    "tilde": "~",
}
"""What Textual calls the keys of signs, and the signs."""

_KEY_NAMES = {
    "up": "↑",
    "down": "↓",
    "left": "←",
    "right": "→",
    **{f"f{number}": f"F{number}" for number in range(1, 13)},
    "escape": "esc",
    "pageup": "page up",
    "pagedown": "page down",
    **SIGN_KEYS,
}


def key_name(key: str, *, short: bool = False) -> str:
    """Return a key as it is spoken, such as `enter`, or as a button shows it, such as `⏎`."""
    return "⏎" if short and key == "enter" else _KEY_NAMES.get(key, key)
