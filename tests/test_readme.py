"""The README and the developers' page say what is true: their blocks run, and their names exist."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def blocks(text: str) -> list[tuple[str, str, str]]:
    """Language, text, and the text block that follows at once (or nothing) of every block that runs."""
    found = []
    matches = list(BLOCK.finditer(text))
    for i, match in enumerate(matches):
        if match[1] == "text":
            continue
        after = matches[i + 1] if i + 1 < len(matches) else None
        follows = after is not None and after[1] == "text" and not text[match.end() : after.start()].strip()
        found.append((match[1], match[2], after[2] if after is not None and follows else ""))
    return found


def section(title: str) -> str:
    return README.split(f"\n## {title}\n", 1)[1].split("\n## ", 1)[0]


@pytest.fixture
def workplace(tmp_path: Path) -> Path:
    shutil.copytree(ROOT / "sample_maps", tmp_path / "sample_maps")
    return tmp_path


def environment() -> dict[str, str]:
    return {**os.environ, "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"}


TOUR = [b for title in ("A tour of the commands", "The Python interface") for b in blocks(section(title))]


@pytest.mark.parametrize(("language", "code", "expected"), TOUR, ids=[b[1].splitlines()[0][:60] for b in TOUR])
def test_every_block_of_the_tour_runs(language: str, code: str, expected: str, workplace: Path):
    """Each block runs from the checkout's top and prints the lines shown below it."""
    command = ["bash", "-euo", "pipefail", "-c", code] if language == "sh" else [sys.executable, "-c", code]
    done = subprocess.run(command, cwd=workplace, env=environment(), capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert expected in done.stdout
    assert "Traceback" not in done.stderr


def test_the_first_paragraph_is_the_job_and_the_picture_follows():
    """README opens with the job in one paragraph, then a picture that exists, then the two commands."""
    order = [README.index(s) for s in ("You keep small", "![Map of", "\n## Run it\n", "\n## Test it\n")]
    assert order == sorted(order)
    picture = re.search(r"!\[[^\]]+\]\(([^)]+)\)", README)
    assert picture is not None
    assert (ROOT / picture[1]).stat().st_size > 10_000


@pytest.mark.parametrize("title", ["Run it", "Test it"])
def test_both_commands_are_one_line_that_sets_itself_up(title: str):
    """Run it and Test it hold one fenced block each, of one line that makes its own virtual environment."""
    found = blocks(section(title))
    assert len(found) == 1
    line = found[0][1].strip()
    assert "\n" not in line
    assert line.startswith("python3 -m venv .venv && .venv/bin/python -m pip install --quiet ")


def test_ci_runs_the_test_command_of_the_readme():
    """.ci/run takes its test command from README.md instead of having one of its own."""
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "README.md" in script
    assert "readme_line 'Test it'" in script
    assert "-m pytest" not in script


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_paths_and_options_that_the_pages_name_exist(page: str):
    """A path in backquotes is in the repository; an option is one of the commands' or the bench's."""
    text = (ROOT / page).read_text(encoding="utf-8")
    for path in re.findall(r"`((?:src|tests|sample_maps|notebooks|\.ci)/[\w./-]*)`", text):
        assert (ROOT / path).exists(), path
    modules = [*(ROOT / "src/gladebook/cli").glob("*.py"), *(ROOT / "tests/bench").glob("*.py")]
    sources = "".join(p.read_text(encoding="utf-8") for p in modules)
    for option in re.findall(r"`(--[a-z-]+)`", text):
        assert option == "--help" or f'"{option}"' in sources, option
