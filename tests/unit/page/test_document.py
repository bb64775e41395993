"""The file of the user is theirs: comments stay, nothing of anybody is silently overwritten."""

from pathlib import Path

import pytest

from render.errors import OutputError, SceneError
from render.folders import data_folder
from render.page.document import ConflictError, open_document
from render.scenefile import load_scene
from tests.unit.page.scenes import STOOL, opened, written


def test_save_changes_the_values_and_nothing_else(tmp_path: Path) -> None:
    document = opened(tmp_path)
    document.take(document.edited({"light.key.power": "1/8 +0.5", "light.key.distance_m": 0.95}))
    document.save()
    wanted = STOOL.replace('power = "1/4" ', 'power = "1/8 +0.5" ').replace("= 0.8 ", "= 0.95 ")
    assert document.target is not None
    assert document.target.read_text() == wanted
    assert load_scene(document.target).scene.light["key"].distance_m == 0.95
    assert document.saved


@pytest.mark.parametrize("text", ["\ufeff" + STOOL, STOOL.replace("\n", "\r\n")])
def test_marks_and_line_ends_of_other_editors_stay(tmp_path: Path, text: str) -> None:
    document = opened(tmp_path, text)
    document.take(document.edited({"light.key.distance_m": 0.9}))
    document.save()
    assert document.target is not None
    assert document.target.read_bytes().decode() == text.replace("0.8 ", "0.9 ")


def test_a_file_that_was_changed_elsewhere_is_left_alone(tmp_path: Path) -> None:
    document = opened(tmp_path)
    document.take(document.edited({"light.key.distance_m": 0.9}))
    other = STOOL.replace("Two lamps", "Two lamps of mine")
    document.source.write_text(other)
    with pytest.raises(ConflictError, match="changed by another program") as caught:
        document.save()
    assert caught.value.on_disk
    assert document.source.read_text() == other
    assert "0.9" in document.text
    assert not document.saved


def test_a_file_that_was_deleted_is_not_made_again(tmp_path: Path) -> None:
    document = opened(tmp_path)
    document.take(document.edited({"light.key.distance_m": 0.9}))
    document.source.unlink()
    with pytest.raises(ConflictError):
        document.save()
    assert not document.source.exists()


def test_saving_twice_is_no_conflict_with_oneself(tmp_path: Path) -> None:
    document = opened(tmp_path)
    for distance in (0.9, 1.0):
        document.take(document.edited({"light.key.distance_m": distance}))
        document.save()
    assert "= 1.0 " in document.source.read_text()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["stool.toml"]


def test_a_bundled_scene_is_never_written(tmp_path: Path) -> None:
    file = data_folder("scenes") / "empty-room.toml"
    before = file.read_bytes()
    document = open_document(file, None)
    with pytest.raises(OutputError, match=r"bundled scene.*--save-as"):
        document.save()
    copy = open_document(file, tmp_path / "mine.toml")
    copy.take(copy.edited({"light.key.power": "1/16"}))
    copy.save()
    assert load_scene(tmp_path / "mine.toml").scene.light["key"].power == 1 / 16
    assert file.read_bytes() == before


def test_a_new_name_must_be_new_when_opened_and_when_saved(tmp_path: Path) -> None:
    file, mine = written(tmp_path), tmp_path / "mine.toml"
    document = open_document(file, mine)
    mine.write_text("somebody else's")
    with pytest.raises(ConflictError):
        document.save()
    with pytest.raises(OutputError, match="is there already"):
        open_document(file, mine)
    assert mine.read_text() == "somebody else's"


def test_undo_and_redo_walk_the_same_road(tmp_path: Path) -> None:
    document = opened(tmp_path)
    first = document.text
    document.take(document.edited({"light.key.distance_m": 0.9}))
    second = document.text
    assert document.earlier() == first
    document.undo()
    assert (document.text, document.later(), document.saved) == (first, second, True)
    document.redo()
    assert document.text == second
    document.undo()
    document.take(document.edited({"light.key.distance_m": 1.1}))
    with pytest.raises(OutputError, match="redo: nothing was undone"):
        document.later()
    assert document.version == 6  # every step is a version of its own


@pytest.mark.parametrize(
    "keys",
    [
        {"kit": ["../../secret.toml"]},
        {"sitter.mesh": "/etc/passwd"},
        {"sitter": {"mesh": "/etc/passwd"}},
    ],
)
def test_the_page_cannot_name_files(tmp_path: Path, keys: dict[str, object]) -> None:
    document = opened(tmp_path)
    with pytest.raises(SceneError, match="name files"):
        document.checked(document.edited(keys))


def test_a_scene_that_names_files_elsewhere_is_not_opened(tmp_path: Path) -> None:
    inner = tmp_path / "inner"
    inner.mkdir()
    (tmp_path / "kit.toml").write_text("")
    with pytest.raises(SceneError, match="lies elsewhere"):
        opened(inner, f'kit = ["../kit.toml"]\n{STOOL}')


@pytest.mark.parametrize(
    "keys",
    [
        {"": 1},
        {"light.key.power\n[x]": 1},
        {"light..power": 1},
        {"title.deeper": 1},
        {"light.key.power.more": 1},
        {"light": 3, "light.key.power": 1},
        {f"k{i}": i for i in range(100)},
    ],
)
def test_odd_keys_are_one_sentence(tmp_path: Path, keys: dict[str, object]) -> None:
    document = opened(tmp_path)
    with pytest.raises(SceneError) as caught:
        document.checked(document.edited(keys))
    assert "\n" not in str(caught.value)
