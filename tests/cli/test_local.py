"""An operator's own wording named on the command line."""

from pathlib import Path

EXAMPLE = Path(__file__).parents[2] / "docs" / "examples" / "larkspur"


def test_a_directory_of_local_wording_is_judged_by(run):
    said = ("standard push tail to the red line", "standard push, tail to the blue line")

    without, with_local = run("check", *said), run("check", "--local", str(EXAMPLE), *said)

    assert without.out.startswith("say again")
    assert with_local.status == 1
    assert with_local.out.startswith("incorrect")
    assert "red, heard blue" in with_local.out


def test_a_mistake_in_local_wording_is_one_line(run, tmp_path):
    (tmp_path / "calls.jsgf").write_text("#JSGF V1.0;\ngrammar own;\npublic <a> = <b>;\n")

    ran = run("check", "--local", str(tmp_path), "hold short", "holding short")

    assert (ran.status, ran.out) == (2, "")
    assert "calls.jsgf, line 3" in ran.err
    assert ran.err.count("\n") == 1
