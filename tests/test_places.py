"""Templates are found in the source tree and in an installed package."""

from labmark.places import practicals_folder, templates_folder


def test_templates_folder_holds_the_practicals():
    assert (templates_folder() / "practicals").is_dir()
    assert practicals_folder().parent == templates_folder()
