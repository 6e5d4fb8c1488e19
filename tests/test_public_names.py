import visualiser as vis


def test_every_public_name_can_be_imported():
    assert sorted(vis.__all__) == list(vis.__all__)
    assert set(vis.__all__) == set(vis._HOME)
    for name in vis.__all__:
        assert getattr(vis, name) is not None
