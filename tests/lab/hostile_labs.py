"""Labs of a stranger that try to read, run or fill. Each is a folder that one function makes.

`outside` holds SECRET: nothing of it may be seen. What a lab would run makes a file `ran` there.
"""

from __future__ import annotations

import os
import struct
import sys
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Final

sys.path.append(str(Path(__file__).parents[1] / "proofing"))

from broken import SOUND

SECRET: Final = "KEEP-THIS-TO-YOURSELF"
MARKUP: Final = "<script>document.title='RAN'</script><a href='javascript:x' onclick='1'>"
VIDEO: Final = "<video src='http://192.0.2.1/v'>\n\nThe trunk"
HIDDEN: Final = r"\x5b"
STEERS: Final = "\x1b]0;RAN\x07\x1b[2J\x9b31m"
TURNS: Final = "\u202emoc.elpmaxe\u2066\u200b"
QUESTION: Final = "question: How much is lost along one conductor?"
Made = Callable[[Path, Path], None]
"""Makes the lab in a folder, given the folder outside."""
MADE: Final[dict[str, Made]] = {}
SHOWN: Final[set[str]] = set()
"""Those that can be read: what is hostile in them is shown as text."""


def _with(name: str, text: str | bytes, *, shown: bool = False) -> None:
    data = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text
    MADE[name] = lambda folder, _: _write(folder, data)
    if shown:
        SHOWN.add(name)


def _write(folder: Path, data: bytes) -> None:
    (folder / "lab.md").write_bytes(data)


def _asked(words: str) -> str:
    lines = "".join(f"  {line}\n" for line in words.split("\n"))
    return SOUND.replace(f"{QUESTION}\n", f"question: |\n{lines}")


def _let(formula: str) -> str:
    return SOUND.replace("  length: near + far\n", f"  length: {formula}\n")


def _picture(name: str, make: Made | None = None, written: str = "") -> None:
    def made(folder: Path, outside: Path) -> None:
        _write(folder, _asked(f"![The open cover of it]({written or name})").encode())
        if make:
            make(folder / name, outside)

    MADE[f"picture {name or written}"[:60].replace("/", "|")] = made


def _elsewhere(name: str, target: Callable[[Path], str]) -> None:
    MADE[name] = lambda folder, outside: (folder / "lab.md").symlink_to(target(outside))


# Other files in the place of lab.md.
_elsewhere("lab.md leads to a secret", lambda outside: str(outside / "secret.txt"))
_elsewhere("lab.md leads to a secret with a header", lambda outside: str(outside / "notes.md"))
_elsewhere("lab.md leads up", lambda _: "../../outside/secret.txt")
_elsewhere("lab.md leads to a folder", str)
_elsewhere("lab.md leads to a device", lambda _: "/dev/zero")
_elsewhere("lab.md leads to this process", lambda _: "/proc/self/environ")
_elsewhere("lab.md leads to itself", lambda _: "lab.md")
MADE["lab.md is a pipe"] = lambda folder, _: os.mkfifo(folder / "lab.md")
MADE["lab.md is a folder"] = lambda folder, _: (folder / "lab.md").mkdir()

# Pictures.


def _fill(file: Path, data: bytes) -> None:
    file.write_bytes(data)


_picture("led.png", lambda file, outside: file.symlink_to(outside / "secret.png"))
_picture("pipe.png", lambda file, _: os.mkfifo(file))
_picture("device.png", lambda file, _: file.symlink_to("/dev/urandom"))
_picture("folder.png", lambda file, _: file.mkdir())
_picture("", written="../../outside/secret.png")
_picture("", written="%2e%2e/%2e%2e/outside/secret.png")
_picture("", written="..\\..\\outside\\secret.png")
_picture("", written="/etc/hostname.png")
_picture("", written="file:///etc/hostname.png")
_picture("", written="http://192.0.2.1/x.png")
_picture("a\nb.png", lambda file, _: _fill(file, b"x"), written="<a&#10;b.png>")


def _png(wide: int, high: int, *chunks: tuple[bytes, bytes]) -> bytes:
    head = struct.pack(">IIBBBBB", wide, high, 8, 0, 0, 0, 0)
    whole = [(b"IHDR", head), *chunks, (b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        for kind, data in whole
    )


_ZEROS: Final = zlib.compress(b"\0" * 30_000_000, 9)
_JPEG: Final = bytes.fromhex("ffd8 ffc0 000b 08 ffff ffff 01 01 11 00 ffda 0008 01 01 00 003f 00")
_picture("wide.png", lambda file, _: _fill(file, _png(60_000, 60_000, (b"IDAT", _ZEROS))))
_picture(
    "told.png",
    lambda file, _: _fill(
        file, _png(1, 1, *[(b"zTXt", b"a\0\0" + _ZEROS)] * 20, (b"IDAT", zlib.compress(b"\0\0")))
    ),
)
_picture("wide.jpg", lambda file, _: _fill(file, _JPEG))
_picture("written.jpg", lambda file, _: _fill(file, f"<svg>{MARKUP}</svg>".encode()))

# Labs beside it.
for _other in (
    "../../outside",
    "../outside",
    "/etc",
    ".",
    "..",
    "a/b",
    "nowhere\nelse",
    "x" * 10**5,
):
    _with(
        f"extends {_other[:20]!r}".replace("/", "|"),
        f"---\nextends: {_other!r}\nid: c\nversion: 1.0\ntitle: C\n---\n",
    )

# YAML and Markdown that grow.
_LAUGHS: Final = "a0: &a0 [x, x]\n" + "".join(
    f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]\n" for n in range(1, 30)
)
_with("aliases", f"---\n{_LAUGHS}---\n")
_with("aliases in circles", "---\nid: &a {title: *a}\n---\n")
_with("merged", f"---\nid: &a {{b: 1}}\ntitle: {{<<: [{'*a, ' * 900}*a]}}\n---\n")
_with("a tag that runs", "---\nid: !!python/object/apply:os.system ['touch ran']\ntitle: T\n---\n")
_with("a line of 100 MB", b"---\nid: " + b"x" * 100_000_000 + b"\n---\n")
_with("a line of 900 kB", f"---\nid: {'x' * 900_000}\ntitle: T\nversion: 1.0\n---\n")
_with("deep brackets", f"---\nid: {'[' * 100_000}\n---\n")
_with("deep braces", f"---\nid: {'{a: ' * 50_000}\n---\n")
_with("deep dashes", f"---\nid:\n{'- ' * 50_000}x\n---\n")
_with("deep lines", "---\n" + "".join(f"{' ' * n}a:\n" for n in range(800)) + "---\n")
_with("deep quotes", SOUND + "> " * 20_000 + "x\n", shown=True)
_with("deep lists", SOUND + "- " * 20_000 + "x\n", shown=True)
_with("many openings", SOUND + "[" * 2_900 + "\n\n" + "*a_" * 2_000 + "\n", shown=True)
_with("too many openings", SOUND + "[" * 50_000 + "\n")
_with("hidden openings", SOUND.replace("title: Sound", f'title: "{HIDDEN * 50_000}"'))
_with("many pictures", SOUND + "![" * 1_500 + "\n", shown=True)
_with("many ticks", SOUND + "".join("`" * n + "a" for n in range(1, 400)) + "\n", shown=True)
_with("many tags", SOUND + "<b " * 2_000 + "\n" + "<!" * 2_000 + "\n", shown=True)
_with("many fences", SOUND + "```exercise\n" * 20_000)
_with("many header lines", "---\n" + "".join(f"a{n}: 1\n" for n in range(3_000)) + "---\n")

# Formulas.
_with("deep formula", _let("(" * 50_000 + "1" + ")" * 50_000))
_with("many braces", SOUND + "{{" * 5_000 + "\n")
_with("a loop", SOUND + "{% for a in range(10**9) %}x{% endfor %}\n")
_with("a power", _let("9 ** 9 ** 9 ** 9"))
_with("a long text", _let("'x' * 10 ** 10"))
_with("a class", _let("''.__class__.__mro__[1].__subclasses__()"))
_with("a class by name", SOUND + "{{ near | attr('__class__') }}\n")
_with("a module", SOUND + "{{ cycler.__init__.__globals__.os.popen('touch ran') }}\n")
_with("a file of Jinja", SOUND + "{% include '../../outside/secret.txt' %}\n")
_with("an import of Jinja", SOUND + "{% import '/etc/passwd' as p %}{{ p }}\n")
_with("a format", SOUND + "{{ '{0.__class__}'.format(near) }}\n")
_with("a macro that calls itself", SOUND + "{% macro m() %}{{ m() }}{% endmacro %}{{ m() }}\n")

# Numbers and names.
_with("huge range", SOUND.replace("{from: 2, to: 20}", "{from: 1, to: 1e300, step: 1e-300}"))
_with("huge number", SOUND.replace("to: 20}", f"to: 1{'0' * 100_000}}}"))
_with("endless marks", SOUND.replace("marks: 2", "marks: 1e999"))
_with("no number", SOUND.replace("marks: 2", "marks: .nan"))
_with("rules that nothing keeps", SOUND.replace("far > near", "far < near"))
_with("an id that leads up", SOUND.replace("id: sound", "id: ../../outside/ran"))
_with("an exercise that leads up", SOUND.replace("exercise loss", "exercise ../../outside/ran"))
_with("a NUL", SOUND.replace("The loss", "The \0 loss"))
_with("another encoding", SOUND.encode("utf-16"))
_with("no text", bytes(range(256)) * 1_000)
_with("halves of letters", SOUND.replace("The loss", "The \ud800 loss"))
_with("steering letters", SOUND.replace("title: The loss", f"title: The {STEERS}"))
_with(
    "steering escapes",
    SOUND.replace("title: The loss", f'title: "{STEERS.encode("unicode_escape").decode()}"'),
    shown=True,
)
_with(
    "steering names",
    SOUND.replace("answer: loss\n", f'"{STEERS.encode("unicode_escape").decode()}": 1\n'),
)
_with(
    "turned letters",
    SOUND.replace("title: Sound", f"title: {TURNS}").replace("The loss", TURNS),
    shown=True,
)
_MARKED: Final = (
    SOUND.replace("title: Sound", f'title: "{MARKUP}"\nsummary: "{MARKUP} ![](http://192.0.2.1/y)"')
    .replace("title: The loss", f'title: "{MARKUP}"')
    .replace("conductor?", "conductor? {{ '<scr' ~ 'ipt>' }}")
    .replace("three near parts in a row", f'"{MARKUP}"')
    .replace("Compare three times near with far.", f'"{MARKUP}"')
    .replace("That is both conductors together.", f'"{MARKUP}"')
    .replace("A metre has {{ ohms }} Ω.", f'"{MARKUP.replace("<a", "<video")}"')
)  # fmt: skip
_with("markup everywhere", _MARKED.replace("The trunk", VIDEO), shown=True)
_with("markup for pictures", _MARKED.replace("The trunk", "<img src='http://192.0.2.1/x'> It"))
_with("a picture by formula", SOUND + "{{ '!' ~ '[x](http' ~ '://192.0.2.1/z)' }}\n", shown=True)
