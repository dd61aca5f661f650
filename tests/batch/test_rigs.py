"""Which photographs belong to which rig: folders, and lists whose errors name line and column."""

from __future__ import annotations

from pathlib import Path

import pytest

from calib.outcome.errors import InputError
from photomeasure.asked.stated import Stated
from photomeasure.batch.rig_list import read_rig_list
from photomeasure.batch.rigs import rigs_in


def touch(*paths: Path) -> None:
    for path in paths:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"")


def test_folders_and_single_photographs(tmp_path: Path) -> None:
    touch(tmp_path / "yard truck 4" / "2.jpg", tmp_path / "yard truck 4" / "1.HEIC", tmp_path / "plant trailer B.jpeg")
    touch(tmp_path / "notes.txt", tmp_path / "yard truck 4" / "notes.txt", tmp_path / ".hidden.jpg")
    (tmp_path / "empty").mkdir()
    found = rigs_in(tmp_path)
    assert [(rig.name, [path.name for path in rig.photos]) for rig in found.rigs] == [
        ("plant trailer B", ["plant trailer B.jpeg"]),
        ("yard truck 4", ["1.HEIC", "2.jpg"]),
    ]
    assert "empty" in found.aside[0] and "notes.txt" in found.aside[0]


def test_no_photograph_and_two_of_one_name(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no photograph"):
        rigs_in(tmp_path)
    touch(tmp_path / "Truck.jpg", tmp_path / "truck" / "1.jpg")
    with pytest.raises(InputError, match="Two rigs"):
        rigs_in(tmp_path)


def listed(place: Path, text: str, encoding: str = "utf-8") -> Path:
    path = place / "rigs.csv"
    path.write_text(text, encoding=encoding)
    return path


def test_rows_of_one_rig_belong_together(tmp_path: Path) -> None:
    text = (
        "rig,photo,bar_x_mm,centre_x,centre_y,coupled,tape_mm,tape_class,rule\n"
        "truck 2,a.jpg,149.5,10,20.5,yes,412,i,dk\n"
        "\n"
        'van,"b, left.jpg",,,,,,,\n'
        "truck 2,sub/c.jpg,149.5,,,,,,\n"
    )
    truck, van = read_rig_list(listed(tmp_path, text)).rigs
    assert truck.photos == (tmp_path / "a.jpg", tmp_path / "sub" / "c.jpg")
    assert truck.centres_px == ((10.0, 20.5), None)
    assert truck.said == Stated(bar_x_mm=149.5, coupled=True, tape_mm=412.0, tape_class="I", rule="dk")
    assert van.photos == (tmp_path / "b, left.jpg",) and van.centres_px == () and van.said == Stated()


def test_a_list_from_a_spreadsheet_with_semicolons_and_decimal_commas(tmp_path: Path) -> None:
    text = "Rig;Photo;Bar_X_mm;laden\ntruck;a.jpg;149,5;NO\n"
    (rig,) = read_rig_list(listed(tmp_path, text, "utf-8-sig")).rigs
    assert rig.said == Stated(bar_x_mm=149.5, laden=False)


@pytest.mark.parametrize("text", ["rig\tphoto\tbar_x_mm\nvan\ta.jpg\t149,5\n", "rig,photo,bar_x_mm\rvan,a.jpg,149.5\r"])
def test_a_list_with_tabs_or_with_returns_alone(text: str, tmp_path: Path) -> None:
    """As spreadsheets save "text" and the older of their lists."""
    (rig,) = read_rig_list(listed(tmp_path, text)).rigs
    assert rig.said == Stated(bar_x_mm=149.5) and rig.name == "van"


def test_a_column_without_its_unit_is_meant_with_it(tmp_path: Path) -> None:
    """And not "did you mean tape_class"."""
    with pytest.raises(InputError, match="did you mean tape_mm"):
        read_rig_list(listed(tmp_path, "rig,photo,tape\nvan,a.jpg,402\n"))


def test_what_a_rig_says_goes_over_what_is_common() -> None:
    common = Stated(bar_x_mm=150.0, coupled=True, coupling="pin")
    assert Stated(bar_x_mm=149.0, coupled=False).over(common) == Stated(bar_x_mm=149.0, coupled=False, coupling="pin")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("rig,photo,height\nt,a.jpg,4\n", ["line 1", "column 3", "'height'"]),
        ("rig,photo,photo\n", ["line 1", "column 3", "twice"]),
        ("rig,bar_x_mm\nt,150\n", ["line 1", "photo"]),
        ("rig,photo,bar_x_mm\nt,a.jpg,150\nt,b.jpg,15\n", ["line 3", "column bar_x_mm", "'15'", "135"]),
        ("rig,photo,bar_y_mm\nt,a.jpg,nan\n", ["line 2", "column bar_y_mm"]),
        ("rig,photo,coupled\nt,a.jpg,perhaps\n", ["line 2", "column coupled", "yes or no"]),
        ("rig,photo,coupling\nt,a.jpg,hook\n", ["line 2", "column coupling", "ball-50"]),
        ("rig,photo,rule\nt,a.jpg,nowhere\n", ["line 2", "column rule", "au-ball-50"]),
        ("rig,photo,bay\nt,a.jpg,nowhere.json\n", ["line 2", "column bay"]),
        ("rig,photo,decision\nt,a.jpg,strict\n", ["line 2", "column decision", "guarded=R"]),
        ("rig,photo,level_within_mm_per_m\nt,a.jpg,500\n", ["line 2", "column level_within_mm_per_m", "0 to 100"]),
        ("rig,photo,camera\nt,a.jpg,nowhere.json\n", ["line 2", "column camera"]),
        ("rig,photo,tape_class\nt,a.jpg,IV\n", ["line 2", "column tape_class", "I, II or III"]),
        ("rig,photo,tape_mm\nt,a.jpg,4\n", ["line 2", "column tape_mm"]),
        ("rig,photo,centre_x,centre_y\nt,a.jpg,10,\n", ["line 2", "column centre_y", "both"]),
        ("rig,photo\nt,\n", ["line 2", "column photo", "empty"]),
        ("rig,photo\na/b,a.jpg\n", ["line 2", "column rig"]),
        ("rig,photo\n..,a.jpg\n", ["line 2", "column rig"]),
        ("rig,photo\nt,a.jpg,more\n", ["line 2", "3 cells"]),
        ("rig,photo,laden\nt,a.jpg,yes\nt,b.jpg,no\n", ["line 3", "column laden", "yes in line 2"]),
        ("rig,photo\nTruck,a.jpg\ntruck,b.jpg\n", ["line 2", "line 3"]),
        ("rig,photo\n", ["lists no rig"]),
        ("", ["rig"]),
        ('rig,photo\n"t,a.jpg\n', ["line"]),
    ],
)
def test_errors_name_line_and_column(text: str, said: list[str], tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        read_rig_list(listed(tmp_path, text))
    assert all(word in str(caught.value) for word in said), str(caught.value)


def test_all_wrong_cells_are_named_at_once(tmp_path: Path) -> None:
    text = (
        "rig,photo,bar_x_mm,coupled,centre_x,centre_y\n"
        "t,a.jpg,15,perhaps,,\nu,,150,yes,10,\nv,b.jpg\nw,c.jpg,150,yes,,\nw,d.jpg,151,yes,ten,20\n"
    )
    with pytest.raises(InputError) as caught:
        read_rig_list(listed(tmp_path, text))
    said = str(caught.value)
    for where in (
        "line 2, column bar_x_mm: it is '15'", "line 2, column coupled: it is 'perhaps'", "line 3, column photo: it is empty",
        "line 3, column centre_y: it is empty", "line 4: 2 cells under 6 columns", "line 6, column centre_x: it is 'ten'",
        "line 6, column bar_x_mm: it is 151.0, but 150.0 in line 5",
    ):  # fmt: skip
        assert where in said, said
    assert "7 wrong places" in said and "column centre_x: it is empty" not in said
    many = "rig,photo,bar_x_mm\n" + "t,a.jpg,15\n" * 30
    with pytest.raises(InputError, match="30 wrong places") as caught:
        read_rig_list(listed(tmp_path, many))
    assert (
        "line 21," in str(caught.value) and "line 22," not in str(caught.value) and "and 10 more" in str(caught.value)
    )


def test_no_list_and_no_text(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="Cannot open"):
        read_rig_list(tmp_path / "nowhere.csv")
    (tmp_path / "rigs.csv").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="UTF-8"):
        read_rig_list(tmp_path / "rigs.csv")
