"""The page on the wire, made from the tables; and the hash of the table of messages. Not for the board.

python -m firmware_protocol.describe > docs/wire-protocol.md
"""

import binascii

from firmware_protocol import messages, protocol_words, reasons
from firmware_protocol.settings import SETTING_TABLE

# Files of this package that are not copied to the board. `board/main.py` goes there as `main.py` too.
HOST_ONLY = ("describe.py", "protocol_words.py", "reason_names.py")
SIZES = {"B": "u8", "H": "u16", "I": "u32", "S": "text 16", "*": "0 to 16 x u32"}


def fields_of(make: type) -> list[str]:
    """Field names of one of the table's namedtuples."""
    names: list[str] = list(make._fields)  # type: ignore[attr-defined]
    return names


def direction_of(number: int) -> str:
    """Who sends it."""
    return "to board" if number < messages.FIRST_FROM_BOARD else "from board"


def schema_hash(table: tuple[tuple[int, type, str], ...] = messages.TABLE) -> int:
    """CRC-32 of the table as text: version, numbers, names, fields and codes. Both ends must agree on it."""
    text = "v%d" % messages.VERSION
    for number, make, codes in table:
        text += ";%d %s" % (number, make.__name__)
        for name, code in zip(fields_of(make), codes):  # noqa: B905
            text += ",%s %s" % (name, code)
    return binascii.crc32(text.encode()) & 0xFFFFFFFF


def field_words(message: str, field: str) -> str:
    """What a field means. KeyError where nobody has said so yet."""
    own = protocol_words.FIELDS.get("%s.%s" % (message, field))
    return own or protocol_words.FIELDS[field]


def message_lines(number: int, make: type, codes: str) -> list[str]:
    """The section of one message."""
    name = make.__name__
    lines = ["", "### %d %s (%s)" % (number, name, direction_of(number)), "", protocol_words.MESSAGES[name]]
    if name == "Settings":
        return lines
    lines += ["", "| field | size | meaning |", "|---|---|---|"]
    for field, code in zip(fields_of(make), codes):  # noqa: B905
        lines.append("| `%s` | %s | %s |" % (field, SIZES[code], field_words(name, field)))
    return lines


def reason_lines() -> list[str]:
    """The table of stop reasons."""
    lines = ["", "| number | reason | stop kind | reset asked for | meaning |", "|---|---|---|---|---|"]
    for number, name, kind, latched in reasons.REASONS:
        words = protocol_words.REASONS[name]
        kind_name = reasons.STOP_KIND_NAMES[kind]
        row = (number, name, kind_name, "yes" if latched else "no", words)
        lines.append("| %d | `%s` | %s | %s | %s |" % row)
    return lines


def refusal_lines() -> list[str]:
    """The table of refusals."""
    lines = ["", "| number | refusal | meaning |", "|---|---|---|"]
    for number, name in reasons.REFUSALS:
        lines.append("| %d | `%s` | %s |" % (number, name, protocol_words.REFUSALS[name]))
    return lines


def setting_lines() -> list[str]:
    """The table of settings."""
    lines = ["", "| id | setting | default | least | most | unit |", "|---|---|---|---|---|---|"]
    for row in SETTING_TABLE:
        lines.append("| %d | `%s` | %d | %d | %d | %s |" % (row + (protocol_words.SETTING_UNITS[row[1]],)))
    return lines


def flag_lines() -> list[str]:
    """The table of the bits of Status.flags."""
    lines = ["", "| bit value | flag | meaning |", "|---|---|---|"]
    for name, words in protocol_words.FLAGS:
        lines.append("| %d | `%s` | %s |" % (getattr(messages, name), name.lower(), words))
    return lines


def page() -> str:
    """The whole page, in Markdown."""
    lines = [protocol_words.INTRODUCTION % (messages.VERSION, messages.MINOR, messages.SCHEMA_HASH)]
    lines += ["## Messages"]
    for number, make, codes in messages.TABLE:
        lines += message_lines(number, make, codes)
    lines += ["", "## Flags of the status"] + flag_lines()
    lines += ["", "## Stop reasons", "", protocol_words.STOP_KINDS] + reason_lines()
    lines += ["", "## Refusals"] + refusal_lines()
    lines += ["", "## Settings kept on the board", "", protocol_words.SETTINGS] + setting_lines()
    lines += ["", protocol_words.COSTS.rstrip()]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(page(), end="")
