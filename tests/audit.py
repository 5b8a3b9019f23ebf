"""Known vulnerabilities among the pinned packages: fails on any, and says so where the advisory service is away.

python -m tests.audit constraints.txt
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from itertools import takewhile
from pathlib import Path

NOT_RUN = "advisory service not reachable, audit not run"
_SERVICE_AWAY = ("ConnectionError", "ServiceError", "Max retries", "timed out", "503", "Could not connect")


def first_pin(lock: str) -> str:
    """The first requirement of a lock file with its hashes."""
    first, *rest = lock.splitlines()
    return "\n".join([first, *takewhile(lambda line: line.startswith("    --hash"), rest)])


def verdict(report: str, message: str) -> tuple[int, str]:
    """Exit code and sentence for what the audit printed: its JSON report and its messages."""
    try:
        packages = json.loads(report)["dependencies"]
    except (ValueError, KeyError, TypeError):
        away = any(word in message for word in _SERVICE_AWAY)
        return (0, NOT_RUN) if away else (1, f"the audit failed: {message.strip()[-500:]}")
    result = [f"{p['name']} {p['version']}: {v['id']}" for p in packages for v in p.get("vulns", ())]
    skipped = [p["name"] for p in packages if "skip_reason" in p]
    if result:
        return 1, "known vulnerabilities: " + "; ".join(result)
    if len(skipped) == len(packages):
        return 0, NOT_RUN
    if skipped:
        return 1, "could not be audited: " + ", ".join(skipped)
    return 0, f"{len(packages)} packages, no known vulnerability"


def audit(lock: Path) -> tuple[int, str]:
    """Audit ``lock``, after its first package alone has shown that the service answers."""
    with tempfile.TemporaryDirectory() as place:
        first = Path(place) / "first.txt"
        first.write_text(first_pin(lock.read_text(encoding="utf-8")) + "\n", encoding="utf-8")
        result = verdict(*_run(first))
    return result if result[1] == NOT_RUN else verdict(*_run(lock))


def _run(lock: Path) -> tuple[str, str]:
    command = [
        sys.executable,
        "-m",
        "pip_audit",
        "--require-hashes",
        "--disable-pip",
        "--progress-spinner",
        "off",
        "--timeout",
        "10",
    ]
    done = subprocess.run([*command, "-f", "json", "-r", str(lock)], capture_output=True, text=True, check=False)
    return done.stdout, done.stderr


if __name__ == "__main__":
    code, sentence = audit(Path(sys.argv[1]))
    print(sentence)
    sys.exit(code)
