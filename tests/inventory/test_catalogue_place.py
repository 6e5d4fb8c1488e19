"""Where the index of a catalogue lies: the XDG Base Directory Specification's cache folder."""

from pathlib import Path

import pytest

from visualiser.inventory.catalogue_place import cache_folder, index_place


@pytest.mark.parametrize(
    ("environ", "platform", "folder"),
    [
        ({"XDG_CACHE_HOME": "/var/tmp/c"}, "linux", "/var/tmp/c"),
        ({"XDG_CACHE_HOME": "relative/is/ignored"}, "linux", "/home/k/.cache"),
        ({}, "linux", "/home/k/.cache"),
        ({}, "darwin", "/home/k/Library/Caches"),
        ({"LOCALAPPDATA": "/c/local"}, "win32", "/c/local"),
    ],
)
def test_the_cache_folder(environ, platform, folder):
    """XDG Base Directory Specification 0.8, section 3: relative paths are invalid and ignored."""
    assert cache_folder(environ, platform, Path("/home/k")) == Path(folder)


def test_one_place_for_one_folder_and_never_inside_it(tmp_path):
    pictures = tmp_path / "pictures"
    pictures.mkdir()
    place = index_place(pictures, tmp_path / "cache")
    assert place == index_place(tmp_path / "pictures" / ".", tmp_path / "cache")
    assert place != index_place(tmp_path, tmp_path / "cache")
    assert pictures not in place.parents
