import json

from readback.commands.doctor import look


def test_all_that_every_use_needs_works_here(run):
    ran = run("doctor", "--json")

    checks = {check["name"]: check for check in json.loads(ran.out)["checks"]}
    needed = [check for check in checks.values() if check["needed"]]
    assert {"python", "readback", "grammar", "lexicon", "rules"} <= set(checks)
    assert all(check["works"] for check in needed)
    assert ran.status == 0


def test_every_check_says_in_words_what_it_found(run):
    shown = run("doctor").out.splitlines()

    assert len(shown) == len(list(look()))
    assert all(line.startswith(("✓ ", "✗ ", "– ")) and ": " in line for line in shown)


def test_a_folder_without_a_model_is_told_with_what_to_do(run, tmp_path):
    ran = run("doctor", "--json", "--vosk-model", str(tmp_path))

    checks = {check["name"]: check for check in json.loads(ran.out)["checks"]}
    assert not checks["recogniser vosk"]["works"]
    assert str(tmp_path) in checks["recogniser vosk"]["detail"]


def test_names_of_the_local_wording_are_shown_with_how_they_are_said(run, tmp_path, monkeypatch):
    (tmp_path / "own.names").write_text("Dublin\nBrixham\n", "utf-8")
    settings = tmp_path / "settings.toml"
    settings.write_text("local = '.'\n", "utf-8")
    monkeypatch.setenv("READBACK_SETTINGS", str(settings))

    checks = {check["name"]: check for check in json.loads(run("doctor", "--json").out)["checks"]}

    brixham, dublin = checks["names"]["detail"].split("; ")
    assert brixham.startswith("brixham: B R IH")
    assert brixham.endswith("(guessed)")
    assert dublin == "dublin: D AH B L IH N"
