"""What a killed writer left half written goes with the next save; nothing else does."""

from visualiser.project.writing import remove_partial, write_atomically


def test_only_leftovers_of_this_place_are_removed(tmp_path):
    place = tmp_path / "plan [A].pdf"
    write_atomically(place, b"whole")
    (tmp_path / ".plan [A].pdf.0011aabb.part").write_bytes(b"half")
    others = [".plan A.pdf.0011aabb.part", ".other.pdf.0011aabb.part", "plan [A].pdf.part"]
    for name in others:
        (tmp_path / name).write_bytes(b"not ours")
    remove_partial(place)
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted([place.name, *others])
    assert place.read_bytes() == b"whole"
