"""``manage.py judge`` and ``manage.py rules``, which need no database."""

import json
import subprocess
import sys
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from intake.rules.catalogue import ALL
from intake.rules.examples import example
from intake.rules.facts_data import facts_to_data
from intake.rules.facts_schema import facts_schema
from intake.rules.findings import Rule
from intake.shipped import shipped_codes, shipped_data


def run(*arguments: str) -> str:
    out = StringIO()
    call_command(*arguments, stdout=out)
    return out.getvalue()


@pytest.fixture
def document(tmp_path: Path):
    def write(**changes: object) -> str:
        base = example(**changes.pop("facts", {}))
        path = tmp_path / "facts.json"
        path.write_text(json.dumps({**facts_to_data(base.sample, base.bottles), **changes}), encoding="utf-8")
        return str(path)

    return write


def test_a_judgement_comes_out_as_json(document):
    said = json.loads(run("judge", document(facts={"anion": {"chilled": False}})))
    assert said["rulebook"]["code"] == "house"
    assert [finding["code"] for finding in said["findings"]] == ["cold.not"]
    assert said["findings"][0]["ions"] == ["nitrate", "phosphate"]
    assert {clock["ion"] for clock in said["clocks"]} >= {"nitrate", "sodium"}
    assert said["clocks"][1]["due_at"] == "2026-11-26T13:05:00Z"
    assert len(said["facts_digest"]) == 64
    assert {item["ion"]: item["reception"] for item in said["outcomes"]}["chloride"] == "accepted"


def test_the_example_can_be_judged(tmp_path: Path):
    path = tmp_path / "example.json"
    path.write_text(run("judge", "--example"), encoding="utf-8")
    assert json.loads(run("judge", str(path)))["findings"] == []


@pytest.mark.parametrize("code", shipped_codes())
def test_every_shipped_rulebook_can_be_named(document, code: str):
    assert json.loads(run("judge", document(rulebook=code)))["rulebook"]["code"] == code
    assert json.loads(run("judge", document(), "--rulebook", code))["rulebook"]["code"] == code


def test_a_rulebook_can_be_written_out(document):
    book = {**shipped_data("house"), "code": "ours", "rows": []}
    said = json.loads(run("judge", document(rulebook=book)))
    assert said["rulebook"]["code"] == "ours"
    assert {finding["code"] for finding in said["findings"]} == {"ion.no_limit"}


def test_what_has_become_of_the_clocks(document):
    said = json.loads(run("judge", document(), "--at", "2026-11-27T00:00:00Z"))
    assert {clock["ion"]: clock["outcome"] for clock in said["clocks"]}["nitrate"] == "late"


REFUSALS = [
    ("no file named", ("judge",), "Name the JSON file to judge"),
    ("no such file", ("judge", "/nowhere/facts.json"), "There is no file /nowhere/facts.json."),
    ("a folder", ("judge", "/"), "cannot be read as text"),
    ("a moment in words", ("judge", "x", "--at", "noon"), "write a moment like"),
    (
        "a moment without a zone",
        ("judge", "x", "--at", "2026-11-24T13:00"),
        "say how far its clock is from UTC",
    ),
    ("no such finding", ("rules", "nothing.here"), "No finding has the code 'nothing.here'."),
]


@pytest.mark.parametrize(("words", "arguments", "said"), REFUSALS, ids=[case[0] for case in REFUSALS])
def test_a_refusal_says_what_to_do(words: str, arguments: tuple, said: str):
    with pytest.raises(CommandError, match=said.replace(".", r"\.")):
        run(*arguments)


def test_faulty_files_are_explained(document, tmp_path: Path):
    with pytest.raises(CommandError, match="There is no rulebook 'ours'"):
        run("judge", document(rulebook="ours"))
    with pytest.raises(CommandError, match="row 1, source: is missing"):
        run("judge", document(rulebook={**shipped_data("house"), "rows": [{"number": 1}]}))
    broken = tmp_path / "broken.json"
    for text, said in [
        ("{", "is not JSON"),
        ("[" * 100_000, "nested too deeply"),
        ("4", "should be an object"),
    ]:
        broken.write_text(text, encoding="utf-8")
        with pytest.raises(CommandError, match=said):
            run("judge", str(broken))
    broken.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(CommandError, match="cannot be read as text"):
        run("judge", str(broken))


def test_facts_can_come_from_standard_input(document):
    path = Path(document())
    done = subprocess.run(
        [sys.executable, "manage.py", "judge", "-"],
        input=path.read_bytes(),
        capture_output=True,
        cwd=Path(__file__).parent.parent.parent,
        check=True,
    )
    assert json.loads(done.stdout)["findings"] == []


def test_all_findings_are_listed_with_an_example():
    text = run("rules")
    for rule in ALL:
        assert f"{rule.code} (" in text
        assert rule.why in text
    assert text.count("  Example: ") == len(ALL)
    assert "seal.absent (note): No custody seal" in run("rules", "seal.absent")


def test_the_list_comes_out_as_json_too():
    [said] = json.loads(run("rules", "cold.not", "--json"))
    assert said["weights"] == ["caution", "note"]
    assert said["example"]["sentence"].startswith("The bottle is not kept cold")
    assert said["example"]["sample"]["key"] == "S1"


@pytest.mark.parametrize("rule", ALL, ids=lambda rule: rule.code)
def test_each_example_can_be_judged_as_it_is_printed(rule: Rule, tmp_path: Path):
    [listed] = json.loads(run("rules", rule.code, "--json"))
    sentence = listed["example"].pop("sentence")
    path = tmp_path / "example.json"
    path.write_text(json.dumps(listed["example"]), encoding="utf-8")
    found = json.loads(run("judge", str(path)))["findings"]
    assert sentence in {finding["sentence"] for finding in found if finding["code"] == rule.code}


def test_the_schema_of_the_file_is_printed():
    schema = json.loads(run("judge", "--schema"))
    assert schema == facts_schema()
    assert schema["properties"]["sample"]["required"] == ["key", "zone", "declared_at"]
