"""The audit of CI: what is known is said, and what is not known is not called sound."""

from __future__ import annotations

from tests.robustness.ci_scripts import FOLDER, script

SOUND = {"name": "alpha", "version": "1.0", "vulns": []}
WEAK = {
    "name": "beta",
    "version": "2.0",
    "vulns": [{"id": "INVENTED-1", "fix_versions": ["2.1"], "description": ""}],
}
UNKNOWN = {"name": "gamma", "skip_reason": "not found"}


def test_a_known_weakness_fails() -> None:
    code, lines = script("audit").verdict({"dependencies": [SOUND, WEAK]})
    assert code == 1
    assert lines[-1] == "beta 2.0: INVENTED-1 (mended in 2.1)"


def test_what_could_not_be_looked_up_is_said_and_does_not_fail() -> None:
    code, lines = script("audit").verdict({"dependencies": [SOUND, UNKNOWN]})
    assert code == 0
    assert lines[0] == "audit: 1 of 2 packages looked up, 0 weaknesses"
    assert lines[1] == "audit: NOT looked up, so nothing is known of them: gamma"


def test_ci_runs_it() -> None:
    assert ".ci/audit" in (FOLDER / "run").read_text()
