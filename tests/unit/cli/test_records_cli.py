"""``festoon records``: what it answers, with which exit code, and what it keeps."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from PIL import Image

from festoon.cli.exits import Exit
from festoon.cli.main import run
from festoon.records.demo import demo_case

CHART = "tooth,site,probing,recession,attachment\n11,MB,3,0,3\n11,B,2,1,3\n12,B,3,1,9\n"


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A store of its own for each test."""
    monkeypatch.setenv("FESTOON_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("FESTOON_BY", "op-1")
    return tmp_path / "home"


@pytest.fixture
def chart(tmp_path: Path) -> Path:
    path = tmp_path / "Vera Beispiel.csv"  # files are named after people: it must not get anywhere
    path.write_text(CHART)
    return path


def _json(capsys: pytest.CaptureFixture[str]) -> dict[str, object]:
    made: dict[str, object] = json.loads(capsys.readouterr().out)
    return made


def test_a_preview_keeps_nothing(chart: Path, home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """How every cell was understood and what does not add up, without a store being made."""
    assert run(["records", "import", str(chart), "--case", "demo-a", "--notation", "fdi", "--preview"]) == Exit.DONE
    printed = capsys.readouterr().out
    assert "'MB' -> mesial" in printed
    assert "row 4: 12 midfacial: attachment 9 mm, but probing 3 + recession 1 = 4 mm" in printed
    assert "nothing was kept" in printed
    assert not home.exists()


def test_a_table_that_could_mean_two_things_is_refused(chart: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 3, the question, and nothing kept."""
    assert run(["records", "import", str(chart), "--case", "demo-a"]) == Exit.INPUT_REFUSED
    assert "declare --notation fdi or --notation universal" in capsys.readouterr().err
    assert run(["records", "list", "--json"]) == Exit.DONE
    assert _json(capsys) == []


def test_strict_refuses_what_does_not_add_up(chart: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """For a practice that wants its tables whole."""
    options = ["--case", "demo-a", "--notation", "fdi", "--strict"]
    assert run(["records", "import", str(chart), *options]) == Exit.INPUT_REFUSED
    assert "5 mm apart" in capsys.readouterr().err


def test_what_is_kept_comes_back_and_is_settled(
    chart: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Import, show, settle, export, import the export elsewhere: the same readings; verify says whole."""
    assert run(["records", "import", str(chart), "--case", "demo-a", "--notation", "fdi", "--save-map", "ours"]) == 0
    capsys.readouterr()
    assert run(["records", "show", "demo-a", "--json"]) == 0
    shown = _json(capsys)
    assert shown["n_readings"] == 9
    assert shown["to_settle"] == [
        "reading 9: demo-a 12 midfacial: attachment 9 mm, but probing 3 + recession 1 = 4 mm: 5 mm apart"
    ]
    assert run(["records", "settle", "demo-a", "9", "--why", "misheard"]) == 0
    out = tmp_path / "demo-a.csv"
    assert run(["records", "export", "demo-a", "-o", str(out)]) == 0
    assert run(["records", "import", str(out), "--case", "demo-b"]) == 0
    assert run(["records", "export", "demo-b", "-o", str(tmp_path / "again.csv")]) == 0
    assert (tmp_path / "again.csv").read_bytes() == out.read_bytes()
    # The kept map reads the practice's next table without a question.
    chart.write_text(CHART.replace("12,B,3,1,9", "12,B,3,1,4"))
    assert run(["records", "import", str(chart), "--case", "demo-c", "--map", "ours"]) == 0
    capsys.readouterr()
    assert run(["records", "verify", "--json"]) == 0
    assert _json(capsys)["whole"] is True


def test_a_sign_the_wrong_way_round_is_asked_about(chart: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A practice that writes recession as negative: its sums tell, and it is asked, not turned in silence."""
    chart.write_text("tooth,site,probing,recession,attachment\n11,MB,3,-1,4\n11,B,2,-2,4\n12,B,3,0,3\n12,MB,2,-1,9\n")
    options = ["--case", "demo-a", "--notation", "fdi", "--preview"]
    assert run(["records", "import", str(chart), *options]) == 0
    assert "CAUTION: 2 of these add up if recession is charted the other way round" in capsys.readouterr().out


def test_no_name_of_a_file_gets_into_the_store(chart: Path, home: Path) -> None:
    """A practice names its files after people."""
    run(["records", "import", str(chart), "--case", "demo-a", "--notation", "fdi"])
    picture = chart.with_name("Vera Beispiel.jpg")
    Image.new("RGB", (8, 8)).save(picture, "JPEG", comment=b"Vera Beispiel")
    assert run(["records", "attach", "demo-a", str(picture), "--kind", "photo"]) == 0
    run(["records", "backup"])
    everything = b"".join(path.read_bytes() for path in home.rglob("*") if path.is_file())
    assert b"Beispiel" not in everything
    assert not [path for path in home.rglob("*") if "Beispiel" in path.name]


def test_a_picture_that_cannot_be_cleaned_is_refused_without_its_name(
    chart: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Damaged, so nobody knows what it holds."""
    picture = chart.with_name("Vera Beispiel.jpg")
    picture.write_bytes(b"\xff\xd8\xff\xe1")
    assert run(["records", "attach", "demo-a", str(picture), "--kind", "photo"]) == Exit.INPUT_REFUSED
    assert "Beispiel" not in capsys.readouterr().err


def test_a_case_is_planned_signed_and_moved(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """From case file to signed plan to another machine, where the signature still stands."""
    path = Path(__file__).parents[2] / "cases" / "full.yaml"
    case = "full-example"
    assert run(["records", "import", str(path)]) == 0
    assert run(["records", "plan", case]) == 0
    assert run(["records", "sign", case, "1", "--role", "surgeon", "--reason", "agreed"]) == 0
    assert run(["records", "sign", case, "1", "--role", "surgeon", "--reason", "twice"]) == Exit.FAILED
    archive = tmp_path / "moved.zip"
    assert run(["records", "export", case, "-o", str(archive)]) == 0
    monkeypatch.setenv("FESTOON_HOME", str(tmp_path / "other"))
    assert run(["records", "import", str(archive)]) == 0
    capsys.readouterr()
    assert run(["records", "show", case, "--json"]) == 0
    (plan,) = _json(capsys)["plans"]
    assert plan["signed_by"] == ["op-1"]
    assert run(["records", "verify"]) == 0


def test_a_signature_needs_a_code(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """The account name of the computer is never taken for it."""
    monkeypatch.delenv("FESTOON_BY")
    assert run(["records", "sign", "x", "1", "--role", "surgeon", "--reason", "ok"]) == Exit.COMMAND_WRONG
    assert "needs your code" in capsys.readouterr().err
    assert run(["records", "list", "--search", "x"]) == 0


def test_kept_readings_go_into_the_plan(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A further reading that contradicts the case file stops the plan until it is set aside."""
    path = tmp_path / "case.yaml"
    path.write_bytes(demo_case("linden-04"))
    typed = tmp_path / "typed.txt"
    typed.write_text("notation: fdi\n11 width 6.0 by scan\n")
    run(["records", "import", str(path)])
    assert run(["records", "import", str(typed), "--case", "linden-04"]) == 0
    capsys.readouterr()
    assert run(["records", "show", "linden-04", "--json"]) == 0
    assert any("teeth.11.width_mm" in str(line) for line in _json(capsys)["to_settle"])  # type: ignore[attr-defined]
    assert run(["records", "plan", "linden-04"]) == Exit.INPUT_REFUSED
    assert "settle" in capsys.readouterr().err.lower()
    assert run(["records", "settle", "linden-04", "1", "--why", "wrong tooth"]) == 0
    assert run(["records", "plan", "linden-04"]) == 0


def test_stale_work_is_told_and_kept(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The second of two people gets exit 1 and is told where both versions are."""
    path = tmp_path / "case.yaml"
    path.write_bytes(demo_case("linden-04"))
    assert run(["records", "import", str(path)]) == 0
    assert run(["records", "import", str(path), "--base", "1"]) == 0
    assert run(["records", "import", str(path), "--base", "1"]) == Exit.FAILED
    assert "kept beside it as version 3" in capsys.readouterr().err


def test_backup_delete_restore(tmp_path: Path, chart: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What was deleted on request stays deleted after a restore."""
    for case in ("demo-a", "demo-b"):
        run(["records", "import", str(chart), "--case", case, "--notation", "fdi"])
    assert run(["records", "backup", "-o", str(tmp_path / "backup")]) == 0
    assert run(["records", "delete", "demo-b", "--why", "asked for", "--yes"]) == 0
    assert run(["records", "restore", str(tmp_path / "backup"), "--why", "disk failed"]) == 0
    capsys.readouterr()
    assert run(["records", "list", "--json"]) == 0
    assert [line["case"] for line in _json(capsys)] == ["demo-a"]  # type: ignore[call-overload, index]
    assert run(["records", "verify"]) == 0


def test_a_broken_trail_ends_with_exit_1(chart: Path, home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """For a script that watches."""
    import sqlite3
    from contextlib import closing

    run(["records", "import", str(chart), "--case", "demo-a", "--notation", "fdi"])
    with closing(sqlite3.connect(home / "records.db")) as connection:
        connection.execute("UPDATE readings SET value = 1.0 WHERE number = 3")
        connection.commit()
    assert run(["records", "verify"]) == Exit.FAILED
    assert "NOT WHOLE" in capsys.readouterr().out


def test_a_case_file_goes_out_and_in_again(tmp_path: Path) -> None:
    """The exported case file is the case with all kept readings, and imports."""
    path = tmp_path / "case.yaml"
    path.write_bytes(demo_case("linden-04"))
    run(["records", "import", str(path)])
    out = tmp_path / "out.yaml"
    assert run(["records", "export", "linden-04", "-o", str(out)]) == 0
    assert run(["records", "import", str(out)]) == 0
    again = tmp_path / "again.yaml"
    assert run(["records", "export", "linden-04", "-o", str(again)]) == 0
    assert again.read_text() == out.read_text()


def test_several_sheets_and_workbooks(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A workbook by its sheet."""
    import openpyxl

    book = openpyxl.Workbook()
    for title in ("first", "second"):
        sheet = book.create_sheet(title)
        sheet.append(["Zahn", "Kronenbreite"])
        sheet.append([11, 8.5])
    packed = io.BytesIO()
    book.save(packed)
    path = tmp_path / "chart.xlsx"
    path.write_bytes(packed.getvalue())
    options = ["--case", "demo-a", "--notation", "fdi"]
    assert run(["records", "import", str(path), *options]) == Exit.INPUT_REFUSED
    assert run(["records", "import", str(path), *options, "--sheet", "second"]) == 0
    assert "8.5 mm" in capsys.readouterr().out
