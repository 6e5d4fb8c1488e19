import pytest

from visualiser.errors import ProjectError
from visualiser.project.batch_list import BatchItem, expanded, read_list
from visualiser.project.document import Document, OptionEntry
from visualiser.project.store import create_project


def test_a_plain_list_names_a_job_a_line(tmp_path):
    items = read_list("# the hotel\nroom 101   # stairs\n\nroom 102\nroom 101\n", tmp_path)
    assert items == [BatchItem(tmp_path / "room 101"), BatchItem(tmp_path / "room 102")]
    assert items[0].file_name("mockup.jpg") == "mockup.jpg"


def test_one_job_called_job_is_no_table(tmp_path):
    assert read_list("job\n", tmp_path) == [BatchItem(tmp_path / "job")]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_a_table_names_variants_of_jobs(tmp_path, delimiter):
    table = "Job,Option,Artwork,Piece\n# remark\nhall,b,pics/Heron Blue.png,p1\nhall,,,\n"
    first, second = read_list("\ufeff" + table.replace(",", delimiter), tmp_path)
    assert first == BatchItem(tmp_path / "hall", "b", tmp_path / "pics/Heron Blue.png", "p1")
    assert first.file_name("mockup.jpg") == "b-heron-blue-mockup.jpg"
    assert second == BatchItem(tmp_path / "hall")


def test_every_option_is_an_entry_of_its_own(tmp_path):
    options = tuple(OptionEntry(id=i) for i in ("a", "木"))
    create_project(tmp_path / "hall", Document(options=options))
    items = expanded(read_list("job,option,name\nhall,*,\ngone,*,x\n", tmp_path))
    assert [i.option for i in items] == ["a", "木", ""]
    names = {i.file_name("plan.pdf") for i in items}
    assert len(names) == 3
    assert all(name.isascii() for name in names)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("job,colour\nhall,red\n", "a column 'colour'"),
        ("job,job\nhall,hall\n", "one name"),
        ("job,option\n,a\n", "names no job"),
        ("job,name\nhall,../../etc/passwd\n", "other characters"),
        ("job,piece,artwork\nhall,a,x.png\nhall,b,x.png\n", "write the same files"),
        ("job,option\nhall\x00,a\n", "cannot be shown"),
        ("hall\x00\n", "cannot be shown"),
        ('job,option\nhall,"' + "x" * 200_000 + '"\n', "not CSV"),
    ],
)
def test_lists_that_cannot_be_worked_through_are_refused(tmp_path, text, said):
    with pytest.raises(ProjectError, match=said) as caught:
        read_list(text, tmp_path)
    assert caught.value.hint


def test_a_line_that_a_spreadsheet_puts_first_is_passed_over(tmp_path):
    assert [item.option for item in read_list("sep=;\njob;option\nhall;a\n", tmp_path)] == ["a"]
